import { writeHead } from './head.js';
import { DMX, OP_DMX } from './layout.js';
import { type ArtnetOutputOptions, MAX_PORT_ADDRESS, MAX_SLOTS, MIN_SLOTS } from './options.js';

/** One Port-Address's ArtDmx packet. The buffer is written in place: send it before the next change. */
export interface ArtDmxPacket {
  /** The UDP payload, 18 bytes and the slots. */
  readonly buffer: Buffer;
  /** The slots inside `buffer`, to write levels into. */
  readonly slots: Uint8Array;
  /** Takes the next sequence number: once for each packet sent. */
  advanceSequence(): void;
  setSequence(sequence: number): void;
}

/**
 * Makes the packet of one Port-Address, all slots 0; the first {@link ArtDmxPacket.advanceSequence} gives 1.
 * Throws RangeError on a Port-Address or slot count out of range; the show file is checked before.
 */
export function createDmxPacket(options: ArtnetOutputOptions): ArtDmxPacket {
  const { portAddress, slotCount } = options;
  if (!Number.isInteger(portAddress) || portAddress < 0 || portAddress > MAX_PORT_ADDRESS) {
    throw new RangeError(
      `Port-Address is a whole number from 0 to ${MAX_PORT_ADDRESS}, not ${portAddress}`,
    );
  }
  if (slotCount % 2 !== 0 || slotCount < MIN_SLOTS || slotCount > MAX_SLOTS) {
    throw new RangeError(`slot count is even, from ${MIN_SLOTS} to ${MAX_SLOTS}, not ${slotCount}`);
  }
  const buffer = Buffer.alloc(DMX.data + slotCount);
  writeHead(buffer, OP_DMX);
  buffer[DMX.subUni] = portAddress & 0xff;
  buffer[DMX.net] = portAddress >> 8;
  buffer.writeUInt16BE(slotCount, DMX.length);
  return {
    buffer,
    slots: buffer.subarray(DMX.data),
    advanceSequence() {
      buffer[DMX.sequence] = nextArtnetSequence(buffer[DMX.sequence] ?? 0);
    },
    setSequence(sequence) {
      buffer[DMX.sequence] = sequence;
    },
  };
}

/** 1 to 255, then 1 again: 0 would tell the node that the sequence is not in use. */
export function nextArtnetSequence(sequence: number): number {
  return sequence >= 255 ? 1 : sequence + 1;
}
