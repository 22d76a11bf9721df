import { writeFlagsAndLength, writeHead, writeSourceName } from './head.js';
import {
  ADDRESS_AND_DATA_TYPE,
  ADDRESS_INCREMENT,
  DATA,
  DATA_PACKET_BYTES,
  FIRST_PROPERTY_ADDRESS,
  OPTION_FORCE_SYNC,
  OPTION_TERMINATED,
  VECTOR_DATA_PACKET,
  VECTOR_DMP_SET_PROPERTY,
  VECTOR_ROOT_DATA,
} from './layout.js';
import {
  MAX_PRIORITY,
  MAX_UNIVERSE,
  MIN_UNIVERSE,
  type SacnUniverseOptions,
  SLOTS_PER_UNIVERSE,
} from './options.js';
import { nextSequence } from './sequence.js';

/** START code of dimmer levels (E1.11 section 8.5.1). */
const NULL_START_CODE = 0;

/** One universe's data packet. The buffer is written in place: send it before the next change. */
export interface SacnDataPacket {
  /** The UDP payload, 638 bytes. */
  readonly buffer: Buffer;
  /** The 512 slots inside `buffer`, to write levels into. */
  readonly slots: Uint8Array;
  /** Takes the next sequence number: once for each packet sent (section 6.2.5). */
  advanceSequence(): void;
  setSequence(sequence: number): void;
  /** Section 6.2.3; from 0 to 200. */
  setPriority(priority: number): void;
  /** Section 6.2.6: in three packets at the end of the stream; the levels no longer count. */
  setTerminated(terminated: boolean): void;
  /** Section 6.2.4: receivers hold it for the packet of this universe; 0: they take it at once. */
  setSyncAddress(universe: number): void;
}

/**
 * Makes the packet of one universe, all slots 0 and sequence 0. Not synchronised (address 0), not for preview. Where it is
 * synchronised and that is lost, receivers go on without (Force_Synchronization, section 6.2.6).
 * Throws RangeError on a CID, universe or priority out of range; the show file is checked before.
 */
export function createDataPacket(
  options: SacnUniverseOptions,
  startCode = NULL_START_CODE,
): SacnDataPacket {
  const { universe, priority } = options;
  requireInteger('universe', universe, MIN_UNIVERSE, MAX_UNIVERSE);
  requireInteger('priority', priority, 0, MAX_PRIORITY);
  const buffer = Buffer.alloc(DATA_PACKET_BYTES);
  writeHead(buffer, VECTOR_ROOT_DATA, VECTOR_DATA_PACKET, options.cid);
  writeSourceName(buffer, DATA.sourceName, options.sourceName);
  buffer[DATA.priority] = priority;
  buffer.writeUInt16BE(0, DATA.syncAddress);
  buffer.writeUInt16BE(universe, DATA.universe);
  writeFlagsAndLength(buffer, DATA.dmpFlagsAndLength);
  buffer[DATA.dmpVector] = VECTOR_DMP_SET_PROPERTY;
  buffer[DATA.addressType] = ADDRESS_AND_DATA_TYPE;
  buffer.writeUInt16BE(FIRST_PROPERTY_ADDRESS, DATA.firstAddress);
  buffer.writeUInt16BE(ADDRESS_INCREMENT, DATA.addressIncrement);
  buffer.writeUInt16BE(SLOTS_PER_UNIVERSE + 1, DATA.propertyCount);
  buffer[DATA.startCode] = startCode;
  let isTerminated = false;
  return {
    buffer,
    slots: buffer.subarray(DATA.slots),
    advanceSequence() {
      buffer[DATA.sequence] = nextSequence(buffer[DATA.sequence] ?? 0);
    },
    setSequence(sequence) {
      buffer[DATA.sequence] = sequence;
    },
    setPriority(wanted) {
      requireInteger('priority', wanted, 0, MAX_PRIORITY);
      buffer[DATA.priority] = wanted;
    },
    setTerminated(terminated) {
      isTerminated = terminated;
      buffer[DATA.options] = optionsOf(isTerminated, buffer);
    },
    setSyncAddress(wanted) {
      requireInteger('synchronization address', wanted, 0, MAX_UNIVERSE);
      buffer.writeUInt16BE(wanted, DATA.syncAddress);
      buffer[DATA.options] = optionsOf(isTerminated, buffer);
    },
  };
}

function optionsOf(isTerminated: boolean, buffer: Buffer): number {
  const forces = buffer.readUInt16BE(DATA.syncAddress) > 0 ? OPTION_FORCE_SYNC : 0;
  return (isTerminated ? OPTION_TERMINATED : 0) | forces;
}

function requireInteger(name: string, value: number, min: number, max: number): void {
  if (!Number.isInteger(value) || value < min || value > max) {
    throw new RangeError(`${name} is a whole number from ${min} to ${max}, not ${value}`);
  }
}
