import {
  ARTNET_ID,
  HEAD,
  LONG_NAME_BYTES,
  OEM_UNKNOWN,
  OP_POLL_REPLY,
  POLL_REPLY,
  POLL_REPLY_BYTES,
  SHORT_NAME_BYTES,
  STATUS1_NORMAL,
  STATUS2_15_BITS,
  STYLE_CONTROLLER,
} from './layout.js';
import { ARTNET_PORT } from './options.js';

export interface ControllerReplyOptions {
  /** Dotted IPv4 address that we send from. */
  readonly ip: string;
  /** Any text; printable ASCII of it is sent, as far as it fits. */
  readonly shortName: string;
  readonly longName: string;
  /** Replies sent before: nodes count theirs in the report. */
  readonly repliesBefore: number;
}

/**
 * The ArtPollReply of a controller: every Art-Net device answers a poll, so that others' tables list us.
 * It has no ports: we put levels onto the network, and take none from it.
 */
export function encodeControllerReply(options: ControllerReplyOptions): Buffer {
  const bytes = Buffer.alloc(POLL_REPLY_BYTES);
  bytes.set(ARTNET_ID, HEAD.id);
  bytes.writeUInt16LE(OP_POLL_REPLY, HEAD.opCode);
  const octets = options.ip.split('.').map(Number);
  bytes.set(octets, POLL_REPLY.ip);
  bytes.writeUInt16LE(ARTNET_PORT, POLL_REPLY.port);
  writeText(bytes, POLL_REPLY.shortName, SHORT_NAME_BYTES, options.shortName);
  writeText(bytes, POLL_REPLY.longName, LONG_NAME_BYTES, options.longName);
  bytes.writeUInt16BE(OEM_UNKNOWN, POLL_REPLY.oem);
  bytes[POLL_REPLY.status1] = STATUS1_NORMAL;
  bytes[POLL_REPLY.status2] = STATUS2_15_BITS;
  // "#" with a status code (0001: power-on tests passed), a counter of replies, and words.
  const count = String((options.repliesBefore + 1) % 10_000).padStart(4, '0');
  writeText(bytes, POLL_REPLY.nodeReport, LONG_NAME_BYTES, `#0001 [${count}] running`);
  bytes[POLL_REPLY.style] = STYLE_CONTROLLER;
  bytes.set(octets, POLL_REPLY.bindIp);
  bytes[POLL_REPLY.bindIndex] = 1;
  return bytes;
}

/** The last byte of the field stays NUL. */
function writeText(bytes: Buffer, offset: number, length: number, text: string): void {
  const ascii = text.replace(/[^\x20-\x7e]/g, '?').slice(0, length - 1);
  bytes.write(ascii, offset, 'latin1');
}
