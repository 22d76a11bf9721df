import { isUtf8 } from 'node:buffer';
import { closeSync, constants, fstatSync, openSync, readSync, type Stats, statSync } from 'node:fs';
import { messageOf } from '../../stage/message-of.js';

export type BytesRead =
  | { readonly ok: true; readonly bytes: Buffer }
  | { readonly ok: false; readonly fault: string; readonly passing?: true };

export type TextRead =
  | { readonly ok: true; readonly text: string }
  | {
      readonly ok: false;
      /** In plain words, to follow "... can't be read: ". */
      readonly fault: string;
      /** It says nothing about the file: another try may read it. */
      readonly passing?: true;
      /** Where it isn't UTF-8: the text with replacement characters, and the place in it. */
      readonly notUtf8?: { readonly text: string; readonly offset: number };
    };

/** A single read takes less than 2 GiB. */
const MOST_AT_ONCE = 2 ** 30;

/**
 * Reads a regular file, and nothing else: a pipe, a device or a socket has no end, or nobody at the other
 * one, and is refused at once. No more is read than the size that is checked first.
 * @param mostBytes larger files are refused unread
 */
export function readBytes(path: string, mostBytes: number): BytesRead {
  let fd: number | undefined;
  try {
    // To open a device can do something already, so it is looked at first.
    const before = faultOfKind(statSync(path), mostBytes);
    if (before !== undefined) return { ok: false, fault: before };
    // It may have become a pipe since: O_NONBLOCK opens one without waiting for a writer.
    fd = openSync(path, constants.O_RDONLY | constants.O_NONBLOCK);
    const stats = fstatSync(fd);
    const fault = faultOfKind(stats, mostBytes);
    if (fault !== undefined) return { ok: false, fault };
    const bytes = Buffer.allocUnsafe(stats.size);
    let read = 0;
    while (read < bytes.length) {
      const count = readSync(fd, bytes, read, Math.min(bytes.length - read, MOST_AT_ONCE), read);
      if (count === 0) break;
      read += count;
    }
    return { ok: true, bytes: bytes.subarray(0, read) };
  } catch (error) {
    const fault = inPlainWords(error, 'read');
    return isPassing(error) ? { ok: false, fault, passing: true } : { ok: false, fault };
  } finally {
    if (fd !== undefined) closeSync(fd);
  }
}

/** Whether there is something of that name; what can't be looked at is there. */
export function isThere(path: string): boolean {
  try {
    return statSync(path, { throwIfNoEntry: false }) !== undefined;
  } catch {
    return true;
  }
}

/** The same as text; what isn't UTF-8 is refused with the place, and not read as something else. */
export function readText(path: string, mostBytes: number): TextRead {
  const read = readBytes(path, mostBytes);
  if (!read.ok) return read;
  const { bytes } = read;
  const text = bytes.toString('utf8');
  if (isUtf8(bytes)) return { ok: true, text };
  const at = firstFault(bytes, text);
  const offset = bytes.toString('utf8', 0, at).length;
  const line = text.slice(0, offset).split('\n').length;
  const byte = (bytes[at] ?? 0).toString(16).toUpperCase().padStart(2, '0');
  const utf16 =
    (bytes[0] === 0xff && bytes[1] === 0xfe) || (bytes[0] === 0xfe && bytes[1] === 0xff);
  const fault = utf16
    ? 'it is UTF-16 text; save it as UTF-8'
    : `it is not UTF-8 text: byte 0x${byte} at offset ${at}, in line ${line}; save it as UTF-8`;
  return { ok: false, fault, notUtf8: { text, offset } };
}

/** Of the machine or the disk, and not of what is at the path. */
const PASSING: ReadonlySet<string> = new Set([
  'EAGAIN',
  'EBUSY',
  'EINTR',
  'EIO',
  'EMFILE',
  'ENFILE',
  'ENOMEM',
  'ESTALE',
  'ETIMEDOUT',
]);

function isPassing(error: unknown): boolean {
  return error instanceof Error && 'code' in error && PASSING.has(String(error.code));
}

/** Why a file can't be read or written, to follow "... can't be read: ". */
export function inPlainWords(error: unknown, verb: 'read' | 'written'): string {
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  if (code === 'ENOENT') {
    return verb === 'read' ? 'there is no such file' : 'there is no such folder';
  }
  if (code === 'EACCES' || code === 'EPERM') {
    return verb === 'read' ? 'this user may not read it' : 'this user may not write there';
  }
  return FAULTS[code] ?? messageOf(error);
}

/** The same, followed by the system's own words, to look them up. */
export function plainAndRaw(error: unknown, verb: 'read' | 'written'): string {
  const [plain, raw] = [inPlainWords(error, verb), messageOf(error)];
  return plain === raw ? raw : `${plain} (${raw})`;
}

const FAULTS: Readonly<Record<string, string>> = {
  ENOTDIR: 'a part of its path is not a folder',
  EISDIR: 'that is a folder',
  EEXIST: 'it is there already',
  ELOOP: 'its symbolic links form a loop',
  ENAMETOOLONG: 'its name is too long',
  ENOSPC: 'the disk is full',
  EDQUOT: "this user's share of the disk is full",
  EROFS: 'the disk is read-only',
  EIO: 'the disk reports a fault',
  ENOMEM: 'the machine has no memory left',
  EMFILE: 'too many files are open',
  ENFILE: 'too many files are open',
  EFBIG: 'the file is larger than this user or this disk allows',
  ESTALE: 'the network disk that it was on is gone',
  ETIMEDOUT: 'the network disk does not answer',
  ENODEV: 'its disk is gone',
  ENXIO: 'its disk is gone',
};

function faultOfKind(stats: Stats, mostBytes: number): string | undefined {
  if (stats.isDirectory()) return 'that is a folder';
  if (stats.isFIFO()) return 'that is a pipe (FIFO), not a file';
  if (stats.isSocket()) return 'that is a socket, not a file';
  if (!stats.isFile()) return 'that is a device, not a file';
  if (stats.size <= mostBytes) return undefined;
  return `it has ${sizeText(stats.size)}, and at most ${sizeText(mostBytes)} are read`;
}

function sizeText(bytes: number): string {
  const unit = bytes >= 2 ** 30 ? 'GiB' : bytes >= 2 ** 20 ? 'MiB' : 'bytes';
  const size = unit === 'GiB' ? bytes / 2 ** 30 : unit === 'MiB' ? bytes / 2 ** 20 : bytes;
  return `${Number(size.toFixed(1))} ${unit}`;
}

/** Offset of the first byte that isn't UTF-8: where a replacement character stands that isn't in the bytes. */
function firstFault(bytes: Buffer, text: string): number {
  let at = 0;
  let before = 0;
  for (;;) {
    const next = text.indexOf('\ufffd', before);
    if (next < 0) return at;
    at += Buffer.byteLength(text.slice(before, next));
    if (bytes.toString('latin1', at, at + 3) !== REPLACEMENT) return at;
    at += REPLACEMENT.length;
    before = next + 1;
  }
}

/** U+FFFD in UTF-8, byte by byte. */
const REPLACEMENT = '\xef\xbf\xbd';
