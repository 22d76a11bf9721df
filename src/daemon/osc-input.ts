import { createSocket, type Socket } from 'node:dgram';
import { BlockList } from 'node:net';
import type { InputPlan } from '../show/model.js';
import { monotonicS } from './clock.js';
import { dropSocket } from './drop-socket.js';
import { Inbox } from './inbox.js';
import { udpPortOwner } from './ownership/process-of.js';

/** Bursts of a slow tick wait in the kernel; the default of 208 KiB holds some 300 small datagrams. */
const RECEIVE_BUFFER_BYTES = 1024 * 1024;
/** How long after a fault a socket is opened again. */
const REOPEN_MS = 1000;

export interface InputHooks {
  /** A datagram was put into the inbox. */
  arrived(): void;
  refused(): void;
  fault(message: string): void;
  back(message: string): void;
}

/** One UDP socket of an input: only stamps datagrams and puts them into the inbox. */
export class OscInput {
  #socket: Socket | undefined;
  #timer: NodeJS.Timeout | undefined;
  #closed = false;
  readonly #allowed: BlockList | undefined;

  constructor(
    private readonly index: number,
    private readonly plan: InputPlan,
    private readonly inbox: Inbox,
    private readonly hooks: InputHooks,
  ) {
    if (plan.allow === 'any') return;
    this.#allowed = new BlockList();
    for (const entry of plan.allow) {
      const [address, bits] = entry.split('/');
      if (address === undefined) continue;
      if (bits === undefined) this.#allowed.addAddress(address);
      else this.#allowed.addSubnet(address, Number(bits));
    }
  }

  /** @returns why it could not be opened, in plain words, or undefined */
  open(): Promise<string | undefined> {
    const { listen, port, name } = this.plan;
    const socket = createSocket({ type: 'udp4' });
    this.#socket = socket;
    return new Promise(resolve => {
      socket.once('error', error => {
        this.#drop(socket);
        resolve(`input "${name}" can't listen on ${listen}:${port}: ${reasonOf(error, port)}`);
      });
      socket.bind({ address: listen, port, exclusive: true }, () => {
        socket.removeAllListeners('error');
        socket.on('error', error => this.#reopen(socket, error));
        socket.on('message', (bytes, { address }) => this.#receive(bytes, address));
        try {
          socket.setRecvBufferSize(RECEIVE_BUFFER_BYTES);
        } catch {
          // The kernel's limit is lower; its default buffer serves.
        }
        resolve(undefined);
      });
    });
  }

  close(): void {
    this.#closed = true;
    clearTimeout(this.#timer);
    if (this.#socket !== undefined) this.#drop(this.#socket);
  }

  #receive(bytes: Buffer, address: string): void {
    if (this.#allowed !== undefined && !this.#allowed.check(address)) {
      this.hooks.refused();
      return;
    }
    const from = this.plan.carries === 'orders' ? address : undefined;
    this.inbox.put({ input: this.index, bytes, arrivalS: monotonicS(), from });
    this.hooks.arrived();
  }

  #reopen(socket: Socket, error: Error): void {
    this.#drop(socket);
    this.hooks.fault(`input "${this.plan.name}" lost its socket: ${reasonOf(error)}`);
    this.#retry();
  }

  #retry(): void {
    if (this.#closed) return;
    this.#timer = setTimeout(() => {
      void this.open().then(problem => {
        if (this.#closed) return this.close();
        if (problem !== undefined) return this.#retry();
        const { name, listen, port } = this.plan;
        this.hooks.back(`input "${name}" listens on ${listen}:${port} again`);
      });
    }, REOPEN_MS);
  }

  #drop(socket: Socket): void {
    dropSocket(socket);
    if (this.#socket === socket) this.#socket = undefined;
  }
}

function reasonOf(error: Error & { code?: string }, port?: number): string {
  switch (error.code) {
    case 'EADDRINUSE': {
      const owner = port === undefined ? undefined : udpPortOwner(port);
      const who = owner === undefined ? '' : `, process ${owner.pid} (${owner.program}),`;
      return `another program on this machine${who} listens there; close it, or choose another port.`;
    }
    case 'EADDRNOTAVAIL':
      return 'this machine has no interface with that address; set `listen` to that of the tracking network.';
    case 'EACCES':
      return 'this user may not open that port; ports from 1024 up are free to all.';
    default:
      return `${error.message}.`;
  }
}

/**
 * Whether all inputs could listen now, before any light is on.
 * @returns which could not and why, in plain words
 */
export async function blockedInputs(plans: readonly InputPlan[]): Promise<string[]> {
  const deaf: InputHooks = {
    arrived: () => undefined,
    refused: () => undefined,
    fault: () => undefined,
    back: () => undefined,
  };
  const inputs = plans.map((plan, index) => new OscInput(index, plan, new Inbox(), deaf));
  const problems = await Promise.all(inputs.map(input => input.open()));
  for (const input of inputs) input.close();
  return problems.filter(problem => problem !== undefined);
}
