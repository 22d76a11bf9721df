import { readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { inPlainWords, readBytes } from '../daemon/read-file.js';
import { type PartEnd, type RecordedItem, readPart } from '../recording/decode.js';
import { PART_SUFFIX } from '../recording/layout.js';

/** The parts of a recording, in the order in which they were written. */
export interface RecordingFiles {
  readonly engine: readonly string[];
  readonly supervisor: readonly string[];
}

export type FoundRecording =
  | { readonly ok: true; readonly files: RecordingFiles }
  | { readonly ok: false; readonly fault: string };

/**
 * Finds what is meant: the folder of one run of the daemon, one part of it, or the folder that holds
 * a single one.
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
      fault: `${path} holds ${folders.length} recordings; give one of them, the newest are ${newest}.`,
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

/** A Buffer holds no more; a part ends at 256 MiB, or where `--record-part` says. */
const MOST_PART_BYTES = 2 ** 32 - 1;

/**
 * Reads parts one after the other, each as far as it goes.
 * @param take returns what stands against going on, which ends it
 * @returns the parts that have a rest that could not be read
 */
export function readParts(
  paths: readonly string[],
  take: (item: RecordedItem) => string | undefined,
): { readonly cut: readonly CutPart[]; readonly fault: string | undefined } {
  const cut: CutPart[] = [];
  for (const file of paths) {
    const read = readBytes(file, MOST_PART_BYTES);
    if (!read.ok) return { cut, fault: `${file} can't be read: ${read.fault}.` };
    const { bytes } = read;
    const records = readPart(bytes);
    let next: IteratorResult<RecordedItem, PartEnd> = records.next();
    while (next.done !== true) {
      const fault = take(next.value);
      if (fault !== undefined) return { cut, fault: `${file}: ${fault}.` };
      next = records.next();
    }
    const end = next.value;
    const { fault } = end;
    if (fault !== undefined) {
      cut.push({ file, readBytes: end.readBytes, totalBytes: bytes.length, fault });
    }
  }
  return { cut, fault: undefined };
}
