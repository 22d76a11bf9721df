import {
  ARTNET_ID,
  HEAD,
  LONG_NAME_BYTES,
  OP_POLL_REPLY,
  POLL_REPLY,
  POLL_REPLY_MIN_BYTES,
  PORT_TYPE_OUTPUT,
  PORTS_PER_REPLY,
  SHORT_NAME_BYTES,
} from './layout.js';

export const POLL_REPLY_REJECT_REASONS = [
  'too-short',
  'not-artnet',
  /** Another Art-Net packet; on a shared port that is common and no fault. */
  'other-opcode',
  /** Not an address that a packet can be sent to: 0.x, multicast, reserved or broadcast. */
  'ip-not-unicast',
  'net-range',
  'subnet-range',
  /** More than 4 ports in one reply. */
  'port-count',
  /** The universe of an output is above 15. */
  'universe-range',
] as const;
export type PollReplyRejectReason = (typeof POLL_REPLY_REJECT_REASONS)[number];

export interface PollReply {
  readonly kind: 'poll-reply';
  /** The node's own address as it says, dotted. */
  readonly ip: string;
  /** Art-Net fixes it to 6454; some nodes send its bytes swapped, so it is for information only. */
  readonly port: number;
  readonly shortName: string;
  readonly longName: string;
  /** The node's own report on itself ("#0001 [0042] ..."). */
  readonly nodeReport: string;
  readonly status1: number;
  /** 0 from a node that is too old to send it. */
  readonly status2: number;
  /** 0 or 1: the root device; more: its further ports in replies of their own. */
  readonly bindIndex: number;
  /** The Port-Addresses that the node puts out, so that it wants their ArtDmx. */
  readonly outputs: readonly number[];
}

export interface PollReplyRejected {
  readonly kind: 'rejected';
  readonly reason: PollReplyRejectReason;
}

/** Decodes an ArtPollReply with every field checked against its bounds; never throws. Longer replies are read as far as we know them. */
export function decodePollReply(bytes: Buffer): PollReply | PollReplyRejected {
  if (bytes.length < HEAD.protocolVersion) return rejected('too-short');
  if (!ARTNET_ID.every((byte, i) => bytes[HEAD.id + i] === byte)) return rejected('not-artnet');
  if (bytes.readUInt16LE(HEAD.opCode) !== OP_POLL_REPLY) return rejected('other-opcode');
  if (bytes.length < POLL_REPLY_MIN_BYTES) return rejected('too-short');
  const firstOctet = bytes.readUInt8(POLL_REPLY.ip);
  if (firstOctet === 0 || firstOctet >= 224) return rejected('ip-not-unicast');
  const net = bytes.readUInt8(POLL_REPLY.netSwitch);
  if (net > 0x7f) return rejected('net-range');
  const subNet = bytes.readUInt8(POLL_REPLY.subSwitch);
  if (subNet > 0x0f) return rejected('subnet-range');
  const portCount = bytes.readUInt16BE(POLL_REPLY.portCount);
  if (portCount > PORTS_PER_REPLY) return rejected('port-count');
  const outputs: number[] = [];
  for (let port = 0; port < portCount; port++) {
    if ((bytes.readUInt8(POLL_REPLY.portTypes + port) & PORT_TYPE_OUTPUT) === 0) continue;
    const universe = bytes.readUInt8(POLL_REPLY.swOut + port);
    if (universe > 0x0f) return rejected('universe-range');
    const portAddress = (net << 8) | (subNet << 4) | universe;
    if (!outputs.includes(portAddress)) outputs.push(portAddress);
  }
  return {
    kind: 'poll-reply',
    ip: Array.from(bytes.subarray(POLL_REPLY.ip, POLL_REPLY.ip + 4)).join('.'),
    port: bytes.readUInt16LE(POLL_REPLY.port),
    shortName: readText(bytes, POLL_REPLY.shortName, SHORT_NAME_BYTES),
    longName: readText(bytes, POLL_REPLY.longName, LONG_NAME_BYTES),
    nodeReport: readText(bytes, POLL_REPLY.nodeReport, LONG_NAME_BYTES),
    status1: bytes.readUInt8(POLL_REPLY.status1),
    status2: bytes[POLL_REPLY.status2] ?? 0,
    bindIndex: bytes[POLL_REPLY.bindIndex] ?? 0,
    outputs,
  };
}

/** Up to the NUL or the end of the field (some nodes fill it), printable ASCII; the rest becomes "?". */
function readText(bytes: Buffer, offset: number, length: number): string {
  let text = '';
  for (let i = offset; i < offset + length; i++) {
    const code = bytes.readUInt8(i);
    if (code === 0) break;
    text += code >= 0x20 && code <= 0x7e ? String.fromCharCode(code) : '?';
  }
  return text;
}

function rejected(reason: PollReplyRejectReason): PollReplyRejected {
  return { kind: 'rejected', reason };
}
