import { setTimeout as sleep } from 'node:timers/promises';
import { createNodeTable, dropGone, noteReply } from '../../protocols/artnet/node-table.js';
import { ARTNET_PORT, NODE_GONE_AFTER_S, POLL_INTERVAL_S } from '../../protocols/artnet/options.js';
import { encodePoll } from '../../protocols/artnet/poll.js';
import { decodePollReply } from '../../protocols/artnet/poll-reply.js';
import { encodeDiscovery } from '../../protocols/sacn/discovery.js';
import { multicastGroup } from '../../protocols/sacn/multicast.js';
import {
  DISCOVERY_INTERVAL_S,
  DISCOVERY_UNIVERSE,
  SACN_PORT,
} from '../../protocols/sacn/options.js';
import { decideTransmission, terminateTransmission } from '../../protocols/transmission.js';
import { type OutputPlan, SLOTS_PER_UNIVERSE } from '../../show/model.js';
import type { LightingEvent } from './events.js';
import { findInterface, interfacesThere } from './interfaces.js';
import {
  LightingSocket,
  openSocket,
  type SocketCounters,
  type SocketFactory,
} from './lighting-socket.js';
import { type Stream, streamsOf } from './streams.js';

export interface LightingOptions {
  readonly outputs: readonly OutputPlan[];
  readonly universeCount: number;
  readonly sourceName: string;
  readonly cid: Uint8Array;
  /** Time between two calls of `send`, seconds. */
  readonly beatS: number;
  onEvent(event: LightingEvent): void;
  /** Monotonic seconds. */
  now(): number;
  readonly socketFactory?: SocketFactory;
}

export type OpenResult =
  | { readonly ok: true; readonly output: LightingOutput }
  | { readonly ok: false; readonly problems: readonly string[] };

/** Far more nodes than any network of ours has; bounds what strangers' replies can fill. */
const MOST_NODES = 1024;

/** All that leaves by one interface. */
interface Line {
  readonly name: string;
  readonly socket: LightingSocket;
  readonly streams: Stream[];
  /** Universe Discovery of this interface's sACN universes. */
  readonly discovery: readonly Buffer[];
  discoveryDueS: number;
  pollDueS: number;
  /** Configured nodes that have not answered, and by when they should have. */
  readonly awaited: Map<string, { readonly output: string; untilS: number }>;
}

/** The lighting sockets: levels in, packets out. No error of a socket ever leaves here. */
export class LightingOutput {
  readonly #nodes = createNodeTable({ goneAfterS: NODE_GONE_AFTER_S, capacity: MOST_NODES });
  readonly #poll = encodePoll();
  readonly #lines: Line[] = [];
  readonly #levels: Uint8Array[];
  readonly #pacing: { rateHz: number; beatS: number };
  #current: Uint8Array | undefined;

  private constructor(private readonly options: LightingOptions) {
    this.#levels = new Array<Uint8Array>(options.universeCount);
    this.#pacing = { rateHz: 0, beatS: options.beatS };
  }

  /** Opens one socket an interface; says all that is wrong with all outputs at once. */
  static async open(options: LightingOptions): Promise<OpenResult> {
    const output = new LightingOutput(options);
    const problems: string[] = [];
    const byInterface = new Map<string, OutputPlan[]>();
    for (const plan of options.outputs) {
      const address = findInterface(plan.interface)?.address ?? plan.interface;
      byInterface.set(address, [...(byInterface.get(address) ?? []), plan]);
    }
    for (const plans of byInterface.values()) {
      const line = output.#lineOf(plans);
      output.#lines.push(line);
      const problem = await line.socket.open();
      if (problem === undefined) continue;
      const names = plans.map(plan => `"${plan.name}"`).join(' and ');
      problems.push(
        `output ${names} can't send from interface ${line.name}: ${problem}; there are ${interfacesThere()}.`,
      );
    }
    if (problems.length === 0) return { ok: true, output };
    await output.close();
    return { ok: false, problems };
  }

  get counters(): readonly (SocketCounters & { readonly interface: string })[] {
    return this.#lines.map(line => ({ interface: line.name, ...line.socket.counters }));
  }

