import { isAbsolute, relative } from 'node:path';
import { type Change, proposeChanges } from '../../editing/propose.js';
import { complain, print, styled } from '../terminal/terminal.js';
import { writeText } from '../terminal/text-files.js';
import type { LoadedShow } from './show-file.js';

/** A proposed change of a show file. The user reads and applies it: the show file is never written for them. */
export interface ProposedChange {
  /** A unified diff; empty if the show already has these values. */
  readonly patch: string;
}

/** @returns the change, or a message that says why there is none */
export function proposalFor(
  { text, parts }: Pick<LoadedShow, 'text' | 'parts'>,
  file: string,
  changes: readonly Change[],
): ProposedChange | string {
  const proposal = proposeChanges(text, patchName(file), changes, parts);
  return proposal.ok ? { patch: proposal.patch } : proposal.why;
}

/**
 * Prints the diff, or writes it to a new file, and says how it is applied.
 * @returns whether all went well
 */
export function handOver(
  { patch }: ProposedChange,
  show: string,
  patchFile: string | undefined,
  quiet: boolean,
): boolean {
  if (patch === '') {
    if (!quiet) print('The show already has these values: nothing to change.');
    return true;
  }
  if (patchFile === undefined) {
    if (!quiet) {
      print(styled('bold', 'Proposed change (nothing has been written; --patch FILE saves it):'));
      print('');
      print(patch.trimEnd());
    }
    return true;
  }
  if (!writeFor(patchFile, patch, '--patch')) return false;
  if (!quiet) {
    print(`The proposed change is in ${patchFile}. Look at it, and apply it with`);
    print(`  patch ${quoted(show)} ${quoted(patchFile)}`);
  }
  return true;
}

/** Writes a file; `dispatch` has already refused to replace one without --force. */
export function writeFor(file: string, text: string, option: string): boolean {
  const why = writeText(file, text);
  if (why === undefined) return true;
  complain(`${option} ${file}: ${why}.`);
  return false;
}

/** The path relative to the current folder: `patch` refuses absolute paths, and git those outside. */
function patchName(file: string): string {
  return isAbsolute(file) ? relative(process.cwd(), file) : file;
}

function quoted(text: string): string {
  return /^[\w./+-]+$/.test(text) ? text : `'${text.replaceAll("'", "'\\''")}'`;
}
