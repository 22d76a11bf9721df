import {
  ACN_IDENTIFIER,
  ADDRESS_AND_DATA_TYPE,
  ADDRESS_INCREMENT,
  DATA,
  DISCOVERY,
  FIRST_PROPERTY_ADDRESS,
  FRAMING,
  OPTION_FORCE_SYNC,
  OPTION_PREVIEW,
  OPTION_TERMINATED,
  PDU_FLAGS,
  PDU_LENGTH_MASK,
  POSTAMBLE_SIZE,
  PREAMBLE_SIZE,
  ROOT,
  SOURCE_NAME_BYTES,
  SYNC,
  UNIVERSES_PER_PAGE,
  VECTOR_DATA_PACKET,
  VECTOR_DMP_SET_PROPERTY,
  VECTOR_EXTENDED_DISCOVERY,
  VECTOR_EXTENDED_SYNC,
  VECTOR_ROOT_DATA,
  VECTOR_ROOT_EXTENDED,
  VECTOR_UNIVERSE_LIST,
} from './layout.js';
import { MAX_PRIORITY, MAX_UNIVERSE, MIN_UNIVERSE, SLOTS_PER_UNIVERSE } from './options.js';

export const SACN_REJECT_REASONS = [
  'too-short',
  'preamble-size',
  'postamble-size',
  'acn-identifier',
  'root-vector',
  'framing-vector',
  'dmp-vector',
  'list-vector',
  /** The flags are not 0x7 or the length is not what is left of the packet, in the layer named. */
  'root-length',
  'framing-length',
  'dmp-length',
  'list-length',
  /** 64 bytes without a NUL. */
  'source-name',
  'priority-range',
  'universe-range',
  'sync-address-range',
  'address-type',
  'first-address',
  'address-increment',
  /** Not 1 + the number of slots that follow, or more than 513. */
  'property-count',
  /** This page is after the last. */
  'page-number',
  /** The list is not rising, holds a universe out of range, or is longer than 512. */
  'universe-list',
] as const;
export type SacnRejectReason = (typeof SACN_REJECT_REASONS)[number];

/** Byte fields are views of the datagram. */
export interface SacnData {
  readonly kind: 'data';
  readonly cid: Uint8Array;
  readonly sourceName: string;
  readonly priority: number;
  /** 0: not synchronised. */
  readonly syncAddress: number;
  readonly sequence: number;
  readonly preview: boolean;
  readonly terminated: boolean;
  readonly forceSync: boolean;
  readonly universe: number;
  readonly startCode: number;
  readonly slots: Uint8Array;
}

export interface SacnSync {
  readonly kind: 'sync';
  readonly cid: Uint8Array;
  readonly sequence: number;
  readonly syncAddress: number;
}

export interface SacnDiscovery {
  readonly kind: 'discovery';
  readonly cid: Uint8Array;
  readonly sourceName: string;
  readonly page: number;
  readonly lastPage: number;
  readonly universes: readonly number[];
}

export interface SacnRejected {
  readonly kind: 'rejected';
  readonly reason: SacnRejectReason;
}

export type SacnPacket = SacnData | SacnSync | SacnDiscovery;

/** Decodes any E1.31-2018 packet strictly; never throws. Reserved bits and bytes are ignored, as the standard says. */
export function decodeSacn(bytes: Buffer): SacnPacket | SacnRejected {
  if (bytes.length < FRAMING.vector + 4) return rejected('too-short');
  if (bytes.readUInt16BE(ROOT.preambleSize) !== PREAMBLE_SIZE) return rejected('preamble-size');
  if (bytes.readUInt16BE(ROOT.postambleSize) !== POSTAMBLE_SIZE) return rejected('postamble-size');
  if (!ACN_IDENTIFIER.every((byte, i) => bytes[ROOT.acnIdentifier + i] === byte)) {
    return rejected('acn-identifier');
  }
  if (!reachesEnd(bytes, ROOT.flagsAndLength)) return rejected('root-length');
  const framingVector = bytes.readUInt32BE(FRAMING.vector);
  switch (bytes.readUInt32BE(ROOT.vector)) {
    case VECTOR_ROOT_DATA:
      return framingVector === VECTOR_DATA_PACKET ? decodeData(bytes) : rejected('framing-vector');
    case VECTOR_ROOT_EXTENDED:
      if (framingVector === VECTOR_EXTENDED_SYNC) return decodeSync(bytes);
      if (framingVector === VECTOR_EXTENDED_DISCOVERY) return decodeDiscovery(bytes);
      return rejected('framing-vector');
    default:
      return rejected('root-vector');
  }
}

