import { enumerated } from '../../stage/enumerated.js';
import { meant, suggestion } from './problem.js';

/** Anything in a show that has a name, and a label that people use. */
export interface Named {
  readonly name: string;
  readonly label?: string | undefined;
}

/** By name, by label, or by one of them in upper or lower case, if only one matches. */
export function findNamed<T extends Named>(word: string, all: readonly T[]): T | undefined {
  return (
    all.find(({ name }) => name === word) ??
    only(all.filter(({ label }) => label === word)) ??
    only(all.filter(({ name, label = name }) => [name, label].map(plain).includes(plain(word))))
  );
}

/** `' Did you mean "nora"?'` for a slip, for upper or lower case, or for the label "Nora Lind"; otherwise `''`. */
export function nameMeant(word: string, all: readonly Named[]): string {
  const found = findNamed(word, all);
  if (found !== undefined) return suggestion(found.name, [found.name]);
  const names = all.map(({ name }) => name);
  if (meant(word, names) !== undefined) return suggestion(word, names);
  const label = meant(
    word,
    all.map(one => one.label ?? one.name),
  );
  const near = all.find(one => (one.label ?? one.name) === label);
  return near === undefined ? '' : suggestion(near.name, [near.name]);
}

/** The same with all existing names, for somebody who typed it. */
export function nameAdvice(word: string, all: readonly Named[]): string {
  return `${nameMeant(word, all)} The show has ${enumerated(all.map(({ name }) => name))}.`;
}

function plain(text: string): string {
  return text.trim().toLowerCase().replace(/\s+/g, ' ');
}

function only<T>(list: readonly T[]): T | undefined {
  return list.length === 1 ? list[0] : undefined;
}
