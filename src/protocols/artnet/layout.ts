/**
 * Where each field of the Art-Net 4 packets that we use stands: byte offsets from the start of the
 * UDP payload. Fields are big-endian but for the opcode and the port (and the ESTA code, unused here).
 */

/** Every packet begins with these. */
export const HEAD = {
  id: 0,
  opCode: 8,
  protocolVersion: 10,
} as const;

/** "Art-Net" and its NUL. */
export const ARTNET_ID: readonly number[] = [0x41, 0x72, 0x74, 0x2d, 0x4e, 0x65, 0x74, 0x00];
export const PROTOCOL_VERSION = 14;

export const OP_POLL = 0x2000;
export const OP_POLL_REPLY = 0x2100;
export const OP_DMX = 0x5000;
export const OP_SYNC = 0x5200;

/** ArtDmx. */
export const DMX = {
  sequence: 12,
  physical: 13,
  subUni: 14,
  net: 15,
  length: 16,
  data: 18,
} as const;

/** ArtSync: two bytes that are 0 behind the head. */
export const SYNC = {
  end: 14,
} as const;

/** ArtPoll. */
export const POLL = {
  flags: 12,
  diagnosticPriority: 13,
  end: 14,
} as const;

/** ArtPollReply; it has no protocol version. */
export const POLL_REPLY = {
  ip: 10,
  port: 14,
  firmware: 16,
  netSwitch: 18,
  subSwitch: 19,
  oem: 20,
  status1: 23,
  esta: 24,
  shortName: 26,
  longName: 44,
  nodeReport: 108,
  portCount: 172,
  portTypes: 174,
  goodInput: 178,
  goodOutput: 182,
  swIn: 186,
  swOut: 190,
  style: 200,
  mac: 201,
  bindIp: 207,
  bindIndex: 211,
  status2: 212,
} as const;
export const SHORT_NAME_BYTES = 18;
export const LONG_NAME_BYTES = 64;
export const PORTS_PER_REPLY = 4;
/** Up to the MAC address: what Art-Net II nodes send, without the bind fields (from memory). */
export const POLL_REPLY_MIN_BYTES = 207;
/** With all fields of Art-Net 4 and its filler (from memory; Debian's OLA takes it). */
export const POLL_REPLY_BYTES = 239;
/** Style code of a controller (from memory; tshark names it so). */
export const STYLE_CONTROLLER = 0x01;
/** Bit 7 of a port type: the port can output from the network. */
export const PORT_TYPE_OUTPUT = 0x80;
/** Style code of a node, and bit 7 of a good output: levels go out of the port (from memory; tshark names both so). */
export const STYLE_NODE = 0x00;
export const GOOD_OUTPUT_ACTIVE = 0x80;
/** OemUnknown: a product without a code of its own (art-net.org.uk, ArtPollReply). */
export const OEM_UNKNOWN = 0x00ff;
/** Status1 bits 7 and 6: indicators in normal mode. */
export const STATUS1_NORMAL = 0xc0;
/** Status2 bit 3: Port-Addresses of 15 bits. */
export const STATUS2_15_BITS = 0x08;
/** ArtPoll flag: send a reply whenever the node changes. */
export const POLL_REPLY_ON_CHANGE = 0x02;
