import { ARTNET_ID, DMX, HEAD, OP_DMX, OP_POLL, OP_SYNC } from './layout.js';
import { MAX_PORT_ADDRESS, MAX_SLOTS, MIN_SLOTS } from './options.js';

/** Levels that somebody else sends; the slots are a view of the datagram. */
export interface ArtDmx {
  readonly portAddress: number;
  readonly sequence: number;
  /** Which input of its sender it came by: tells two streams of one address apart. */
  readonly physical: number;
  readonly slots: Uint8Array;
}

/** Whether it asks all devices who they are. Older controllers send shorter polls than Art-Net 4's. */
export function isPoll(bytes: Buffer): boolean {
  return opCodeOf(bytes) === OP_POLL;
}

/** Whether it is an ArtSync: what has come before it is to be shown now. */
export function isSync(bytes: Buffer): boolean {
  return opCodeOf(bytes) === OP_SYNC;
}

/** Decodes ArtDmx with every field checked; undefined for anything else. Never throws. */
export function decodeArtDmx(bytes: Buffer): ArtDmx | undefined {
  if (opCodeOf(bytes) !== OP_DMX || bytes.length < DMX.data + MIN_SLOTS) return undefined;
  const portAddress = (bytes.readUInt8(DMX.net) << 8) | bytes.readUInt8(DMX.subUni);
  const length = bytes.readUInt16BE(DMX.length);
  if (portAddress > MAX_PORT_ADDRESS || length < MIN_SLOTS || length > MAX_SLOTS) return undefined;
  if (bytes.length < DMX.data + length) return undefined;
  return {
    portAddress,
    sequence: bytes.readUInt8(DMX.sequence),
    physical: bytes.readUInt8(DMX.physical),
    slots: bytes.subarray(DMX.data, DMX.data + length),
  };
}

function opCodeOf(bytes: Buffer): number | undefined {
  if (bytes.length < HEAD.protocolVersion) return undefined;
  for (let i = 0; i < ARTNET_ID.length; i++) if (bytes[i] !== ARTNET_ID[i]) return undefined;
  return bytes.readUInt16LE(HEAD.opCode);
}
