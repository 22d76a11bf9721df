import { OSC_LIBRARY_OPTIONS, type OscArgument, oscLibrary } from './library.js';
import { isEarlier, type OscTimeTag, timeTagFromNtp } from './timetag.js';

export const OSC_REJECT_REASONS = [
  /** More bytes than the limit allows. */
  'too-long',
  /** Every OSC packet is a multiple of 4 bytes. */
  'not-multiple-of-4',
  /** Begins with neither `/` nor `#bundle` and its NUL. */
  'not-osc',
  /** A bundle too short for its head, or an element size that is not a positive multiple of 4 in bounds. */
  'bundle-structure',
  'bundle-too-deep',
  /** An enclosed bundle is timed before the one around it. */
  'time-tag-order',
  /** A string without its NUL, an argument past the end, bytes left over, or an unbalanced array. */
  'message-malformed',
  'unknown-type-tag',
  /** Arrays in arrays are legal OSC that no position feed uses. */
  'nested-array',
  'too-many-brackets',
] as const;
export type OscRejectReason = (typeof OSC_REJECT_REASONS)[number];

export interface OscLimits {
  /** Datagrams above this are refused unread; never more than {@link MAX_DATAGRAM_BYTES}. */
  readonly maxDatagramBytes: number;
  /** How many bundles may enclose a message. */
  readonly maxBundleDepth: number;
}

/** Bounds the time that one datagram can cost: 1022 messages of 8 bytes at the most. */
export const MAX_DATAGRAM_BYTES = 8192;
/** 1472 = Ethernet's 1500 less 20 (IPv4) and 8 (UDP): what arrives in one piece. */
export const DEFAULT_OSC_LIMITS: OscLimits = { maxDatagramBytes: 1472, maxBundleDepth: 8 };
/**
 * The library copies the rest of the type tags at every `[`. Counted in the type tags only: floats
 * hold the byte 0x5b by chance, and a large bundle would be refused for it now and then.
 */
const MAX_BRACKETS = 16;

/** Receives what {@link decodeDatagram} finds, in the order of the datagram. */
export interface OscVisitor {
  /** A message outside a bundle is tagged "immediately". Arguments own their memory. */
  message(address: string, args: readonly OscArgument[], timeTag: OscTimeTag): void;
  /** A datagram, bundle or message was dropped. Its neighbours in the bundle are still delivered. */
  rejected(reason: OscRejectReason): void;
}

/** Bundles in each other: no sender needs more. */
export const MAX_BUNDLE_DEPTH = 8;

const FLOAT = 0x66; // f
const INT = 0x69; // i
const DOUBLE = 0x64; // d
const SLASH = 0x2f;
const COMMA = 0x2c;
const BUNDLE_HEAD = [0x23, 0x62, 0x75, 0x6e, 0x64, 0x6c, 0x65, 0x00]; // "#bundle" and its NUL
const BUNDLE_TIME_TAG = 8;
const BUNDLE_ELEMENTS = 16;
const ELEMENT_SIZE_BYTES = 4;
const NO_ARGUMENTS: readonly OscArgument[] = [];

/**
 * Decodes an OSC 1.0 datagram. Never throws (unless the visitor does) and calls the visitor for every
 * message and every rejection. All lengths and type tags are checked here before the library reads a
 * message, so that it can neither read outside a bundle element nor take more than linear time.
 *
 * Tolerated: no type tag string (OSC 1.0 asks receivers to; the message then has no arguments) and
 * padding that is not zero.
 */
export function decodeDatagram(bytes: Buffer, limits: OscLimits, visitor: OscVisitor): void {
  const length = bytes.length;
  if (length > Math.min(limits.maxDatagramBytes, MAX_DATAGRAM_BYTES)) visitor.rejected('too-long');
  else if (length % 4 !== 0) visitor.rejected('not-multiple-of-4');
  else decodePacket(bytes, 0, length, 'immediately', 0, limits.maxBundleDepth, visitor);
}

/** One message or bundle in `bytes[start, end)`; both are multiples of 4. */
function decodePacket(
  bytes: Buffer,
  start: number,
  end: number,
  outerTag: OscTimeTag,
  depth: number,
  maxDepth: number,
  visitor: OscVisitor,
): void {
  if (start < end && bytes[start] === SLASH) decodeMessage(bytes, start, end, outerTag, visitor);
  else if (!isBundle(bytes, start, end)) visitor.rejected('not-osc');
  else if (end - start < BUNDLE_ELEMENTS) visitor.rejected('bundle-structure');
  else if (depth === maxDepth) visitor.rejected('bundle-too-deep');
  else decodeBundle(bytes, start, end, outerTag, depth + 1, maxDepth, visitor);
}

function isBundle(bytes: Buffer, start: number, end: number): boolean {
  if (end - start < BUNDLE_HEAD.length) return false;
  for (let i = 0; i < BUNDLE_HEAD.length; i++) {
    if (bytes[start + i] !== BUNDLE_HEAD[i]) return false;
  }
  return true;
}

function decodeBundle(
  bytes: Buffer,
  start: number,
  end: number,
  outerTag: OscTimeTag,
  depth: number,
  maxDepth: number,
  visitor: OscVisitor,
): void {
  const tagAt = start + BUNDLE_TIME_TAG;
  const timeTag = timeTagFromNtp(bytes.readUInt32BE(tagAt), bytes.readUInt32BE(tagAt + 4));
  if (isEarlier(timeTag, outerTag)) {
    visitor.rejected('time-tag-order');
    return;
  }
  let at = start + BUNDLE_ELEMENTS;
  while (at < end) {
    const size = bytes.readInt32BE(at);
    const from = at + ELEMENT_SIZE_BYTES;
    if (size <= 0 || size % 4 !== 0 || size > end - from) {
      // The rest can't be framed any more; what came before it was.
      visitor.rejected('bundle-structure');
      return;
    }
    at = from + size;
    decodePacket(bytes, from, at, timeTag, depth, maxDepth, visitor);
  }
}

