import {
  createNodeTable,
  dropGone,
  knownNodes,
  type NodeTable,
  noteReply,
  subscribersOf,
} from '../../protocols/artnet/node-table.js';
import { NODE_GONE_AFTER_S, NODE_SILENT_AFTER_S } from '../../protocols/artnet/options.js';
import { decodePollReply } from '../../protocols/artnet/poll-reply.js';
import type { LightingEvent } from './events.js';
import { NodeNews } from './node-news.js';
import { MOST_RECEIVERS } from './streams.js';

/** Far more nodes than any network of ours has; bounds what strangers' replies can fill. */
const MOST_NODES = 1024;

export interface NodeCounters {
  /** Replies that could not be read. */
  rejected: number;
  /** Nodes that had to make room, as more than {@link MOST_NODES} answered. */
  displaced: number;
  /** Nodes that came or went, and were told of in numbers only. */
  untold: number;
}

/** A Port-Address that nobody puts out. */
interface Wanted {
  readonly output: string;
  readonly fromS: number;
  told: boolean;
  toldS: number;
  crowdToldS: number;
}

/** So often is one told of again, seconds. */
const TELL_EVERY_S = 60;
/** How often it is looked who has left, and at most who gets levels, seconds. */
const LOOK_S = 0.25;

/** The Art-Net nodes that answer, and those that should. */
export class NodeWatch {
  readonly counters: NodeCounters = { rejected: 0, displaced: 0, untold: 0 };
  readonly #table: NodeTable;
  /** Nodes that an output sends to and that are asked: until when their silence is no news. */
  readonly #awaited = new Map<
    string,
    { readonly output: string; untilS: number; isTold: boolean }
  >();

  /** Port-Addresses of ours: until when nobody is expected to put them out, and whether that was told. */
  readonly #wanted = new Map<number, Wanted>();

  #lookDueS = Number.NEGATIVE_INFINITY;

  readonly #news: NodeNews;
  #displacedTold = 0;
  #displacedToldS = Number.NEGATIVE_INFINITY;
  #revision = 0;
  #renewDueS = Number.NEGATIVE_INFINITY;