function decodeData(bytes: Buffer): SacnData | SacnRejected {
  if (bytes.length < DATA.slots) return rejected('too-short');
  if (!reachesEnd(bytes, FRAMING.flagsAndLength)) return rejected('framing-length');
  const sourceName = readName(bytes, DATA.sourceName);
  if (sourceName === undefined) return rejected('source-name');
  const priority = bytes.readUInt8(DATA.priority);
  if (priority > MAX_PRIORITY) return rejected('priority-range');
  const syncAddress = bytes.readUInt16BE(DATA.syncAddress);
  if (syncAddress > MAX_UNIVERSE) return rejected('sync-address-range');
  const universe = bytes.readUInt16BE(DATA.universe);
  if (!isUniverse(universe)) return rejected('universe-range');
  if (!reachesEnd(bytes, DATA.dmpFlagsAndLength)) return rejected('dmp-length');
  if (bytes[DATA.dmpVector] !== VECTOR_DMP_SET_PROPERTY) return rejected('dmp-vector');
  if (bytes[DATA.addressType] !== ADDRESS_AND_DATA_TYPE) return rejected('address-type');
  if (bytes.readUInt16BE(DATA.firstAddress) !== FIRST_PROPERTY_ADDRESS) {
    return rejected('first-address');
  }
  if (bytes.readUInt16BE(DATA.addressIncrement) !== ADDRESS_INCREMENT) {
    return rejected('address-increment');
  }
  const slotCount = bytes.length - DATA.slots;
  if (bytes.readUInt16BE(DATA.propertyCount) !== slotCount + 1 || slotCount > SLOTS_PER_UNIVERSE) {
    return rejected('property-count');
  }
  const options = bytes.readUInt8(DATA.options);
  return {
    kind: 'data',
    cid: bytes.subarray(ROOT.cid, ROOT.end),
    sourceName,
    priority,
    syncAddress,
    sequence: bytes.readUInt8(DATA.sequence),
    preview: (options & OPTION_PREVIEW) !== 0,
    terminated: (options & OPTION_TERMINATED) !== 0,
    forceSync: (options & OPTION_FORCE_SYNC) !== 0,
    universe,
    startCode: bytes.readUInt8(DATA.startCode),
    slots: bytes.subarray(DATA.slots),
  };
}

function decodeSync(bytes: Buffer): SacnSync | SacnRejected {
  if (bytes.length < SYNC.end) return rejected('too-short');
  // The packet has no room for more: both lengths are fixed (Appendix B: 33 and 11).
  if (bytes.length > SYNC.end) return rejected('root-length');
  if (!reachesEnd(bytes, FRAMING.flagsAndLength)) return rejected('framing-length');
  const syncAddress = bytes.readUInt16BE(SYNC.syncAddress);
  if (!isUniverse(syncAddress)) return rejected('sync-address-range');
  return {
    kind: 'sync',
    cid: bytes.subarray(ROOT.cid, ROOT.end),
    sequence: bytes.readUInt8(SYNC.sequence),
    syncAddress,
  };
}

function decodeDiscovery(bytes: Buffer): SacnDiscovery | SacnRejected {
  if (bytes.length < DISCOVERY.universes) return rejected('too-short');
  if (!reachesEnd(bytes, FRAMING.flagsAndLength)) return rejected('framing-length');
  const sourceName = readName(bytes, DISCOVERY.sourceName);
  if (sourceName === undefined) return rejected('source-name');
  if (!reachesEnd(bytes, DISCOVERY.listFlagsAndLength)) return rejected('list-length');
  if (bytes.readUInt32BE(DISCOVERY.listVector) !== VECTOR_UNIVERSE_LIST) {
    return rejected('list-vector');
  }
  const page = bytes.readUInt8(DISCOVERY.page);
  const lastPage = bytes.readUInt8(DISCOVERY.lastPage);
  if (page > lastPage) return rejected('page-number');
  const listBytes = bytes.length - DISCOVERY.universes;
  if (listBytes % 2 !== 0 || listBytes > UNIVERSES_PER_PAGE * 2) return rejected('universe-list');
  const universes: number[] = [];
  for (let at: number = DISCOVERY.universes; at < bytes.length; at += 2) {
    const universe = bytes.readUInt16BE(at);
    if (!isUniverse(universe) || universe <= (universes.at(-1) ?? 0)) {
      return rejected('universe-list');
    }
    universes.push(universe);
  }
  return {
    kind: 'discovery',
    cid: bytes.subarray(ROOT.cid, ROOT.end),
    sourceName,
    page,
    lastPage,
    universes,
  };
}

/** Whether the PDU whose flags and length stand at `offset` ends where the packet does. */
function reachesEnd(bytes: Buffer, offset: number): boolean {
  const field = bytes.readUInt16BE(offset);
  return (
    (field & ~PDU_LENGTH_MASK) === PDU_FLAGS && (field & PDU_LENGTH_MASK) === bytes.length - offset
  );
}

function readName(bytes: Buffer, offset: number): string | undefined {
  const nul = bytes.indexOf(0, offset);
  if (nul < 0 || nul >= offset + SOURCE_NAME_BYTES) return undefined;
  return bytes.toString('utf8', offset, nul);
}

function isUniverse(universe: number): boolean {
  return universe >= MIN_UNIVERSE && universe <= MAX_UNIVERSE;
}

function rejected(reason: SacnRejectReason): SacnRejected {
  return { kind: 'rejected', reason };
}
