import type { ShowFile } from '../schema/schema.js';
import { ANYBODY, type PeopleFile } from '../schema/signals.js';

export type MemberKind = 'performers' | 'fixtures';

type Grouped = Pick<ShowFile, 'groups' | MemberKind>;

/** A performer or fixture, and which of the words in the file stands for it. */
export interface Member {
  readonly name: string;
  readonly at: number;
}

/**
 * Names of one kind with each group replaced by its members, in order, each once. Unknown names stay as written, for
 * the cross-checks to find.
 */
export function membersOf(show: Grouped, words: readonly string[], kind: MemberKind): Member[] {
  const found = new Map<string, Member>();
  words.forEach((word, at) => {
    const own = Object.hasOwn(show[kind], word);
    const names = own ? [word] : (groupOf(show, word) ?? [word]);
    for (const name of names) if (!found.has(name)) found.set(name, { name, at });
  });
  return [...found.values()];
}

/** The same as plain names. */
export function namesOf(show: Grouped, words: readonly string[], kind: MemberKind): string[] {
  return membersOf(show, words, kind).map(({ name }) => name);
}

/** Performers for whom a signal, a condition or a mapping asks; nothing said is everybody. */
export function peopleOf(show: Grouped, people: PeopleFile | undefined): string[] {
  if (people === undefined || people === ANYBODY) return Object.keys(show.performers);
  return namesOf(show, typeof people === 'string' ? [people] : people, 'performers');
}

export function groupOf({ groups }: Grouped, word: string): readonly string[] | undefined {
  return Object.hasOwn(groups, word) ? groups[word] : undefined;
}

/** The kind of a group's members; undefined if they are mixed. */
export function kindOfGroup(show: Grouped, group: string): MemberKind | undefined {
  const members = groupOf(show, group) ?? [];
  const all = (kind: MemberKind) => members.every(name => Object.hasOwn(show[kind], name));
  if (all('performers')) return 'performers';
  return all('fixtures') ? 'fixtures' : undefined;
}