  /**
   * @param listed addresses to which outputs send, whether they answer or not
   * @param isPartner whether a long name is that of the other machine of a pair, which is a controller and no node:
   *   that it comes and goes is told of as such
   * @param partners addresses at which the show says that it is: nobody waits for a node there
   */
  constructor(
    private readonly onEvent: (event: LightingEvent) => void,
    listed: ReadonlySet<string> = new Set(),
    private readonly isPartner: (longName: string) => boolean = () => false,
    private readonly partners: ReadonlySet<string> = new Set(),
  ) {
    this.#table = createNodeTable({
      goneAfterS: NODE_GONE_AFTER_S,
      capacity: MOST_NODES,
      isListed: ip => listed.has(ip),
    });
    this.#news = new NodeNews(ip => listed.has(ip) || this.#awaited.has(ip), onEvent);
  }

  /** Goes up whenever {@link subscribers} may answer differently; with `look`, however fast answers come. */
  get revision(): number {
    return this.#revision;
  }

  /** Addresses of the nodes that put a Port-Address out. */
  subscribers(portAddress: number): readonly string[] {
    return subscribersOf(this.#table, portAddress);
  }

  get known(): number {
    return knownNodes(this.#table);
  }

  /** That `ip` is asked from now on; says so once if it has not answered in the time that a node has. */
  await(ip: string, output: string, nowS: number): void {
    if (this.#awaited.has(ip) || this.partners.has(ip)) return;
    this.#awaited.set(ip, { output, untilS: nowS + NODE_SILENT_AFTER_S, isTold: false });
  }

  /** That we send this Port-Address, and polls go out, from now on. */
  want(portAddress: number, output: string, nowS: number): void {
    if (this.#wanted.has(portAddress)) return;
    this.#wanted.set(portAddress, {
      output,
      fromS: nowS + NODE_SILENT_AFTER_S,
      told: false,
      toldS: Number.NEGATIVE_INFINITY,
      crowdToldS: Number.NEGATIVE_INFINITY,
    });
  }

  /** A datagram on the port of the polls, from anybody. */
  hear(bytes: Buffer, from: string, nowS: number): void {
    const reply = decodePollReply(bytes);
    if (reply.kind === 'rejected') {
      // The port is shared with all of Art-Net, and with whoever else sends there.
      if (reply.reason !== 'other-opcode') this.counters.rejected += 1;
      return;
    }
    if (this.isPartner(reply.longName)) {
      this.#partnerAnswers(from);
      return;
    }
    // A node may claim any address in its reply; the one it sent from is where it is.
    const { change, displaced } = noteReply(this.#table, { ...reply, ip: from }, nowS);
    if (displaced !== undefined) {
      this.counters.displaced += 1;
      this.#news.went(displaced, nowS);
    }
    if (change !== 'new') return;
    this.#hasAnswered(from);
    this.#news.came({ ...reply, ip: from }, nowS);
    this.counters.untold = this.#news.untold;
  }

  /** Where a node was missed because the other machine was not there yet. */
  #partnerAnswers(ip: string): void {
    this.#hasAnswered(ip);
    const awaited = this.#awaited.get(ip);
    if (awaited?.isTold !== true) return;
    awaited.isTold = false;
    this.onEvent({ kind: 'node-is-partner', ip, output: awaited.output });
  }

  /** From here on its silence is that of a node that has gone. */
  #hasAnswered(ip: string): void {
    const awaited = this.#awaited.get(ip);
    if (awaited !== undefined) awaited.untilS = Number.POSITIVE_INFINITY;
  }

  /** Tells of the nodes that have left, of those that never came, and of levels that none puts out. */
  look(nowS: number): void {
    if (this.#revision !== this.#table.revision && nowS >= this.#renewDueS) {
      this.#revision = this.#table.revision;
      this.#renewDueS = nowS + LOOK_S;
    }
    if (nowS < this.#lookDueS) return;
    this.#lookDueS = nowS + LOOK_S;
    for (const { reply } of dropGone(this.#table, nowS)) this.#news.went(reply, nowS);
    this.#tellOfCrowds(nowS);
    this.#news.look(nowS);
    this.counters.untold = this.#news.untold;
    for (const [ip, wait] of this.#awaited) {
      if (nowS < wait.untilS) continue;
      wait.untilS = Number.POSITIVE_INFINITY;
      wait.isTold = true;
      this.onEvent({ kind: 'node-silent', ip, output: wait.output });
    }
    // Without any node the silence of those that we send to says it all.
    if (this.known === 0) return;
    for (const [portAddress, want] of this.#wanted) {
      if (nowS < want.fromS) continue;
      const heard = subscribersOf(this.#table, portAddress).length > 0;
      if (heard) want.told = false;
      // A node that answers now with it and now without it must not flood the log.
      if (heard || want.told || nowS - want.toldS < TELL_EVERY_S) continue;
      want.told = true;
      want.toldS = nowS;
      this.onEvent({ kind: 'port-address-unheard', portAddress, output: want.output });
    }
  }

  /** More answer than there is room for. */
  #tellOfCrowds(nowS: number): void {
    const count = this.counters.displaced - this.#displacedTold;
    if (count > 0 && nowS - this.#displacedToldS >= TELL_EVERY_S) {
      this.#displacedTold += count;
      this.#displacedToldS = nowS;
      this.onEvent({ kind: 'nodes-displaced', count, most: MOST_NODES });
    }
    for (const [portAddress, want] of this.#wanted) {
      const { length: nodes } = subscribersOf(this.#table, portAddress);
      if (nodes <= MOST_RECEIVERS || nowS - want.crowdToldS < TELL_EVERY_S) continue;
      want.crowdToldS = nowS;
      const { output } = want;
      const event = { portAddress, output, nodes, most: MOST_RECEIVERS };
      this.onEvent({ kind: 'port-address-crowded', ...event });
    }
  }
}
