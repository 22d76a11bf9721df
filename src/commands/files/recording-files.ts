import { readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { inPlainWords, readBytes } from '../../daemon/files/read-file.js';
import { type PartEnd, type RecordedItem, readPart } from '../../recording/decode.js';
import { MAGIC, PART_SUFFIX } from '../../recording/layout.js';
import { readStart, type Start } from '../../recording/start.js';

/** The parts of a recording, in the order in which they were written. */
export interface RecordingFiles {
  readonly engine: readonly string[];
  readonly supervisor: readonly string[];
}

export type FoundRecording =
  | { readonly ok: true; readonly files: RecordingFiles }
  | { readonly ok: false; readonly fault: string };

/**
 * Finds a recording by the folder of one run of the daemon, by one part of it, or by a folder that holds
 * a single run.
 */
export function findRecording(path: string): FoundRecording {
  try {
    if (!statSync(path).isDirectory()) return { ok: true, files: sorted([path]) };
    const here = partsIn(path);
    if (here.length > 0) return { ok: true, files: sorted(here) };
    const folders = readdirSync(path)
      .map(name => join(path, name))
      .filter(one => statSync(one).isDirectory() && partsIn(one).length > 0);
    const [only] = folders;
    if (folders.length === 1 && only !== undefined) {
      return { ok: true, files: sorted(partsIn(only)) };
    }
    if (folders.length === 0) {
      return { ok: false, fault: `there is no recording in ${path}: no file *${PART_SUFFIX}.` };
    }
    const newest = folders.sort().slice(-5).join(', ');
    return {
      ok: false,
      fault: `${path} holds ${folders.length} recordings; give one of them. The newest are ${newest}.`,
    };
  } catch (error) {
    const why = inPlainWords(error, 'read').replace('such file', 'such file or folder');
    return { ok: false, fault: `${path} can't be read: ${why}.` };
  }
}

function partsIn(folder: string): string[] {
  return readdirSync(folder)
    .filter(name => name.endsWith(PART_SUFFIX))
    .map(name => join(folder, name));
}

function sorted(paths: readonly string[]): RecordingFiles {
  const ordered = [...paths].sort();
  const isSupervisor = (path: string) => /supervisor-\d+\.[a-z]+$/.test(path);
  return {
    engine: ordered.filter(path => !isSupervisor(path)),
    supervisor: ordered.filter(isSupervisor),
  };
}

export interface CutPart {
  readonly file: string;
  readonly readBytes: number;
  readonly totalBytes: number;
  readonly fault: string;
}

export interface PartsRead {
  /** The parts of which not all could be read. */
  readonly cut: readonly CutPart[];
  /** Parts that were begun and hold no record at all: the disk took nothing. */
  readonly empty: readonly string[];
  /** The last part is one of these: the recording ended before what it recorded did. */
  readonly endsEmpty: boolean;
  readonly fault: string | undefined;
}

/** The most that a Buffer holds; parts end long before, at 256 MiB or at `--record-part`. */
const MOST_PART_BYTES = 2 ** 32 - 1;

/**
 * Reads parts one after the other, each as far as it is whole. The first record of a part holds the show; if it
 * is damaged, that of another part is used.
 * @param take returns a reason to stop reading, or undefined
 * @param beside parts that are not read, but may have the show
 */
export function readParts(
  paths: readonly string[],
  take: (item: RecordedItem) => string | undefined,
  beside: readonly string[] = [],
): PartsRead {
  const cut: CutPart[] = [];
  const empty: string[] = [];
  const soFar = (fault?: string): PartsRead => ({
    cut,
    empty,
    endsEmpty: empty.length > 0 && empty.at(-1) === paths.at(-1),
    fault,
  });
  for (const [index, file] of paths.entries()) {
    const read = readBytes(file, MOST_PART_BYTES);
    if (!read.ok) return soFar(`${file} can't be read: ${read.fault}.`);
    const { bytes } = read;
    const records = readPart(bytes);
    let started = false;
    let next: IteratorResult<RecordedItem, PartEnd> = records.next();
    // A full disk leaves nothing of a part, or some of its first record.
    if (next.done === true && MAGIC.every((byte, i) => i >= bytes.length || bytes[i] === byte)) {
      empty.push(file);
      continue;
    }
    while (next.done !== true) {
      const item = next.value;
      if (!started && item.type !== 'start') {
        const start = startInstead(item, paths.slice(index + 1), [
          ...paths.slice(0, index).reverse(),
          ...beside,
        ]);
        if (start !== undefined) take(start);
        started = start !== undefined;
      }
      started ||= item.type === 'start';
      const fault = take(item);
      if (fault !== undefined) return soFar(`${file}: ${fault}.`);
      next = records.next();
    }
    const end = next.value;
    const fault =
      end.fault !== undefined && !started && end.readBytes > MAGIC.length
        ? `${end.fault}; no other part of this recording says what the show was`
        : end.fault;
    if (fault !== undefined) {
      cut.push({ file, readBytes: end.readBytes, totalBytes: bytes.length, fault });
    }
  }
  return soFar();
}

/**
 * For a part whose first record is damaged: the first record of another part, with the tick and the time of what
 * follows in this one.
 * @param item the next record; if it has no tick and time, undefined is returned
 */
function startInstead(
  item: RecordedItem,
  later: readonly string[],
  earlier: readonly string[],
): RecordedItem | undefined {
  if (item.type !== 'absorb' && item.type !== 'tick') return undefined;
  const { tick, nowS, unixOffsetS } = item;
  for (const [index, file] of [...later, ...earlier].entries()) {
    const start = startOf(file);
    if (start === undefined) continue;
    // A run continues from part to part, and begins with tick 0.
    const isSameRun =
      start.by === 'engine' && tick > 0 && (index >= later.length || start.tick > tick);
    const run = isSameRun ? start.run : `${start.run}, tick ${tick} at ${nowS} s`;
    return { type: 'start', value: { ...start, by: 'engine', run, tick, atS: nowS, unixOffsetS } };
  }
  return undefined;
}

function startOf(file: string): Start | undefined {
  const read = readBytes(file, MOST_PART_BYTES);
  if (!read.ok) return undefined;
  const first = readPart(read.bytes).next();
  return first.done !== true && first.value.type === 'start'
    ? readStart(first.value.value)
    : undefined;
}
