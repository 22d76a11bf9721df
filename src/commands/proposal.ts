import { writeFileSync } from 'node:fs';
import { isAbsolute, relative } from 'node:path';
import { type Change, proposeChanges } from '../show/propose.js';
import type { LoadedShow } from './show-file.js';
import { complain, print, styled } from './terminal.js';

/** A change of a show file that the user looks at and applies: it is never written for them. */
export interface ProposedChange {
  /** As a unified diff; empty where the show says it already. */
  readonly patch: string;
}

/** @returns the change, or in plain words why there is none */
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
    if (!quiet) print('The show says so already: nothing to change.');
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
  if (!writeNew(patchFile, patch, '--patch')) return false;
  if (!quiet) {
    print(`The proposed change is in ${patchFile}. Look at it, and apply it with`);
    print(`  patch ${quoted(show)} ${quoted(patchFile)}`);
  }
  return true;
}

/** Writes a file that is not there yet. */
export function writeNew(file: string, text: string, option: string): boolean {
  try {
    writeFileSync(file, text, { flag: 'wx' });
    return true;
  } catch (error) {
    const { code, message } = error as NodeJS.ErrnoException;
    const why = code === 'EEXIST' ? 'it is there already, and nothing is overwritten' : message;
    complain(`${option} ${file}: ${why}.`);
    return false;
  }
}

/** Relative to where we are: \`patch\` refuses names from the root, and git those outside. */
function patchName(file: string): string {
  return isAbsolute(file) ? relative(process.cwd(), file) : file;
}

function quoted(text: string): string {
  return /^[\w./+-]+$/.test(text) ? text : `'${text.replaceAll("'", "'\\''")}'`;
}
