import { POLL_REPLY } from '../../../src/protocols/artnet/layout.js';

export interface ReplyFields {
  ip?: readonly number[];
  net?: number;
  subNet?: number;
  bindIndex?: number;
  portCount?: number;
  portTypes?: readonly number[];
  swOut?: readonly number[];
  length?: number;
  longName?: string;
}

/** An ArtPollReply of a node with one output on Port-Address 0x0423, but for what is given. */
export function pollReplyBytes(fields: ReplyFields = {}): Buffer {
  const bytes = Buffer.alloc(239);
  bytes.write('Art-Net\0', 'latin1');
  bytes.writeUInt16LE(0x2100, 8);
  bytes.set(fields.ip ?? [10, 0, 0, 7], POLL_REPLY.ip);
  bytes.set([0x36, 0x19], POLL_REPLY.port);
  bytes[POLL_REPLY.netSwitch] = fields.net ?? 4;
  bytes[POLL_REPLY.subSwitch] = fields.subNet ?? 2;
  bytes.write('stove', POLL_REPLY.shortName, 'latin1');
  bytes.write(fields.longName ?? 'stove and window', POLL_REPLY.longName, 'latin1');
  bytes.write('#0001 [0042] fine', POLL_REPLY.nodeReport, 'latin1');
  bytes[POLL_REPLY.status1] = 0xd0;
  bytes.writeUInt16BE(fields.portCount ?? 1, POLL_REPLY.portCount);
  bytes.set(fields.portTypes ?? [0x80], POLL_REPLY.portTypes);
  bytes.set(fields.swOut ?? [3], POLL_REPLY.swOut);
  bytes[POLL_REPLY.bindIndex] = fields.bindIndex ?? 1;
  bytes[POLL_REPLY.status2] = 0x0e;
  return bytes.subarray(0, fields.length ?? bytes.length);
}