  /**
   * One beat: sends what is due.
   * @param levels of all universes, 512 each; the same array every time costs nothing
   */
  send(levels: Uint8Array, nowS: number): void {
    if (this.#current !== levels) this.#divide(levels);
    for (const line of this.#lines) {
      line.socket.tend(nowS);
      if (nowS >= line.discoveryDueS && line.discovery.length > 0) {
        line.discoveryDueS = nowS + DISCOVERY_INTERVAL_S;
        const group = multicastGroup(DISCOVERY_UNIVERSE);
        for (const page of line.discovery) line.socket.send(page, SACN_PORT, group);
      }
      if (line.socket.polls && nowS >= line.pollDueS) this.#pollNodes(line, nowS);
      for (const stream of line.streams) this.#sendDue(line, stream, nowS);
    }
  }

  /** Ends the sACN streams: three packets each with Stream_Terminated (E1.31 6.2.6), a beat apart. */
  async terminate(): Promise<void> {
    for (const { streams } of this.#lines) {
      for (const { transmission } of streams) terminateTransmission(transmission);
    }
    const rounds = 3 * Math.ceil(1 / (this.options.beatS * this.#slowestHz()));
    for (let round = 0; round < rounds; round++) {
      const nowS = this.options.now();
      for (const line of this.#lines) {
        for (const stream of line.streams) this.#sendDue(line, stream, nowS);
      }
      await sleep(this.options.beatS * 1e3);
    }
  }

  async close(): Promise<void> {
    await Promise.all(this.#lines.map(line => line.socket.close()));
  }

  #slowestHz(): number {
    return Math.min(...this.options.outputs.map(output => output.rateHz));
  }

  #lineOf(plans: readonly OutputPlan[]): Line {
    const { cid, sourceName, onEvent, socketFactory } = this.options;
    const name = plans[0]?.interface ?? '';
    const loopback = findInterface(name)?.loopback === true;
    const polling = plans.filter(plan => plan.protocol === 'artnet' && (plan.poll ?? !loopback));
    const universes = plans
      .filter(plan => plan.protocol === 'sacn')
      .flatMap(plan => plan.universes.map(universe => universe.onWire));
    const awaited: Line['awaited'] = new Map();
    for (const plan of polling) {
      if (plan.to === 'multicast') continue;
      for (const ip of plan.to) awaited.set(ip, { output: plan.name, untilS: 0 });
    }
    return {
      name,
      socket: new LightingSocket(
        name,
        polling.length > 0,
        onEvent,
        (bytes, from) => this.#heard(bytes, from),
        socketFactory ?? openSocket,
      ),
      streams: plans.flatMap(plan => streamsOf(plan, { cid, sourceName })),
      discovery: universes.length === 0 ? [] : encodeDiscovery({ cid, sourceName }, universes),
      discoveryDueS: Number.NEGATIVE_INFINITY,
      pollDueS: Number.NEGATIVE_INFINITY,
      awaited,
    };
  }

  /** Views of the universes, made once: the supervisor hands over the same array every time. */
  #divide(levels: Uint8Array): void {
    this.#current = levels;
    for (let i = 0; i < this.options.universeCount; i++) {
      this.#levels[i] = levels.subarray(i * SLOTS_PER_UNIVERSE, (i + 1) * SLOTS_PER_UNIVERSE);
    }
  }

  #sendDue(line: Line, stream: Stream, nowS: number): void {
    const levels = this.#levels[stream.firstLevel / SLOTS_PER_UNIVERSE];
    if (levels === undefined) return;
    this.#pacing.rateHz = stream.plan.rateHz;
    const { transmission, slots, destinations, buffer, port } = stream;
    const decision = decideTransmission(transmission, this.#pacing, levels, slots, nowS);
    if (decision === 'hold') return;
    if (decision === 'terminate') {
      if (stream.setTerminated === undefined) return;
      stream.setTerminated(true);
    }
    stream.advanceSequence();
    for (let i = 0; i < destinations.length; i++) {
      line.socket.send(buffer, port, destinations[i] as string);
    }
  }

  #pollNodes(line: Line, nowS: number): void {
    line.pollDueS = nowS + POLL_INTERVAL_S;
    const where = line.socket.interface;
    if (where === undefined) return;
    // On loopback nothing may go to addresses that the show doesn't name.
    if (where.loopback) {
      for (const ip of line.awaited.keys()) line.socket.send(this.#poll, ARTNET_PORT, ip);
    } else {
      line.socket.send(this.#poll, ARTNET_PORT, where.broadcast);
    }
    for (const { reply } of dropGone(this.#nodes, nowS)) {
      this.options.onEvent({ kind: 'node-gone', ip: reply.ip, name: reply.shortName });
    }
    for (const [ip, wait] of line.awaited) {
      if (wait.untilS === 0) wait.untilS = nowS + NODE_GONE_AFTER_S;
      if (nowS < wait.untilS || this.#isKnown(ip)) continue;
      wait.untilS = Number.POSITIVE_INFINITY;
      this.options.onEvent({ kind: 'node-silent', ip, output: wait.output });
    }
  }

  #isKnown(ip: string): boolean {
    for (const { reply } of this.#nodes.nodes.values()) if (reply.ip === ip) return true;
    return false;
  }

  #heard(bytes: Buffer, from: string): void {
    const reply = decodePollReply(bytes);
    if (reply.kind === 'rejected') return;
    // A node may claim any address in its reply; the one it sent from is where it is.
    const change = noteReply(this.#nodes, { ...reply, ip: from }, this.options.now());
    if (change !== 'new') return;
    const { shortName: name, outputs: portAddresses } = reply;
    this.options.onEvent({ kind: 'node-found', ip: from, name, portAddresses });
  }
}
