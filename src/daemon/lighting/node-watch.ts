import {
  createNodeTable,
  dropGone,
  noteReply,
  subscribersOf,
} from '../../protocols/artnet/node-table.js';
import { NODE_GONE_AFTER_S, NODE_SILENT_AFTER_S } from '../../protocols/artnet/options.js';
import { decodePollReply } from '../../protocols/artnet/poll-reply.js';
import type { LightingEvent } from './events.js';
import { NodeNews } from './node-news.js';

/** Far more nodes than any network of ours has; bounds what strangers' replies can fill. */
const MOST_NODES = 1024;

export interface NodeCounters {
  /** Replies that could not be read. */
  rejected: number;
  /** Replies of nodes beyond the {@link MOST_NODES} that are kept. */
  refused: number;
  /** Nodes that came or went, and were told of in numbers only. */
  untold: number;
}

/** A Port-Address that nobody puts out. */
interface Wanted {
  readonly output: string;
  readonly fromS: number;
  told: boolean;
  toldS: number;
}

/** So often is one told of again, seconds. */
const UNHEARD_EVERY_S = 60;
/** How often it is looked who has left, seconds. */
const LOOK_S = 0.25;

/** The Art-Net nodes that answer, and those that should. */
export class NodeWatch {
  readonly counters: NodeCounters = { rejected: 0, refused: 0, untold: 0 };
  readonly #table = createNodeTable({ goneAfterS: NODE_GONE_AFTER_S, capacity: MOST_NODES });
  /** Nodes that an output sends to and that are asked: until when their silence is no news. */
  readonly #awaited = new Map<string, { readonly output: string; untilS: number }>();

  /** Port-Addresses of ours: until when nobody is expected to put them out, and whether that was told. */
  readonly #wanted = new Map<number, Wanted>();

  #lookDueS = Number.NEGATIVE_INFINITY;

  readonly #news: NodeNews;

  constructor(private readonly onEvent: (event: LightingEvent) => void) {
    this.#news = new NodeNews(ip => this.#awaited.has(ip), onEvent);
  }

  /** Goes up whenever {@link subscribers} may answer differently. */
  get revision(): number {
    return this.#table.revision;
  }

  /** Addresses of the nodes that put a Port-Address out. */
  subscribers(portAddress: number): readonly string[] {
    return subscribersOf(this.#table, portAddress);
  }

  get known(): number {
    return this.#table.nodes.size;
  }

  /** That `ip` is asked from now on; says so once if it has not answered in the time that a node has. */
  await(ip: string, output: string, nowS: number): void {
    if (this.#awaited.has(ip)) return;
    this.#awaited.set(ip, { output, untilS: nowS + NODE_SILENT_AFTER_S });
  }

  /** That we send this Port-Address, and polls go out, from now on. */
  want(portAddress: number, output: string, nowS: number): void {
    if (this.#wanted.has(portAddress)) return;
    this.#wanted.set(portAddress, {
      output,
      fromS: nowS + NODE_SILENT_AFTER_S,
      told: false,
      toldS: Number.NEGATIVE_INFINITY,
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
    // A node may claim any address in its reply; the one it sent from is where it is.
    const change = noteReply(this.#table, { ...reply, ip: from }, nowS);
    if (change === 'full') this.counters.refused += 1;
    if (change !== 'new') return;
    // From here on its silence is that of a node that has gone.
    const awaited = this.#awaited.get(from);
    if (awaited !== undefined) awaited.untilS = Number.POSITIVE_INFINITY;
    this.#news.came({ ...reply, ip: from }, nowS);
    this.counters.untold = this.#news.untold;
  }

  /** Tells of the nodes that have left, of those that never came, and of levels that none puts out. */
  look(nowS: number): void {
    if (nowS < this.#lookDueS) return;
    this.#lookDueS = nowS + LOOK_S;
    for (const { reply } of dropGone(this.#table, nowS)) this.#news.went(reply, nowS);
    this.#news.look(nowS);
    this.counters.untold = this.#news.untold;
    for (const [ip, wait] of this.#awaited) {
      if (nowS < wait.untilS) continue;
      wait.untilS = Number.POSITIVE_INFINITY;
      this.onEvent({ kind: 'node-silent', ip, output: wait.output });
    }
    // Without any node the silence of those that we send to says it all.
    if (this.#table.nodes.size === 0) return;
    for (const [portAddress, want] of this.#wanted) {
      if (nowS < want.fromS) continue;
      const heard = subscribersOf(this.#table, portAddress).length > 0;
      if (heard) want.told = false;
      // Whoever answers now with it and now without makes no flood.
      if (heard || want.told || nowS - want.toldS < UNHEARD_EVERY_S) continue;
      want.told = true;
      want.toldS = nowS;
      this.onEvent({ kind: 'port-address-unheard', portAddress, output: want.output });
    }
  }
}
