import { writeFileSync } from 'node:fs';
import type { Parsed } from '../../calibration/markers.js';
import { inPlainWords, readText } from '../../daemon/files/read-file.js';

/** Limit for tables of positions: a day of 30 trackers at 100 Hz belongs in a recording. */
export const MAX_TABLE_BYTES = 256 * 1024 * 1024;

/** Reads and parses a file; undefined, with the reasons in `faults`, if it can't be read or parsed. */
export function readParsed<T>(
  file: string,
  parse: (text: string) => Parsed<T>,
  faults: string[],
): T | undefined {
  const read = readText(file, MAX_TABLE_BYTES);
  if (!read.ok) {
    faults.push(`${file} can't be read: ${read.fault}.`);
    return undefined;
  }
  const parsed = parse(read.text);
  if (parsed.ok) return parsed.value;
  for (const fault of parsed.faults) faults.push(`${file}: ${fault}`);
  return undefined;
}

/** Writes a file. @returns why it could not be written, or undefined */
export function writeText(path: string, text: string): string | undefined {
  try {
    writeFileSync(path, text);
    return undefined;
  } catch (error) {
    return inPlainWords(error, 'written');
  }
}
