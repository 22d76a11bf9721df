import type { PollReply } from './poll-reply.js';

export interface NodeTableOptions {
  /** A node that has not answered for this long is gone, seconds. */
  readonly goneAfterS: number;
  /** Most replies (node and bind index) kept. */
  readonly capacity: number;
  /** Whether the show lists an address: it has a place whoever else answers. */
  isListed(ip: string): boolean;
}

export interface ArtnetNode {
  reply: PollReply;
  readonly firstSeenS: number;
  lastSeenS: number;
  /** Among the newcomers; -1: it is settled. */
  place: number;
}

/**
 * The nodes that have answered our polls, by IP address and bind index. Updated in place.
 *
 * Anybody may answer, with any address. Where more do than have room, a place belongs to who is listed, then to those
 * that have answered for some time. The others share what is left: each new one takes the place of one of them, by
 * chance. So answers that were forged first keep out nobody who comes later, and those that keep coming displace no node
 * that was there before. (Of those that share, the one heard least recently would go in turn, just before its next answer.)
 */
export interface NodeTable {
  readonly options: NodeTableOptions;
  /** Listed, or heard for {@link SETTLED_AFTER_S}. */
  readonly settled: Map<string, ArtnetNode>;
  readonly newcomers: Map<string, ArtnetNode>;
  /** Their keys, by place. */
  readonly places: string[];
  /** Of the numbers by which a place is chosen (xorshift32). */
  chance: number;
  /** Goes up whenever {@link subscribersOf} may answer differently, so that callers can keep lists. */
  revision: number;
  /** What it answers, and as of which revision. */
  index: {
    readonly revision: number;
    readonly subscribers: ReadonlyMap<number, readonly string[]>;
  };
}

export interface NodeNote {
  readonly change: 'new' | 'changed' | 'seen';
  /** It had to make room. */
  readonly displaced?: PollReply | undefined;
}

/** Four polls. */
const SETTLED_AFTER_S = 10;
/** Of all places; a forged answer may have a listed address too, and any of 255 bind indices. */
const MOST_SETTLED = 0.75;

export function createNodeTable(options: NodeTableOptions): NodeTable {
  const index = { revision: 0, subscribers: new Map() };
  const nodes = { settled: new Map(), newcomers: new Map(), places: [], chance: 1 };
  return { options, ...nodes, revision: 0, index };
}

export function knownNodes({ settled, newcomers }: NodeTable): number {
  return settled.size + newcomers.size;
}

export function noteReply(table: NodeTable, reply: PollReply, nowS: number): NodeNote {
  const { settled, newcomers, options } = table;
  const key = `${reply.ip}#${reply.bindIndex}`;
  const known = settled.get(key) ?? newcomers.get(key);
  const node = known ?? { reply, firstSeenS: nowS, lastSeenS: nowS, place: -1 };
  const changed = known === undefined || !sameOutputs(node.reply.outputs, reply.outputs);
  node.reply = reply;
  node.lastSeenS = nowS;
  if (changed) table.revision++;
  let displaced: PollReply | undefined;
  if (!settled.has(key)) {
    if (known === undefined && knownNodes(table) >= options.capacity) displaced = displace(table);
    const mayStay = nowS - node.firstSeenS >= SETTLED_AFTER_S || options.isListed(reply.ip);
    if (mayStay && settled.size < MOST_SETTLED * options.capacity) {
      removeNewcomer(table, node.place);
      settled.set(key, node);
    } else if (known === undefined) {
      node.place = table.places.push(key) - 1;
      newcomers.set(key, node);
    }
  }
  const change = known === undefined ? 'new' : changed ? 'changed' : 'seen';
  return { change, displaced };
}

function displace(table: NodeTable): PollReply | undefined {
  table.chance ^= table.chance << 13;
  table.chance ^= table.chance >>> 17;
  table.chance ^= table.chance << 5;
  table.revision++;
  return removeNewcomer(table, (table.chance >>> 0) % table.places.length);
}

/** The last one takes its place. */
function removeNewcomer({ newcomers, places }: NodeTable, place: number): PollReply | undefined {
  const key = places[place];
  const node = key === undefined ? undefined : newcomers.get(key);
  if (key === undefined || node === undefined) return undefined;
  const last = places.pop() as string;
  if (last !== key) {
    places[place] = last;
    (newcomers.get(last) as ArtnetNode).place = place;
  }
  newcomers.delete(key);
  node.place = -1;
  return node.reply;
}

/** Takes out the nodes that have fallen silent and returns them. */
export function dropGone(table: NodeTable, nowS: number): readonly ArtnetNode[] {
  const gone: ArtnetNode[] = [];
  for (const nodes of [table.settled, table.newcomers]) {
    for (const [key, node] of nodes) {
      if (nowS - node.lastSeenS <= table.options.goneAfterS) continue;
      if (node.place >= 0) removeNewcomer(table, node.place);
      else nodes.delete(key);
      gone.push(node);
    }
  }
  if (gone.length > 0) table.revision++;
  return gone;
}

/**
 * The addresses to send a Port-Address's ArtDmx to, each once. Whoever has room for some only takes the first ones:
 * in turn the one that has answered for longest, and the newest.
 */
export function subscribersOf(table: NodeTable, portAddress: number): readonly string[] {
  const { revision, index } = table;
  if (index.revision !== revision) table.index = { revision, subscribers: indexOf(table) };
  return table.index.subscribers.get(portAddress) ?? [];
}

function indexOf(table: NodeTable): ReadonlyMap<number, readonly string[]> {
  const byAge = [...table.settled.values(), ...table.newcomers.values()].sort(
    (a, b) => a.firstSeenS - b.firstSeenS,
  );
  const subscribers = new Map<number, Set<string>>();
  const add = (node: ArtnetNode | undefined) => {
    for (const portAddress of node?.reply.outputs ?? []) {
      const to = subscribers.get(portAddress) ?? new Set();
      subscribers.set(portAddress, to.add(node?.reply.ip ?? ''));
    }
  };
  for (let oldest = 0, newest = byAge.length - 1; oldest <= newest; oldest++, newest--) {
    add(byAge[oldest]);
    if (newest > oldest) add(byAge[newest]);
  }
  return new Map([...subscribers].map(([portAddress, to]) => [portAddress, [...to]]));
}

function sameOutputs(a: readonly number[], b: readonly number[]): boolean {
  return a.length === b.length && a.every((portAddress, i) => portAddress === b[i]);
}
