import { readFileSync, writeFileSync } from 'node:fs';
import type { Parsed } from '../calibration/markers.js';
import { messageOf } from '../stage/message-of.js';

/** What a file holds; undefined, with the reasons in `faults`, where it can't be read or parsed. */
export function readParsed<T>(
  file: string,
  parse: (text: string) => Parsed<T>,
  faults: string[],
): T | undefined {
  let text: string;
  try {
    text = readFileSync(file, 'utf8');
  } catch (error) {
    faults.push(`${file} can't be read: ${messageOf(error)}.`);
    return undefined;
  }
  const parsed = parse(text);
  if (parsed.ok) return parsed.value;
  for (const fault of parsed.faults) faults.push(`${file}: ${fault}`);
  return undefined;
}

/** @returns why it could not be written, or undefined */
export function writeText(path: string, text: string): string | undefined {
  try {
    writeFileSync(path, text);
    return undefined;
  } catch (error) {
    return messageOf(error);
  }
}
