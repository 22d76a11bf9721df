import { describe, expect, it } from 'vitest';
import {
  createNodeTable,
  dropGone,
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
const table = (capacity = 100) => createNodeTable({ goneAfterS: NODE_GONE_AFTER_S, capacity });

describe('node table', () => {
  it('finds the subscribers of a Port-Address, each address once', () => {
    const nodes = table();
    expect(noteReply(nodes, reply(), 0)).toBe('new');
    expect(noteReply(nodes, reply({ bindIndex: 2 }), 0)).toBe('new');
    expect(noteReply(nodes, reply({ ip: [10, 0, 0, 8] }), 0)).toBe('new');
    expect(noteReply(nodes, reply({ ip: [10, 0, 0, 9], swOut: [5] }), 0)).toBe('new');
    expect(subscribersOf(nodes, 0x0423)).toEqual(['10.0.0.7', '10.0.0.8']);
    expect(subscribersOf(nodes, 0x0425)).toEqual(['10.0.0.9']);
    expect(subscribersOf(nodes, 0)).toEqual([]);
  });

  it('counts a revision when subscribers may have changed, and not when a node is only seen', () => {
    const nodes = table();
    noteReply(nodes, reply(), 0);
    const first = nodes.revision;
    expect(noteReply(nodes, reply(), 1)).toBe('seen');
    expect(nodes.revision).toBe(first);
    expect(noteReply(nodes, reply({ swOut: [9] }), 2)).toBe('changed');
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
    expect(noteReply(nodes, reply(), 10)).toBe('new');
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

  it('is bounded: refuses new nodes when full, and still hears the old', () => {
    const nodes = table(2);
    for (const host of [1, 2]) noteReply(nodes, reply({ ip: [10, 0, 0, host] }), 0);
    expect(noteReply(nodes, reply({ ip: [10, 0, 0, 3] }), 0)).toBe('full');
    expect(noteReply(nodes, reply({ ip: [10, 0, 0, 1] }), 1)).toBe('seen');
    expect(nodes.nodes.size).toBe(2);
  });
});
