import { encodePollReplies, type HeardPort } from '../../protocols/artnet/controller-reply.js';
import { decodeArtDmx, isPoll } from '../../protocols/artnet/incoming.js';
import { decodeSacn } from '../../protocols/sacn/decode.js';
import { DATA, ROOT } from '../../protocols/sacn/layout.js';
import type { LightingEvent, PairMachine } from './events.js';
import { type HeardSource, OtherSources } from './other-sources.js';
import { type Partner, SOURCE_GONE_AFTER_S } from './partner.js';
import { PollAnswers } from './poll-answers.js';
import type { Stream } from './streams.js';

/** START code of levels (E1.11 8.5.1); others (per-address priority, RDM, text) are none of ours. */
const NULL_START_CODE = 0;
/** The priorities of the two machines of a pair are no further apart; see `Pair`. */
const MOST_APART = 2;

export interface HearingOptions {
  readonly cid: Uint8Array;
  readonly sourceName: string;
  /** Source name of the other machine of a pair. */
  readonly partnerName: string;
  /** Whether a source may be that machine with a show of another name. */
  mayBePartner(name: string): boolean;
  /** This machine is the standby of a pair. */
  readonly standby: boolean;
  /** The longest time in which a listener hears all universes, seconds. */
  readonly cycleS: number;
  /** Port-Addresses that a desk is heard on by this interface. */
  portsAt?(address: string): readonly HeardPort[];
  /** From 0 to 1: when a poll is answered. */
  random(): number;
  onEvent(event: LightingEvent): void;
}

/** Where a packet was heard. */
export interface Listener {
  /** The other machine of a pair, as heard there. */
  readonly partner: Partner;
  readonly streams: readonly Stream[];
  /** Our own address and port there; undefined while the interface is lost. */
  readonly address: string | undefined;
  readonly port: number | undefined;
  /** Our Art-Net is held back there. */
  readonly holdsArtnet: boolean;
  answer(bytes: Buffer, to: string): void;
}

/** What comes back from the lighting network: other sources, the partner, and who asks who we are. */
export class Hearing {
  readonly #others: OtherSources;
  readonly #identity: string;
  readonly #answers: PollAnswers<Listener>;

  constructor(private readonly options: HearingOptions) {
    this.#others = new OtherSources(SOURCE_GONE_AFTER_S + options.cycleS, options.onEvent);
    this.#answers = new PollAnswers(options.random, (listener, to, before) =>
      this.#answer(listener, to, before),
    );
    this.#identity = Buffer.from(options.cid).toString('hex');
  }

  get #other(): PairMachine {
    return this.options.standby ? 'main' : 'standby';
  }

  look(nowS: number): void {
    this.#others.look(nowS);
    this.#answers.look(nowS);
  }

  sacn(listener: Listener, bytes: Buffer, address: string, port: number, nowS: number): void {
    const sameIdentity =
      bytes.length > ROOT.end &&
      bytes.compare(this.options.cid, 0, this.options.cid.length, ROOT.cid, ROOT.end) === 0;
    // Our own come back; this is all the work that they make.
    if (sameIdentity && address === listener.address && port === listener.port) return;
    const packet = decodeSacn(bytes);
    if (packet.kind !== 'data' || packet.preview || packet.startCode !== NULL_START_CODE) return;
    const stream = listener.streams.find(
      ({ plan, onWire }) => plan.protocol === 'sacn' && onWire === packet.universe,
    );
    if (stream === undefined || stream.plan.protocol !== 'sacn') return;
    const { sourceName: name, priority, universe } = packet;
    const { partner } = listener;
    const { partnerName } = this.options;
    const otherShow =
      name !== partnerName &&
      this.options.mayBePartner(name) &&
      Math.abs(priority - stream.plan.priority) <= MOST_APART;
    const isPartner = name === partnerName || otherShow;
    // A main machine that comes back sends two below until it leads: it is not there yet.
    const counts = isPartner && priority >= stream.plan.priority - 1;
    const identity = sameIdentity ? this.#identity : Buffer.from(packet.cid).toString('hex');
    if (packet.terminated) {
      if (isPartner) partner.end(stream.index, nowS);
      this.#others.end({ protocol: 'sacn', identity, address, universe }, nowS);
      return;
    }
    if (counts) partner.hear(stream.index, packet.slots, nowS, address);
    if (isPartner) partner.hearSacn(stream.index, nowS);
    if (isPartner && this.options.standby) partner.hearMain(!counts, nowS, address);
    const source: HeardSource = {
      protocol: 'sacn',
      identity,
      universe,
      name,
      address,
      priority,
      ourPriority: stream.buffer[DATA.priority],
      weSend: true,
      sameIdentity,
      partner: isPartner ? this.#other : undefined,
      otherShow,
    };
    this.#others.hear(source, nowS);
  }

  artnet(listener: Listener, bytes: Buffer, from: string, nowS: number): void {
    if (from === listener.address) return;
    if (isPoll(bytes)) {
      this.#answers.plan(listener, from, nowS);
      return;
    }
    const dmx = decodeArtDmx(bytes);
    if (dmx === undefined) return;
    const stream = listener.streams.find(
      ({ plan, onWire }) => plan.protocol === 'artnet' && onWire === dmx.portAddress,
    );
    if (stream === undefined || stream.plan.protocol !== 'artnet') return;
    // Gateways don't send levels: of those that we send to, only the other machine does.
    const partner = stream.plan.to.includes(from);
    if (partner) {
      listener.partner.hear(stream.index, dmx.slots, nowS, from);
      listener.partner.hearArtnet(nowS);
    }
    const source: HeardSource = {
      protocol: 'artnet',
      identity: from,
      universe: dmx.portAddress,
      name: partner ? this.options.partnerName : from,
      address: from,
      priority: undefined,
      ourPriority: undefined,
      weSend: !listener.holdsArtnet,
      sameIdentity: false,
      partner: partner ? this.#other : undefined,
      otherShow: false,
    };
    this.#others.hear(source, nowS);
  }

  #answer(listener: Listener, to: string, repliesBefore: number): void {
    const { address } = listener;
    // Lost meanwhile, or ever since.
    if (address === undefined) return;
    const { sourceName: longName, portsAt } = this.options;
    const reply = { ip: address, shortName: 'lampwright', longName, repliesBefore };
    for (const bytes of encodePollReplies(reply, portsAt?.(address) ?? [])) {
      listener.answer(bytes, to);
    }
  }
}
