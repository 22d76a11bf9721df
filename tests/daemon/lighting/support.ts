import { createSocket, type Socket } from 'node:dgram';
import { EventEmitter, once } from 'node:events';
import { setTimeout as sleep } from 'node:timers/promises';
import type { LightingEvent } from '../../../src/daemon/lighting/events.js';
import type { LightingOptions } from '../../../src/daemon/lighting/lighting-options.js';
import { LightingOutput } from '../../../src/daemon/lighting/lighting-output.js';
import type { ArtnetOutputPlan, SacnOutputPlan } from '../../../src/show/model/model.js';

/**
 * Everything stays on the loopback interface. Addresses and universes are this folder's own, as other
 * tests run at the same time.
 */
/** Files run side by side, each worker on addresses of its own. */
export const LOOPBACK = `127.${60 + Number(process.env.VITEST_POOL_ID ?? 1)}`;
export const OURS = `${LOOPBACK}.61.1`;
export const CID = Uint8Array.from({ length: 16 }, (_, i) => 0x61 + i);
export const BEAT_S = 0.025;

export function sacnPlan(fields: Partial<SacnOutputPlan> = {}): SacnOutputPlan {
  return {
    name: 'stage',
    protocol: 'sacn',
    interface: OURS,
    rateHz: 40,
    universes: [{ index: 0, onWire: 6101 }],
    to: [`${LOOPBACK}.61.2`],
    priority: 100,
    ...fields,
  };
}

export function artnetPlan(fields: Partial<ArtnetOutputPlan> = {}): ArtnetOutputPlan {
  return {
    name: 'practicals',
    protocol: 'artnet',
    interface: OURS,
    rateHz: 40,
    universes: [{ index: 0, onWire: 0x0423 }],
    to: [`${LOOPBACK}.61.2`],
    poll: undefined,
    ...fields,
  };
}

/** An output on a clock that the test moves, and what it tells. */
export class Rig {
  nowS = 1000;
  readonly events: LightingEvent[] = [];
  readonly levels: Uint8Array;
  readonly options: LightingOptions;
  #output: LightingOutput | undefined;

  constructor(options: Partial<LightingOptions> & Pick<LightingOptions, 'outputs'>) {
    const universes = options.outputs.flatMap(plan => plan.universes.map(({ index }) => index));
    const universeCount = Math.max(...universes) + 1;
    this.levels = new Uint8Array(universeCount * 512);
    this.options = {
      universeCount,
      sourceName: 'The Salt Lantern',
      cid: CID,
      partnerName: 'The Salt Lantern standby',
      mayBePartner: () => false,
      beatS: BEAT_S,
      onEvent: event => this.events.push(event),
      now: () => this.nowS,
      ...options,
    };
  }

  static async open(...args: ConstructorParameters<typeof Rig>): Promise<Rig> {
    const rig = new Rig(...args);
    const opened = await LightingOutput.open(rig.options);
    if (!opened.ok) throw new Error(opened.problems.join('\n'));
    rig.#output = opened.output;
    return rig;
  }

  get output(): LightingOutput {
    if (this.#output === undefined) throw new Error('not open');
    return this.#output;
  }

  kinds(): string[] {
    return this.events.map(event => event.kind);
  }

  /** Beats at the rate of the supervisor, each with what `change` does to the levels before. */
  async beat(count = 1, change?: (levels: Uint8Array, beat: number) => void): Promise<void> {
    for (let i = 0; i < count; i++) {
      change?.(this.levels, i);
      this.output.send(this.levels, this.nowS);
      this.nowS += BEAT_S;
      await turn();
    }
  }

  beatFor(seconds: number): Promise<void> {
    return this.beat(Math.round(seconds / BEAT_S));
  }

  close(): Promise<void> {
    return this.output.close();
  }
}

/** One turn of the event loop: callbacks of sends, and binding to an address, come by then. */
export function turn(): Promise<void> {
  return new Promise(resolve => setImmediate(resolve));
}

/** Waits for datagrams, which the kernel hands over when it likes; the deadline is for a busy machine. */
export async function until(what: string, holds: () => boolean): Promise<void> {
  const deadline = performance.now() + 4000;
  while (!holds()) {
    if (performance.now() > deadline) throw new Error(`did not happen: ${what}`);
    await sleep(2);
  }
}

const FENCE = Buffer.from('fence');

/** A receiver: what has arrived at an address (or a multicast group) on a port. */
export class Listener {
  readonly heard: Buffer[] = [];
  #fences = 0;

