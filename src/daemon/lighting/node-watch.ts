import { createNodeTable, dropGone, noteReply } from '../../protocols/artnet/node-table.js';
import { NODE_GONE_AFTER_S } from '../../protocols/artnet/options.js';
import { decodePollReply } from '../../protocols/artnet/poll-reply.js';
import type { LightingEvent } from './events.js';

/** Far more nodes than any network of ours has; bounds what strangers' replies can fill. */
const MOST_NODES = 1024;

export interface NodeCounters {
  /** Replies that could not be read. */
  rejected: number;
  /** Replies of nodes beyond the {@link MOST_NODES} that are kept. */
  refused: number;
}

/** The Art-Net nodes that answer, and those that should. */
export class NodeWatch {
  readonly counters: NodeCounters = { rejected: 0, refused: 0 };
  readonly #table = createNodeTable({ goneAfterS: NODE_GONE_AFTER_S, capacity: MOST_NODES });
  /** Nodes that an output sends to and that are asked: until when their silence is no news. */
  readonly #awaited = new Map<string, { readonly output: string; untilS: number }>();

  constructor(private readonly onEvent: (event: LightingEvent) => void) {}

  get known(): number {
    return this.#table.nodes.size;
  }

  /** That `ip` is asked from now on; says so once if it has not answered in the time that a node has. */
  await(ip: string, output: string, nowS: number): void {
    if (this.#awaited.has(ip)) return;
    this.#awaited.set(ip, { output, untilS: nowS + NODE_GONE_AFTER_S });
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
    const { shortName: name, outputs: portAddresses } = reply;
    this.onEvent({ kind: 'node-found', ip: from, name, portAddresses });
  }

  /** Tells of the nodes that have left, and of those that never came. */
  look(nowS: number): void {
    for (const { reply } of dropGone(this.#table, nowS)) {
      this.onEvent({ kind: 'node-gone', ip: reply.ip, name: reply.shortName });
    }
    for (const [ip, wait] of this.#awaited) {
      if (nowS < wait.untilS) continue;
      wait.untilS = Number.POSITIVE_INFINITY;
      this.onEvent({ kind: 'node-silent', ip, output: wait.output });
    }
  }
}
