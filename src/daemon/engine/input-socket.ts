import { createSocket, type Socket } from 'node:dgram';
import { BlockList } from 'node:net';
import type { InputPlan } from '../../show/model/model.js';
import {
  absenceOf,
  findInterface,
  type InterfaceFinder,
  interfaceIndex,
  type LightingInterface,
} from '../lighting/interfaces.js';
import { monotonicS } from '../machine/clock.js';
import { dropSocket } from '../machine/drop-socket.js';
import { GroupMembership } from '../machine/group-membership.js';
import { udpPortOwner } from '../machine/process-of.js';
import { Inbox } from './inbox.js';

/** Bursts of a slow tick wait in the kernel; the default of 208 KiB holds some 300 small datagrams. */
export const RECEIVE_BUFFER_BYTES = 1024 * 1024;
/** How long after a fault a socket is opened again. */
const REOPEN_MS = 1000;
/** How often the interface of an input is looked at. */
const WATCH_MS = 1000;

export interface InputHooks {
  /** Asked first of each datagram: false leaves it unread. Missing: all are read. */
  takes?(bytes: Buffer, from: string): boolean;
  /** When one came that is read now, monotonic seconds. Missing: now. */
  cameS?(nowS: number): number;
  /** A datagram was put into the inbox. */
  arrived(): void;
  refused(from: string): void;
  fault(message: string): void;
  back(message: string): void;
}

/** One UDP socket of an input, whatever the protocol: only stamps datagrams and puts them into the inbox. */
export class InputSocket {
  #socket: Socket | undefined;
  #timer: NodeJS.Timeout | undefined;
  #closed = false;
  #allowed: BlockList | undefined;
  readonly #membership: GroupMembership | undefined;
  /** Of an input whose interface is watched: which it was when the socket was opened. */
  #where: string | undefined;
  #watch: NodeJS.Timeout | undefined;
  #isAway = false;

  constructor(
    private readonly index: number,
    private readonly plan: InputPlan,
    private readonly inbox: Inbox,
    private readonly hooks: InputHooks,
    private readonly find: InterfaceFinder = findInterface,
  ) {
    const { group } = plan.psn ?? {};
    this.#membership = group === undefined ? undefined : new GroupMembership(group);
    this.allow(plan.allow);
  }

  /** From now on only these may send; the socket stays as it is. */
  allow(senders: InputPlan['allow']): void {
    this.#allowed = undefined;
    if (senders === 'any') return;
    this.#allowed = new BlockList();
    for (const entry of senders) {
      const [address, bits] = entry.split('/');
      if (address === undefined) continue;
      if (bits === undefined) this.#allowed.addAddress(address);
      else this.#allowed.addSubnet(address, Number(bits));
    }
  }

  /** @returns why it could not be opened, in plain words, or undefined */
  open(): Promise<string | undefined> {
    const { listen, port, name, psn } = this.plan;
    // PosiStageNet names its interface, and is heard by the address that it has now.
    const where = psn === undefined ? undefined : this.find(listen);
    if (psn !== undefined && where === undefined) {
      return Promise.resolve(`input "${name}" can't listen: ${absenceOf(listen)}.`);
    }
    const group = psn?.group;
    const at = group ?? where?.address ?? listen;
    // Of a group each socket bound to it gets all; of an address only one can.
    const socket = createSocket({ type: 'udp4', reuseAddr: group !== undefined });
    this.#socket = socket;
    this.#where = where && identityOf(where);
    return new Promise(resolve => {
      socket.once('error', error => {
        this.#drop(socket);
        resolve(`input "${name}" can't listen on ${at}:${port}: ${reasonOf(error, port)}`);
      });
      socket.bind({ address: at, port, exclusive: group === undefined }, () => {
        socket.removeAllListeners('error');
        socket.on('error', error => this.#reopen(socket, error));
        const fault = where && this.#membership?.join(socket, where.address);
        if (fault !== undefined) {
          this.#drop(socket);
          resolve(`input "${name}" can't join ${group} on ${listen}: ${fault}.`);
          return;
        }
        socket.on('message', (bytes, { address, port }) => this.#receive(bytes, address, port));
        try {
          socket.setRecvBufferSize(RECEIVE_BUFFER_BYTES);
        } catch {
          // The kernel's limit is lower; its default buffer serves.
        }
        if (where !== undefined) this.#watchInterface();
        resolve(undefined);
      });
    });
  }

  close(): void {
    this.#closed = true;
    clearTimeout(this.#timer);
    clearInterval(this.#watch);
    if (this.#socket !== undefined) this.#drop(this.#socket);
  }

  #receive(bytes: Buffer, address: string, port: number): void {
    if (this.hooks.takes?.(bytes, address) === false) return;
    if (this.#allowed !== undefined && !this.#allowed.check(address)) {
      this.hooks.refused(address);
      return;
    }
    this.#membership?.heard();
    const from = this.plan.carries === 'orders' ? address : undefined;
    const nowS = monotonicS();
    const arrivalS = this.hooks.cameS?.(nowS) ?? nowS;
    this.inbox.put({ input: this.index, bytes, arrivalS, from, sender: address, port });
    this.hooks.arrived();
  }

  /**
   * An interface that goes takes its memberships with it, and the socket knows nothing of it. So it is looked at each
   * second; one that is back, as another or with another address, is joined anew.
   */
  #watchInterface(): void {
    this.#watch ??= setInterval(() => {
      const { listen, name, port } = this.plan;
      const socket = this.#socket;
      if (socket === undefined) return;
      const where = this.find(listen);
      if (where === undefined) {
        if (!this.#isAway) {
          this.hooks.fault(`input "${name}" hears nothing: interface ${listen} is gone`);
        }
        this.#isAway = true;
        return;
      }
      if (this.#isAway || identityOf(where) !== this.#where) {
        const wasAway = this.#isAway;
        this.#drop(socket);
        void this.open().then(problem => {
          if (this.#closed) return this.close();
          // It is tried again each second.
          if (problem !== undefined) return this.#lose(wasAway, problem);
          this.#isAway = false;
          this.hooks.back(`input "${name}" listens on ${listen}:${port} again`);
        });
        return;
      }
      this.#membership?.tend(socket, where.address);
    }, WATCH_MS);
  }

  #lose(isKnown: boolean, problem: string): void {
    if (!isKnown) this.hooks.fault(problem);
    this.#isAway = true;
    this.#retry();
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
        this.#isAway = false;
        this.hooks.back(`input "${name}" listens on ${listen}:${port} again`);
      });
    }, REOPEN_MS);
  }

  #drop(socket: Socket): void {
    dropSocket(socket);
    if (this.#socket === socket) this.#socket = undefined;
  }
}

/** Another one where it was taken out and put in again, though it has its old name and address. */
function identityOf({ name, address }: LightingInterface): string {
  return `${address}#${interfaceIndex(name) ?? name}`;
}

function reasonOf(error: Error & { code?: string }, port?: number): string {
  switch (error.code) {
    case 'EADDRINUSE': {
      const owner = port === undefined ? undefined : udpPortOwner(port);
      const who = owner === undefined ? '' : `, process ${owner.pid} (${owner.program}),`;
      return `another program on this machine${who} listens there; close it, or choose another port.`;
    }
    case 'EADDRNOTAVAIL':
      return 'this machine has no interface with that address; set it to that of the tracking network.';
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
  const inputs = plans.map((plan, index) => new InputSocket(index, plan, new Inbox(), deaf));
  const problems = await Promise.all(inputs.map(input => input.open()));
  for (const input of inputs) input.close();
  return problems.filter(problem => problem !== undefined);
}