  private constructor(
    readonly socket: Socket,
    private readonly address: string,
  ) {
    socket.on('message', bytes => {
      if (bytes.equals(FENCE)) this.#fences += 1;
      else this.heard.push(Buffer.from(bytes));
    });
  }

  static async open(port: number, address: string): Promise<Listener> {
    const group = address.startsWith('239.');
    const socket = createSocket({ type: 'udp4', reuseAddr: group });
    const listener = new Listener(socket, address);
    // Bound to the group itself, so that it hears nothing else; Linux, as the rest of these tests.
    socket.bind(port, address);
    await once(socket, 'listening');
    // A thousand universes in one beat must fit.
    socket.setRecvBufferSize(4 << 20);
    if (group) socket.addMembership(address, OURS);
    return listener;
  }

  /** All that was sent here before the call: the loopback interface keeps the order. */
  async all(): Promise<Buffer[]> {
    const seen = this.#fences;
    const fence = createSocket('udp4');
    fence.bind(0, OURS);
    await once(fence, 'listening');
    fence.setMulticastInterface(OURS);
    fence.setMulticastTTL(0);
    fence.send(FENCE, this.socket.address().port, this.address);
    await until(`a datagram at ${this.address}`, () => this.#fences > seen);
    fence.close();
    return this.heard.splice(0);
  }

  close(): void {
    this.socket.close();
  }
}

/** A socket of no network: what it was asked to do, and errors on demand. */
export class FakeSocket extends EventEmitter {
  bindError: NodeJS.ErrnoException | undefined;
  sendError: NodeJS.ErrnoException | undefined;
  /** Of these the system takes none, and they are not among those sent. */
  refuses: ((bytes: Buffer) => boolean) | undefined;
  /** Its send buffer is full, as when the network takes nothing: a datagram waits, and nobody is told. */
  stuck = false;
  readonly #waiting: { sent: FakeSocket['sent'][number]; bytes: Buffer; done: () => void }[] = [];
  closed = false;
  boundTo: { address: string; port: number } | undefined;
  multicastHops: number | undefined;
  readonly sent: { bytes: Buffer; readonly port: number; readonly address: string }[] = [];

  bind(to: { address: string; port: number }, done: () => void): void {
    this.boundTo = to;
    const error = this.bindError;
    process.nextTick(() => (error === undefined ? done() : this.emit('error', error)));
  }

  send(
    bytes: Buffer,
    port: number,
    address: string,
    done: (error: Error | null, bytes: number) => void,
  ): void {
    if (this.closed) throw new Error('Not running');
    if (this.refuses?.(bytes) === true) {
      process.nextTick(() => done(systemError('EPERM'), 0));
      return;
    }
    const sent = { bytes: Buffer.from(bytes), port, address };
    this.sent.push(sent);
    if (this.stuck) {
      this.#waiting.push({ sent, bytes, done: () => done(null, bytes.length) });
      return;
    }
    const error = this.sendError ?? null;
    process.nextTick(() => done(error, error === null ? bytes.length : 0));
  }

  /** The network takes what waits, as Node hands it over: the bytes as they are by now. */
  release(): void {
    this.stuck = false;
    for (const { sent, bytes, done } of this.#waiting.splice(0)) {
      sent.bytes = Buffer.from(bytes);
      process.nextTick(done);
    }
  }

  close(done?: () => void): void {
    this.closed = true;
    if (done !== undefined) process.nextTick(done);
  }

  setMulticastInterface(): void {}
  setMulticastTTL(hops: number): void {
    this.multicastHops = hops;
  }
  setMulticastLoopback(): void {}
  setBroadcast(): void {}
}

export function systemError(code: string): NodeJS.ErrnoException {
  return Object.assign(new Error(`send ${code}`), { code });
}
