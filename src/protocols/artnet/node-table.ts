import type { PollReply } from './poll-reply.js';

export interface NodeTableOptions {
  /** A node that has not answered for this long is gone, seconds. */
  readonly goneAfterS: number;
  /** Most replies (node and bind index) kept; further ones are refused. */
  readonly capacity: number;
}

export interface ArtnetNode {
  reply: PollReply;
  lastSeenS: number;
}

/** The nodes that have answered our polls, by IP address and bind index. Updated in place. */
export interface NodeTable {
  readonly options: NodeTableOptions;
  readonly nodes: Map<string, ArtnetNode>;
  /** Goes up whenever {@link subscribersOf} may answer differently, so that callers can keep lists. */
  revision: number;
}

/** 'full': refused, and to be counted. */
export type NodeChange = 'new' | 'changed' | 'seen' | 'full';

export function createNodeTable(options: NodeTableOptions): NodeTable {
  return { options, nodes: new Map(), revision: 0 };
}

export function noteReply(table: NodeTable, reply: PollReply, nowS: number): NodeChange {
  const key = `${reply.ip}#${reply.bindIndex}`;
  const node = table.nodes.get(key);
  if (node === undefined) {
    if (table.nodes.size >= table.options.capacity) return 'full';
    table.nodes.set(key, { reply, lastSeenS: nowS });
    table.revision++;
    return 'new';
  }
  const changed = !sameOutputs(node.reply.outputs, reply.outputs);
  node.reply = reply;
  node.lastSeenS = nowS;
  if (changed) table.revision++;
  return changed ? 'changed' : 'seen';
}

/** Takes out the nodes that have fallen silent and returns them. */
export function dropGone(table: NodeTable, nowS: number): readonly ArtnetNode[] {
  const gone: ArtnetNode[] = [];
  for (const [key, node] of table.nodes) {
    if (nowS - node.lastSeenS <= table.options.goneAfterS) continue;
    table.nodes.delete(key);
    gone.push(node);
  }
  if (gone.length > 0) table.revision++;
  return gone;
}

/** The addresses to send a Port-Address's ArtDmx to, each once. */
export function subscribersOf(table: NodeTable, portAddress: number): readonly string[] {
  const addresses = new Set<string>();
  for (const { reply } of table.nodes.values()) {
    if (reply.outputs.includes(portAddress)) addresses.add(reply.ip);
  }
  return [...addresses];
}

function sameOutputs(a: readonly number[], b: readonly number[]): boolean {
  return a.length === b.length && a.every((portAddress, i) => portAddress === b[i]);
}
