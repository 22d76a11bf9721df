import { setTimeout as sleep } from 'node:timers/promises';
import { POLL_INTERVAL_S } from '../../protocols/artnet/options.js';
import { multicastGroup } from '../../protocols/sacn/multicast.js';
import {
  DISCOVERY_INTERVAL_S,
  DISCOVERY_UNIVERSE,
  SACN_PORT,
} from '../../protocols/sacn/options.js';
import {
  decideTransmission,
  repeatTransmission,
  terminateTransmission,
} from '../../protocols/transmission.js';
import { type CutOff, GOES_BACK, LEAVES, STAYS } from '../../safety/output-limiter.js';
import { type OutputPlan, SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import { Errand } from './delivery.js';
import { isTerminating, terminatingBeats } from './ending.js';
import { Hearing } from './hearing.js';
import { findInterface, interfacesThere } from './interfaces.js';
import type { LightingCounters, LightingOptions } from './lighting-options.js';
import {
  beginAnew,
  isLeaving,
  type Line,
  nextDueS,
  readdressLine,
  skipBeat,
  synchronize,
  wayOf,
} from './line.js';
import { LineClaims } from './line-claims.js';
import { pollNodes, proveArtnet, renewSubscribers } from './node-asking.js';
import { NodeWatch } from './node-watch.js';
import { lineOf } from './open-line.js';
import { OwnPorts } from './own-ports.js';
import { listenerCycleS } from './sacn-listener.js';
import { levelsOf, SharedOutputs } from './shared-outputs.js';
import { type Side, sidesOf } from './side.js';
import { leaveOutBroadcast, type SentStream } from './streams.js';

export type OpenResult =
  | { readonly ok: true; readonly output: LightingOutput }
  | { readonly ok: false; readonly problems: readonly string[] };

const DISCOVERY = new Errand({ errand: 'Universe Discovery' });

/** The lighting sockets: levels in, packets out. No error of a socket ever leaves here. */
export class LightingOutput {
  readonly #lines: Line[] = [];
  /** For whoever hears others beside it. */
  readonly own = new OwnPorts(this.#lines);
  readonly #cutOff: CutOff;
  /** Of each universe, what it is where none of its streams leaves; one that is not sent from here lacks nothing. */
  readonly #unsent: Uint8Array;
  readonly #levels: Uint8Array[] = [];
  readonly #pacing: { rateHz: number; beatS: number };
  readonly #nodes: NodeWatch;
  readonly #hearing: Hearing;
  #sides: readonly Side[] = [];
  readonly #claims: LineClaims;
  #current: Uint8Array | undefined;
  /** Outputs that send one universe, and may be cut off one by one. */
  shared: SharedOutputs;

  private constructor(private readonly options: LightingOptions) {
    this.#pacing = { rateHz: 0, beatS: options.beatS };
    this.#cutOff = {
      universes: new Uint8Array(options.universeCount),
      sent: new Uint8Array(options.universeCount * SLOTS_PER_UNIVERSE),
    };
    this.#unsent = new Uint8Array(options.universeCount).fill(LEAVES);
    for (const { universes } of options.outputs) {
      for (const { index } of universes) this.#unsent[index] = GOES_BACK;
    }
    this.shared = new SharedOutputs([], options);
    this.#claims = new LineClaims(options);
    const listed = options.outputs.flatMap(({ protocol, to }) => (protocol === 'artnet' ? to : []));
    const { cid, sourceName, partnerName, onEvent } = options;
    const isPartner = (name: string) => name !== sourceName && options.mayBePartner(name);
    this.#nodes = new NodeWatch(onEvent, new Set(listed), isPartner, new Set(options.partners));
    const universes = options.outputs.reduce((sum, output) => sum + output.universes.length, 0);
    const cycleS = listenerCycleS(universes);
    this.#hearing = new Hearing({
      cid,
      sourceName,
      partnerName,
      mayBePartner: isPartner,
      standby: options.standby === true,
      cycleS,
      random: options.random ?? Math.random,
      portsAt: address => options.portsAt?.(address) ?? [],
      onEvent,
    });
  }

  /** Opens one socket an interface; says all that is wrong with all outputs at once. */
  static async open(options: LightingOptions): Promise<OpenResult> {
    const find = options.findInterface ?? findInterface;
    const output = new LightingOutput(options);
    const problems: string[] = [];
    const byInterface = new Map<string, OutputPlan[]>();
    for (const plan of options.outputs) {
      const address = find(plan.interface)?.address ?? plan.interface;
      byInterface.set(address, [...(byInterface.get(address) ?? []), plan]);
    }
    for (const plans of byInterface.values()) {
      const find = output.#claims.finderOf(plans);
      const listeners = { nodes: output.#nodes, hearing: output.#hearing };
      const line = lineOf(plans, find, output.#cutOff.sent, listeners, options);
      output.#lines.push(line);
      const problem = await line.socket.open();
      if (problem === undefined) {
        output.#leaveOutBroadcast(line);
        continue;
      }
      if (options.mayBeLost === true) {
        const reason = `${problem}; it has ${interfacesThere()}`;
        options.onEvent({ kind: 'interface-lost', interface: line.name, reason });
        continue;
      }
      const names = plans.map(plan => `"${plan.name}"`).join(' and ');
      problems.push(
        `output ${names} can't send from interface ${line.name}: ${problem}; it has ${interfacesThere()}.`,
      );
    }
    output.shared = new SharedOutputs(output.#lines, options);
    output.#sides = sidesOf(output.#lines, options.standby === true, options);
    if (problems.length === 0) return { ok: true, output };
    await output.close();
    return { ok: false, problems };
  }

  /**
   * Outputs that name one interface, by its name and by its address, were opened while it was missing, each by itself.
   * Only one of them sends now: they are to be opened anew, as one.
   */
  get isDivided(): boolean {
    return this.#claims.isDivided;
  }

  /** Of its interfaces, those that are not there, or not ours. */
  get lost(): readonly string[] {
    return this.#lines.flatMap(({ name, socket }) =>
      socket.interface === undefined ? [name] : [],
    );
  }

  /** Where this machine of a pair plays a part of its own. */
  get sides(): readonly Side[] {
    return this.#sides;
  }

  get counters(): LightingCounters {
    return {
      interfaces: this.#lines.map(({ name, socket }) => ({ interface: name, ...socket.counters })),
      streams: this.#lines.flatMap(line =>
        line.streams.map(({ plan, onWire, sent, transmission: { lastSentS } }) => {
          return { output: plan.name, universe: onWire, sent, lastSentS };
        }),
      ),
      nodes: { known: this.#nodes.known, ...this.#nodes.counters },
    };
  }

  /**
   * Whether the system has taken datagrams on every interface since this last said so. A lost interface
   * is excused: it is looked for, and to start the daemon anew would not bring back a cable, but take
   * the light of the other interfaces away.
   */
  hasSent(): boolean {
    const proven = this.#lines.every(
      ({ socket, provenPackets }) =>
        socket.interface === undefined || socket.counters.packets > provenPackets,
    );
    if (proven) for (const line of this.#lines) line.provenPackets = line.socket.counters.packets;
    return proven;
  }

  /** What is sent, as far as a successor needs to know; views that change as packets leave. */
  get streams(): readonly SentStream[] {
    return this.#lines.flatMap(line =>
      line.streams.map((stream): SentStream => {
        const { protocol, interface: wanted } = stream.plan;
        return {
          protocol,
          onWire: stream.onWire,
          address: line.socket.interface?.address ?? wanted,
          to: stream.destinations,
          get sequence() {
            return stream.buffer[stream.sequenceAt] ?? 0;
          },
          get sent() {
            return stream.sent;
          },
          get left() {
            return stream.catchUp?.left;
          },
          get isApart() {
            return stream.catchUp?.isApart;
          },
          get isOut() {
            return stream.catchUp?.isOut;
          },
          get hasToReturn() {
            return stream.catchUp?.hasToReturn;
          },
        };
      }),
    );
  }

  /**
   * Goes on counting where others stopped, an output of this process or of one that was killed: a receiver that
   * finds a number lower than the last one by less than 20 drops the packet (E1.31 6.7.2).
   * @param skip packets that may have left without being noted
   */
  continueFrom(
    before: readonly Pick<
      SentStream,
      'protocol' | 'onWire' | 'sequence' | 'left' | 'hasToReturn'
    >[],
    skip = 0,
  ): void {
    const last = new Map(before.map(one => [`${one.protocol} ${one.onWire}`, one]));
    for (const { streams } of this.#lines) {
      for (const stream of streams) {
        const old = last.get(`${stream.plan.protocol} ${stream.onWire}`);
        if (old === undefined) continue;
        stream.setSequence((old.sequence + skip) & 0xff);
        // It may have been cut off while others were not.
        const { left, hasToReturn = false } = old;
        if (left !== undefined) stream.catchUp?.resume(left, hasToReturn, this.options.now());
      }
    }
  }

  /**
   * Ends the sACN streams that a successor will not send, while the others go on: their three packets with
   * Stream_Terminated leave with the next beats.
   * @returns when they are out, or could not be
   */
  async retire(stays: (stream: SentStream) => boolean): Promise<void> {
    const views = this.streams;
    let leaving = 0;
    const all = this.#lines.flatMap(line => line.streams);
    all.forEach(({ transmission, sent }, i) => {
      if (sent === 0 || stays(views[i] as SentStream)) return;
      terminateTransmission(transmission);
      leaving += 1;
    });
    if (leaving === 0) return;
    const { beatS, outputs } = this.options;
    const most = terminatingBeats(outputs, beatS);
    for (let beat = 0; beat <= most && isTerminating(this.#lines); beat++) {
      await sleep(Math.ceil(beatS * 1e3));
    }
  }

  /** Universes of which no packet leaves by any interface: lost, without its cable, stuck or refused; a view of the moment. */
  cutOff(): CutOff {
    const { universes } = this.#cutOff;
    universes.set(this.#unsent);
    for (const line of this.#lines) {
      const { stuck } = line.socket;
      for (const stream of line.streams) {
        const { index } = stream;
        const way = wayOf(line, stream, stuck);
        if (way === LEAVES) universes[index] = LEAVES;
        else if (way === STAYS && universes[index] === GOES_BACK) universes[index] = STAYS;
      }
    }
    return this.#cutOff;
  }

  /**
   * One beat: sends what is due. Throws RangeError on levels of another length.
   * @param levels of all universes, 512 each; the same array every time costs nothing
   */
  send(levels: Uint8Array, nowS: number): void {
    this.beginBeat(levels);
    this.sendUniverses(0, this.options.universeCount, nowS);
    this.endBeat(nowS);
  }

  /** The first part of `send`. */
  beginBeat(levels: Uint8Array): void {
    if (this.#current !== levels) this.#divide(levels);
    // Asked before this beat adds its own.
    for (const line of this.#lines) {
      line.stuck = line.socket.stuck;
      if (line.reopened === line.socket.counters.reopened) continue;
      beginAnew(line);
      const there = line.socket.interface;
      if (there?.loopback === false) readdressLine(line, there.address);
      this.#leaveOutBroadcast(line);
    }
  }

  /** The second part, of some of the show's universes after the others. */
  sendUniverses(first: number, end: number, nowS: number): void {
    for (const line of this.#lines) {
      if (line.stuck) this.#fallBehind(line, first, end, nowS);
      else this.#sendDue(line, first, end, nowS);
    }
  }

  /** The last part: what else there is to do, when the levels are on their way. */
  endBeat(nowS: number): void {
    // Half a beat early is nearer to the due time than half a beat late.
    const soonS = nowS + this.options.beatS / 2;
    for (const line of this.#lines) {
      const { socket, discovery } = line;
      if (line.stuck) skipBeat(line);
      else synchronize(line);
      if (isLeaving(line, this.options.standby === true)) line.leftS = nowS;
      proveArtnet(line, nowS);
      socket.tend(nowS);
      if (soonS >= line.discoveryDueS && discovery.length > 0) {
        line.discoveryDueS = nextDueS(line.discoveryDueS, DISCOVERY_INTERVAL_S, nowS);
        const group = multicastGroup(DISCOVERY_UNIVERSE);
        for (const page of discovery) socket.send(page, SACN_PORT, group, DISCOVERY);
      }
      if (soonS >= line.pollDueS && line.asks) {
        line.pollDueS = nextDueS(line.pollDueS, POLL_INTERVAL_S, nowS);
        pollNodes(line, this.#nodes, nowS);
      }
      if (line.asks) this.#nodes.look(nowS);
      if (line.asks && line.nodesRevision !== this.#nodes.revision) {
        renewSubscribers(line, this.#nodes);
      }
      line.listener?.tend(socket.interface, nowS);
      socket.endBeat();
    }
    this.#hearing.look(nowS);
    this.shared.tell();
  }

  /**
   * Ends the sACN streams: three packets each with Stream_Terminated (E1.31 6.2.6), at the rate of
   * the output. Ends when they are out, or could not be. Don't call `send` meanwhile or afterwards.
   */
  async terminate(): Promise<void> {
    for (const { streams } of this.#lines) {
      for (const { transmission, sent } of streams) {
        // Nobody ends a stream that they did not send.
        if (sent > 0) terminateTransmission(transmission);
      }
    }
    const { beatS, outputs } = this.options;
    const most = terminatingBeats(outputs, beatS);
    for (let beat = 0; beat <= most && isTerminating(this.#lines); beat++) {
      if (beat > 0) await sleep(Math.ceil(beatS * 1e3));
      const nowS = this.options.now();
      for (const line of this.#lines) {
        this.#sendDue(line, 0, this.options.universeCount, nowS);
        synchronize(line);
      }
    }
  }

  async close(): Promise<void> {
    for (const { listener } of this.#lines) listener?.close();
    await Promise.all(this.#lines.map(line => line.socket.close()));
  }

  /** Views of the universes, made once: the supervisor hands over the same array every time. */
  #divide(levels: Uint8Array): void {
    const { universeCount } = this.options;
    if (levels.length !== universeCount * SLOTS_PER_UNIVERSE) {
      throw new RangeError(
        `levels of ${universeCount} universes are ${universeCount * SLOTS_PER_UNIVERSE} bytes, not ${levels.length}`,
      );
    }
    this.#current = levels;
    for (let i = 0; i < universeCount; i++) {
      this.#levels[i] = levels.subarray(i * SLOTS_PER_UNIVERSE, (i + 1) * SLOTS_PER_UNIVERSE);
    }
  }

  /** A beat of which nothing leaves by this line, while others may go on. */
  #fallBehind(line: Line, first: number, end: number, nowS: number): void {
    for (const stream of line.streams) {
      if (stream.index < first || stream.index >= end) continue;
      const ofShow = this.#levels[stream.index];
      if (ofShow !== undefined) levelsOf(line, stream, ofShow, nowS);
    }
  }

  #sendDue(line: Line, first: number, end: number, nowS: number): void {
    for (const stream of line.streams) {
      if (stream.index < first || stream.index >= end) continue;
      const ofShow = this.#levels[stream.index];
      if (ofShow === undefined) continue;
      const levels = levelsOf(line, stream, ofShow, nowS);
      if (levels === undefined) continue;
      this.#pacing.rateHz = stream.plan.rateHz;
      const { transmission, slots, destinations, buffer, port, delivery } = stream;
      stream.addressPriorities?.send(stream, line.socket, this.#pacing, nowS);
      // The sooner the system takes it again, the sooner the light goes on.
      if (delivery.failed) repeatTransmission(transmission);
      const decision = decideTransmission(transmission, this.#pacing, levels, slots, nowS);
      if (decision === 'hold') continue;
      if (decision === 'terminate') {
        if (stream.setTerminated === undefined) continue;
        stream.setTerminated(true);
      }
      stream.sent += 1;
      if (stream.synchronization !== undefined) stream.synchronization.isDue = true;
      // A refused one takes no number: 236 later the next would be among the 20 that are discarded (E1.31 6.7.2).
      if (!delivery.refused) stream.advanceSequence();
      delivery.begin(destinations.length);
      for (const address of destinations) line.socket.send(buffer, port, address, delivery);
    }
  }

  /** Levels are never broadcast; which address would be, the mask of the interface says. */
  #leaveOutBroadcast({ name, socket, streams, synchronizations }: Line): void {
    const address = socket.interface?.broadcast;
    if (address === undefined) return;
    for (const one of synchronizations) one.leaveOut(address);
    for (const output of leaveOutBroadcast(streams, address)) {
      this.options.onEvent({ kind: 'broadcast-left-out', interface: name, address, output });
    }
  }
}
