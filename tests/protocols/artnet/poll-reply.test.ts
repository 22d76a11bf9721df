import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  encodeControllerReply,
  encodePollReplies,
} from '../../../src/protocols/artnet/controller-reply.js';
import { POLL_REPLY } from '../../../src/protocols/artnet/layout.js';
import { encodePoll } from '../../../src/protocols/artnet/poll.js';
import {
  decodePollReply,
  POLL_REPLY_REJECT_REASONS,
} from '../../../src/protocols/artnet/poll-reply.js';
import { pollReplyBytes, type ReplyFields } from './reply.js';

describe('our own replies as a node', () => {
  const options = { ip: '10.0.0.9', shortName: 'lamp', longName: 'lamp wright', repliesBefore: 6 };

  it('name each Port-Address, four of one net and sub-net in each, with an index of its own', () => {
    const ports = [0x1237, 0x1231, 0x1232, 0x1233, 0x1234, 0x1240].map(portAddress => ({
      portAddress,
      isHeard: portAddress === 0x1232,
    }));
    const replies = encodePollReplies(options, ports);
    expect(replies.map(bytes => decodePollReply(bytes))).toMatchObject([
      { bindIndex: 1, outputs: [0x1231, 0x1232, 0x1233, 0x1234] },
      { bindIndex: 2, outputs: [0x1237] },
      { bindIndex: 3, outputs: [0x1240] },
    ]);
    // Art-Net 4, ArtPollReply: NetSwitch 18, SubSwitch 19, NumPorts 172, PortTypes 174, GoodOutput 182, SwOut 190, Style 200.
    const [first] = replies as [Buffer];
    expect([first[18], first[19], first.readUInt16BE(172), first[200]]).toEqual([0x12, 3, 4, 0]);
    expect([...first.subarray(174, 178)]).toEqual([0x80, 0x80, 0x80, 0x80]);
    expect([...first.subarray(182, 186)]).toEqual([0, 0x80, 0, 0]);
    expect([...first.subarray(190, 194)]).toEqual([1, 2, 3, 4]);
  });

  it('are that of a controller where nothing is heard, in printable ASCII that fits, with a count', () => {
    const [only, ...more] = encodePollReplies(
      {
        ...options,
        shortName: 'Blåvand lighthouse',
        longName: 'x'.repeat(80),
        repliesBefore: 9999,
      },
      [],
    );
    expect(more).toEqual([]);
    expect(only?.[200]).toBe(1);
    expect(decodePollReply(only as Buffer)).toMatchObject({
      shortName: 'Bl?vand lighthous',
      longName: 'x'.repeat(63),
      nodeReport: '#0001 [0000] running',
      outputs: [],
    });
  });
});

describe('ArtPollReply', () => {
  it('gives every field', () => {
    expect(decodePollReply(pollReplyBytes())).toEqual({
      kind: 'poll-reply',
      ip: '10.0.0.7',
      port: 6454,
      shortName: 'stove',
      longName: 'stove and window',
      nodeReport: '#0001 [0042] fine',
      status1: 0xd0,
      status2: 0x0e,
      bindIndex: 1,
      outputs: [0x0423],
    });
  });

  it('lists the ports that are outputs, up to the port count, each address once', () => {
    const fields = { portTypes: [0x80, 0x40, 0xc0, 0x80], swOut: [1, 2, 3, 1] };
    expect(decodePollReply(pollReplyBytes({ ...fields, portCount: 4 }))).toHaveProperty(
      'outputs',
      [0x0421, 0x0423],
    );
    expect(decodePollReply(pollReplyBytes({ ...fields, portCount: 2 }))).toHaveProperty(
      'outputs',
      [0x0421],
    );
    expect(decodePollReply(pollReplyBytes({ ...fields, portCount: 0 }))).toHaveProperty(
      'outputs',
      [],
    );
  });

  it('reads a short reply of an old node, and a longer one of a newer', () => {
    expect(decodePollReply(pollReplyBytes({ length: 207 }))).toMatchObject({
      bindIndex: 0,
      status2: 0,
      outputs: [0x0423],
    });
    const longer = Buffer.concat([pollReplyBytes(), Buffer.alloc(60, 0xff)]);
    expect(decodePollReply(longer)).toMatchObject({ bindIndex: 1, outputs: [0x0423] });
  });

  it('reads a name that fills its field, and masks what is not printable ASCII', () => {
    const bytes = pollReplyBytes();
    bytes.fill(0x61, POLL_REPLY.shortName, POLL_REPLY.longName);
    bytes.set([0x1b, 0x5b, 0xc3], POLL_REPLY.longName);
    expect(decodePollReply(bytes)).toMatchObject({
      shortName: 'a'.repeat(18),
      longName: '?[?ve and window',
    });
  });

  it.each<[string, ReplyFields | Buffer]>([
    ['too-short', Buffer.alloc(0)],
    ['too-short', Buffer.from('Art-Net\0\0', 'latin1')],
    ['too-short', { length: 206 }],
    ['not-artnet', Buffer.concat([Buffer.from('Art-Nut\0', 'latin1'), Buffer.alloc(240)])],
    ['other-opcode', encodePoll()],
    ['ip-not-unicast', { ip: [0, 0, 0, 0] }],
    ['ip-not-unicast', { ip: [224, 0, 0, 1] }],
    ['ip-not-unicast', { ip: [255, 255, 255, 255] }],
    ['net-range', { net: 128 }],
    ['subnet-range', { subNet: 16 }],
    ['port-count', { portCount: 5 }],
    ['port-count', { portCount: 256 }],
    ['universe-range', { swOut: [16] }],
  ])('%s: %o', (reason, fields) => {
    const bytes = Buffer.isBuffer(fields) ? fields : pollReplyBytes(fields);
    expect(decodePollReply(bytes)).toEqual({ kind: 'rejected', reason });
  });

  it('any bytes, and good replies with bytes changed: never throws, every result declared', () => {
    const flips = fc.array(fc.tuple(fc.nat(238), fc.nat(255)), { maxLength: 4 }).map(list => {
      const bytes = pollReplyBytes();
      for (const [at, value] of list) bytes[at] = value;
      return bytes;
    });
    const any = fc.uint8Array({ maxLength: 260 }).map(bytes => Buffer.from(bytes));
    fc.assert(
      fc.property(fc.oneof(flips, any), fc.option(fc.nat(250)), (bytes, cut) => {
        const reply = decodePollReply(bytes.subarray(0, cut ?? bytes.length));
        if (reply.kind === 'rejected') expect(POLL_REPLY_REJECT_REASONS).toContain(reply.reason);
        else expect(reply.outputs.every(address => address >= 0 && address <= 0x7fff)).toBe(true);
      }),
      { seed: 61, numRuns: 500 },
    );
  });
});

/** Offsets and values by art-net.org.uk's table of ArtPollReply (OemUnknown, Status2 bit 3, report code 0001). */
it('says of a controller all that Art-Net 4 has a field for', () => {
  const names = { shortName: 'lampwright', longName: 'The Salt Lantern' };
  const bytes = encodeControllerReply({ ip: '10.0.0.1', ...names, repliesBefore: 41 });
  expect(bytes.readUInt16BE(20)).toBe(0x00ff);
  expect(bytes[212]).toBe(0x08);
  expect(bytes.toString('latin1', 108, 130)).toBe('#0001 [0042] running\0\0');
});