function decodeMessage(
  bytes: Buffer,
  start: number,
  end: number,
  timeTag: OscTimeTag,
  visitor: OscVisitor,
): void {
  const addressEnd = findNul(bytes, start, end);
  if (addressEnd < 0) {
    visitor.rejected('message-malformed');
    return;
  }
  const tagsAt = afterString(addressEnd);
  if (tagsAt >= end || bytes[tagsAt] !== COMMA) {
    visitor.message(bytes.toString('utf8', start, addressEnd), NO_ARGUMENTS, timeTag);
    return;
  }
  const shape = checkArguments(bytes, tagsAt, end);
  if (shape === 'numbers') {
    const address = bytes.toString('utf8', start, addressEnd);
    visitor.message(address, readNumbers(bytes, tagsAt), timeTag);
    return;
  }
  if (shape !== 'plain' && shape !== 'views-memory') {
    visitor.rejected(shape);
    return;
  }
  const message = readWithLibrary(bytes, start, end, shape === 'views-memory');
  if (message === undefined) visitor.rejected('message-malformed');
  else visitor.message(message.address, message.args, timeTag);
}

/**
 * Walks type tags and argument sizes without building anything. 'numbers': none but f, i and d. 'views-memory': the
 * library would return views of the datagram's memory at the wrong offset for one of the arguments.
 */
function checkArguments(
  bytes: Buffer,
  tagsAt: number,
  end: number,
): 'numbers' | 'plain' | 'views-memory' | OscRejectReason {
  const tagsEnd = findNul(bytes, tagsAt, end);
  if (tagsEnd < 0) return 'message-malformed';
  let at = afterString(tagsEnd);
  let isNumbers = true;
  let viewsMemory = false;
  let inArray = false;
  let brackets = 0;
  for (let i = tagsAt + 1; i < tagsEnd; i++) {
    switch (bytes[i]) {
      case FLOAT:
      case INT:
        at += 4;
        continue;
      case DOUBLE:
        at += 8;
        continue;
      case 0x63: // c
        at += 4;
        break;
      case 0x68: // h
      case 0x74: // t
        at += 8;
        break;
      case 0x6d: // m
      case 0x72: // r
        viewsMemory = true;
        at += 4;
        break;
      case 0x73: // s
      case 0x53: {
        const stringEnd = findNul(bytes, at, end);
        if (stringEnd < 0) return 'message-malformed';
        at = afterString(stringEnd);
        break;
      }
      case 0x62: {
        // b
        viewsMemory = true;
        if (at + 4 > end) return 'message-malformed';
        const size = bytes.readInt32BE(at);
        if (size < 0 || size > end - at - 4) return 'message-malformed';
        at += 4 + ((size + 3) & ~3);
        break;
      }
      case 0x54: // T
      case 0x46: // F
      case 0x4e: // N
      case 0x49: // I
        break;
      case 0x5b: // [
        if (inArray) return 'nested-array';
        if (++brackets > MAX_BRACKETS) return 'too-many-brackets';
        inArray = true;
        break;
      case 0x5d: // ]
        if (!inArray) return 'message-malformed';
        inArray = false;
        break;
      default:
        return 'unknown-type-tag';
    }
    isNumbers = false;
  }
  if (at !== end || inArray) return 'message-malformed';
  if (isNumbers) return 'numbers';
  return viewsMemory ? 'views-memory' : 'plain';
}

/** Nearly all that a tracking system sends; the library takes five times as long. Sizes have been checked. */
function readNumbers(bytes: Buffer, tagsAt: number): OscArgument[] {
  const args: OscArgument[] = [];
  let end = tagsAt + 1;
  while (bytes[end] !== 0) end += 1;
  let at = afterString(end);
  for (let i = tagsAt + 1; i < end; i++) {
    switch (bytes[i]) {
      case FLOAT:
        args.push({ type: 'f', value: bytes.readFloatBE(at) });
        at += 4;
        break;
      case INT:
        args.push({ type: 'i', value: bytes.readInt32BE(at) });
        at += 4;
        break;
      default:
        args.push({ type: 'd', value: bytes.readDoubleBE(at) });
        at += 8;
    }
  }
  return args;
}

function readWithLibrary(bytes: Buffer, start: number, end: number, copy: boolean) {
  try {
    if (!copy) return oscLibrary().readMessage(bytes, OSC_LIBRARY_OPTIONS, { idx: start });
    const own = new Uint8Array(end - start);
    own.set(bytes.subarray(start, end));
    return oscLibrary().readMessage(own, OSC_LIBRARY_OPTIONS, { idx: 0 });
  } catch {
    // Not reached by anything the walk above lets through; kept because the library may change.
    return undefined;
  }
}

/** Index of the first NUL in `bytes[from, end)`, or -1. */
function findNul(bytes: Buffer, from: number, end: number): number {
  for (let i = from; i < end; i++) {
    if (bytes[i] === 0) return i;
  }
  return -1;
}

/** Start of what follows a string whose NUL is at `nul`. Packets start at multiples of 4, so this is absolute. */
function afterString(nul: number): number {
  return (nul + 4) & ~3;
}
