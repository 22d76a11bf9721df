import { closest, distance } from 'fastest-levenshtein';
import { enumerated } from '../../stage/enumerated.js';
import { printable } from '../../stage/printable.js';
import type { ProblemCode } from './codes.js';
import type { WarningCode } from './warning-codes.js';

/** One thing that is wrong with a show file, or questionable, and where. */
export interface Problem {
  readonly code: ProblemCode | WarningCode;
  /** What is wrong and what would be right, one sentence or two. */
  readonly message: string;
  readonly file: string;
  /** Counted from 1; 0: it has no place in the file. */
  readonly line: number;
  /** Counted from 1, in characters. */
  readonly column: number;
  /** The line as it stands in the file, and below it a mark under the place. */
  readonly excerpt: string;
  /** Other places with the same wrong name; left out if there are none. */
  readonly also?: readonly { readonly line: number; readonly column: number }[];
}

/** Where in the parsed file something is: keys and indices from the top. */
export type Path = readonly (string | number)[];

/** A problem before it has been given its place in the text. */
export interface Finding {
  readonly code: ProblemCode | WarningCode;
  readonly message: string;
  readonly path: Path;
  /** Mark the key itself, not its value. */
  readonly atKey?: boolean;
}

/** The candidate that is near enough for the word to be a typing slip, if any. */
export function meant(word: string, candidates: readonly string[]): string | undefined {
  const lower = word.toLowerCase();
  const sameLetters = candidates.find(candidate => candidate.toLowerCase() === lower);
  if (sameLetters !== undefined || candidates.length === 0) return sameLetters;
  const nearest = closest(word, [...candidates]);
  const slips = distance(lower, nearest.toLowerCase());
  // Two swapped letters count as two slips; with more than a third changed it is another word.
  return slips < word.length && slips <= Math.max(2, word.length / 3) ? nearest : undefined;
}

/** `' Did you mean "x"?'` where a candidate is near enough, else `''`. */
export function suggestion(word: string, candidates: readonly string[]): string {
  const nearest = meant(word, candidates);
  return nearest === undefined ? '' : ` Did you mean "${nearest}"?`;
}

/** `"a", "b" or "c"`; at most `most` of them. */
export function listed(words: readonly string[], most = 12): string {
  const shown = words.slice(0, most).map(quoted);
  if (words.length > most) return `${shown.join(', ')} and ${words.length - most} more`;
  const last = shown.pop();
  return shown.length === 0 ? (last ?? 'none') : `${shown.join(', ')} or ${last}`;
}

/** In quotes, except numbers. */
function quoted(word: string): string {
  return word !== '' && Number.isFinite(Number(word)) ? word : `"${word}"`;
}

/** A wrong name in several places is one error, at the first of them. Expects them in file order. */
export function sameNamesTogether(problems: readonly Problem[]): Problem[] {
  const first = new Map<string, number>();
  const kept: Problem[] = [];
  for (const problem of problems) {
    const { code, file, message, line, column } = problem;
    const key = JSON.stringify([file, message]);
    const at = code === 'unknown-name' ? first.get(key) : undefined;
    const before = kept[at ?? -1];
    if (at === undefined || before === undefined) {
      first.set(key, kept.length);
      kept.push(problem);
    } else kept[at] = { ...before, also: [...(before.also ?? []), { line, column }] };
  }
  return kept;
}

/** As `file:line:column: message [code]` with the excerpt below, for a terminal. */
export function formatProblem(problem: Problem): string {
  const { file, line, column, message, code, excerpt, also = [] } = problem;
  const place = line === 0 ? '' : `:${line}:${column}`;
  const said = `${printable(file)}${place}: ${message} [${code}]`;
  // If a file can't be read, there is no line to show.
  const shown = excerpt === '' ? said : `${said}\n${excerpt}`;
  if (also.length === 0) return shown;
  const places = also.map(one => `${one.line}:${one.column}`);
  return `${shown}\n  the same at ${enumerated(places, 12)}`;
}
