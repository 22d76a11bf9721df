import {
  ARTNET_ID,
  GOOD_OUTPUT_ACTIVE,
  HEAD,
  LONG_NAME_BYTES,
  OEM_UNKNOWN,
  OP_POLL_REPLY,
  POLL_REPLY,
  POLL_REPLY_BYTES,
  PORT_TYPE_OUTPUT,
  PORTS_PER_REPLY,
  SHORT_NAME_BYTES,
  STATUS1_NORMAL,
  STATUS2_15_BITS,
  STYLE_CONTROLLER,
  STYLE_NODE,
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
  return encodeReply(options, STYLE_CONTROLLER, 1);
}

/** A Port-Address that we take levels of. */
export interface HeardPort {
  readonly portAddress: number;
  /** Levels of it have come just now. */
  readonly isHeard: boolean;
}

/**
 * What a node answers that takes these Port-Addresses: controllers that send to subscribers send to those that name them.
 * Four ports of one net and sub-net fit into a reply; each further reply has a bind index of its own.
 * @param ports none: that of a controller
 */
export function encodePollReplies(
  options: ControllerReplyOptions,
  ports: readonly HeardPort[],
): readonly Buffer[] {
  if (ports.length === 0) return [encodeControllerReply(options)];
  const groups: HeardPort[][] = [];
  for (const port of [...ports].sort((a, b) => a.portAddress - b.portAddress)) {
    const last = groups.at(-1);
    const isSame = last?.[0] !== undefined && last[0].portAddress >> 4 === port.portAddress >> 4;
    if (isSame && last.length < PORTS_PER_REPLY) last.push(port);
    else groups.push([port]);
  }
  return groups.map((group, index) => {
    const bytes = encodeReply(options, STYLE_NODE, index + 1);
    const first = group[0]?.portAddress ?? 0;
    bytes[POLL_REPLY.netSwitch] = first >> 8;
    bytes[POLL_REPLY.subSwitch] = (first >> 4) & 0x0f;
    bytes.writeUInt16BE(group.length, POLL_REPLY.portCount);
    group.forEach(({ portAddress, isHeard }, port) => {
      bytes[POLL_REPLY.portTypes + port] = PORT_TYPE_OUTPUT;
      bytes[POLL_REPLY.goodOutput + port] = isHeard ? GOOD_OUTPUT_ACTIVE : 0;
      bytes[POLL_REPLY.swOut + port] = portAddress & 0x0f;
    });
    return bytes;
  });
}

function encodeReply(options: ControllerReplyOptions, style: number, bindIndex: number): Buffer {
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
  bytes[POLL_REPLY.style] = style;
  bytes.set(octets, POLL_REPLY.bindIp);
  bytes[POLL_REPLY.bindIndex] = bindIndex;
  return bytes;
}

/** The last byte of the field stays NUL. */
function writeText(bytes: Buffer, offset: number, length: number, text: string): void {
  const ascii = text.replace(/[^\x20-\x7e]/g, '?').slice(0, length - 1);
  bytes.write(ascii, offset, 'latin1');
}
