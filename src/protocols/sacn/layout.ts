/**
 * Where each field of an E1.31-2018 packet stands: byte offsets from the start of the UDP payload,
 * big-endian, with the table of the standard that gives it.
 */
import { SLOTS_PER_UNIVERSE } from './options.js';

/** Root layer: the same in all packets (Tables 4-1, 4-2, 4-3 and 5-4). */
export const ROOT = {
  preambleSize: 0,
  postambleSize: 2,
  acnIdentifier: 4,
  flagsAndLength: 16,
  vector: 18,
  cid: 22,
  end: 38,
} as const;

/** Framing layer, the first fields of all packets (Tables 6-5, 6-6 and 6-7). */
export const FRAMING = {
  flagsAndLength: 38,
  vector: 40,
} as const;

/** Data packet: framing layer (Table 6-5) and DMP layer (Table 7-8). */
export const DATA = {
  sourceName: 44,
  priority: 108,
  syncAddress: 109,
  sequence: 111,
  options: 112,
  universe: 113,
  dmpFlagsAndLength: 115,
  dmpVector: 117,
  addressType: 118,
  firstAddress: 119,
  addressIncrement: 121,
  propertyCount: 123,
  startCode: 125,
  slots: 126,
} as const;
export const DATA_PACKET_BYTES = DATA.slots + SLOTS_PER_UNIVERSE;

/** Synchronization packet: framing layer (Table 6-6). */
export const SYNC = {
  sequence: 44,
  syncAddress: 45,
  reserved: 47,
  end: 49,
} as const;

/** Universe discovery packet: framing layer (Table 6-7) and universe discovery layer (Table 8-9). */
export const DISCOVERY = {
  sourceName: 44,
  reserved: 108,
  listFlagsAndLength: 112,
  listVector: 114,
  page: 118,
  lastPage: 119,
  universes: 120,
} as const;
/** Table 8-9: at most 512 universes in a packet. */
export const UNIVERSES_PER_PAGE = 512;

export const SOURCE_NAME_BYTES = 64;
export const PREAMBLE_SIZE = 0x0010;
export const POSTAMBLE_SIZE = 0x0000;
/** "ASC-E1.17" and three NULs. */
export const ACN_IDENTIFIER: readonly number[] = [
  0x41, 0x53, 0x43, 0x2d, 0x45, 0x31, 0x2e, 0x31, 0x37, 0x00, 0x00, 0x00,
];
/** Section 5.4: the top four bits of a flags-and-length field are 0x7, the rest is the length. */
export const PDU_FLAGS = 0x7000;
export const PDU_LENGTH_MASK = 0x0fff;

/** Appendix A. */
export const VECTOR_ROOT_DATA = 0x0000_0004;
export const VECTOR_ROOT_EXTENDED = 0x0000_0008;
export const VECTOR_DATA_PACKET = 0x0000_0002;
export const VECTOR_EXTENDED_SYNC = 0x0000_0001;
export const VECTOR_EXTENDED_DISCOVERY = 0x0000_0002;
export const VECTOR_UNIVERSE_LIST = 0x0000_0001;
/** Table 7-8. */
export const VECTOR_DMP_SET_PROPERTY = 0x02;
export const ADDRESS_AND_DATA_TYPE = 0xa1;
export const FIRST_PROPERTY_ADDRESS = 0x0000;
export const ADDRESS_INCREMENT = 0x0001;

/** Section 6.2.6. */
export const OPTION_PREVIEW = 0x80;
export const OPTION_TERMINATED = 0x40;
export const OPTION_FORCE_SYNC = 0x20;
