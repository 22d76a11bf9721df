import { describe, expect, it } from 'vitest';
import {
  createNodeTable,
  dropGone,
  knownNodes,
  noteReply,
  subscribersOf,
} from '../../../src/protocols/artnet/node-table.js';
import { NODE_GONE_AFTER_S, POLL_INTERVAL_S } from '../../../src/protocols/artnet/options.js';
import { decodePollReply } from '../../../src/protocols/artnet/poll-reply.js';
import { pollReplyBytes, type ReplyFields } from './reply.js';

const reply = (fields: ReplyFields = {}) => {
  const decoded = decodePollReply(pollReplyBytes(fields));
  if (decoded.kind === 'rejected') throw new Error(decoded.reason);
  return decoded;
};
const table = (capacity = 100, listed: readonly string[] = []) =>
  createNodeTable({
    goneAfterS: NODE_GONE_AFTER_S,
    capacity,
    isListed: ip => listed.includes(ip),
  });

describe('node table', () => {
  it('finds the subscribers of a Port-Address, each address once', () => {
    const nodes = table();
    expect(noteReply(nodes, reply(), 0).change).toBe('new');
    expect(noteReply(nodes, reply({ bindIndex: 2 }), 0).change).toBe('new');
    expect(noteReply(nodes, reply({ ip: [10, 0, 0, 8] }), 0).change).toBe('new');
    expect(noteReply(nodes, reply({ ip: [10, 0, 0, 9], swOut: [5] }), 0).change).toBe('new');
    expect(subscribersOf(nodes, 0x0423)).toEqual(['10.0.0.7', '10.0.0.8']);
    expect(subscribersOf(nodes, 0x0425)).toEqual(['10.0.0.9']);
    expect(subscribersOf(nodes, 0)).toEqual([]);
  });

  it('counts a revision when subscribers may have changed, and not when a node is only seen', () => {
    const nodes = table();
    noteReply(nodes, reply(), 0);
    const first = nodes.revision;
    expect(noteReply(nodes, reply(), 1).change).toBe('seen');
    expect(nodes.revision).toBe(first);
    expect(noteReply(nodes, reply({ swOut: [9] }), 2).change).toBe('changed');
    expect(nodes.revision).toBe(first + 1);
    expect(subscribersOf(nodes, 0x0423)).toEqual([]);
    dropGone(nodes, 3);
    expect(nodes.revision).toBe(first + 1);
    expect(dropGone(nodes, 100)).toHaveLength(1);
    expect(nodes.revision).toBe(first + 2);
  });

  it('drops a node that has been silent for longer than declared, and takes it up again', () => {
    const nodes = table();
    noteReply(nodes, reply(), 0);
    noteReply(nodes, reply({ bindIndex: 2 }), 5);
    expect(dropGone(nodes, NODE_GONE_AFTER_S)).toEqual([]);
    expect(dropGone(nodes, NODE_GONE_AFTER_S + 0.1).map(node => node.reply.bindIndex)).toEqual([1]);
    expect(subscribersOf(nodes, 0x0423)).toEqual(['10.0.0.7']);
    expect(noteReply(nodes, reply(), 10).change).toBe('new');
  });

  it('drops a node 3 s after a poll that it did not answer (Art-Net 4), and keeps it until then', () => {
    for (const answerS of [0, 0.5, 1]) {
      const nodes = table();
      noteReply(nodes, reply(), answerS);
      expect(dropGone(nodes, POLL_INTERVAL_S + 3)).toEqual([]);
      // It may have taken 1 s for its last answer.
      expect(dropGone(nodes, POLL_INTERVAL_S + 3 + 1.01)).toHaveLength(1);
    }
  });

  it('keeps a node that answers at once, and one of whose answers is lost', () => {
    const nodes = table();
    noteReply(nodes, reply(), 0);
    expect(dropGone(nodes, 2 * POLL_INTERVAL_S)).toEqual([]);
  });

  const from = (host: number) => reply({ ip: [10, 0, host >> 8, host & 0xff] });
  const ipOf = (host: number) => `10.0.${host >> 8}.${host & 0xff}`;

  it('is bounded: somebody makes room for who is new, and goes silent after that as well', () => {
    const nodes = table(4);
    const gone: string[] = [];
    for (let host = 1; host <= 40; host++) {
      const { change, displaced } = noteReply(nodes, from(host), host / 100);
      expect(change).toBe('new');
      if (displaced !== undefined) gone.push(displaced.ip);
      expect(subscribersOf(nodes, 0x0423)).toContain(ipOf(host));
    }
    expect([knownNodes(nodes), new Set(gone).size]).toEqual([4, 36]);
    expect(dropGone(nodes, 100).map(({ reply: { ip } }) => ip)).toHaveLength(4);
    expect([knownNodes(nodes), nodes.places]).toEqual([0, []]);
  });

  it('keeps a place for who has answered for some time, and for who is listed', () => {
    const nodes = table(8, [ipOf(9)]);
    for (const s of [0, 2.5, 5, 7.5, 10])
      for (const host of [1, 2]) noteReply(nodes, from(host), s);
    // Forged, ever new, a thousand in a poll; the listed one comes last.
    for (let host = 1000; host < 2000; host++) noteReply(nodes, from(host), 10.1);
    noteReply(nodes, from(9), 10.2);
    for (let host = 2000; host < 3000; host++) noteReply(nodes, from(host), 10.3);
    const there = subscribersOf(nodes, 0x0423);
    for (const host of [1, 2, 9]) expect(there).toContain(ipOf(host));
    expect(knownNodes(nodes)).toBe(8);
  });

  it('takes up who comes later than as many forged ones as there is room for, and keeps it', () => {
    const nodes = table(100);
    let absent = 0;
    for (let s = 0; s <= 300; s += 2.5) {
      for (let host = 1000; host < 1100; host++) noteReply(nodes, from(host), s);
      if (s < 30) continue;
      if (noteReply(nodes, from(1), s + 0.5).change === 'new') absent += 1;
      dropGone(nodes, s + 0.6);
    }
    // One of 25 newcomers makes room in each poll; 109 polls.
    expect(absent).toBeLessThan(12);
  });

  it('names in turn who has answered for longest and who is newest', () => {
    const nodes = table();
    for (const host of [1, 2, 3, 4, 5]) noteReply(nodes, from(host), host);
    expect(subscribersOf(nodes, 0x0423)).toEqual([1, 5, 2, 4, 3].map(ipOf));
  });
});
