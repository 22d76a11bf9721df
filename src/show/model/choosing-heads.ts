import { mappingTitle } from './mapping-words.js';
import type { FixturePlan, FollowMappingPlan, PerformerPlan, Show } from './model.js';

/** A head that chooses whom it follows, by any of its mappings; and whom it may be on, in the order of the show. */
export interface ChoosingHead {
  readonly name: string;
  readonly label: string;
  readonly people: readonly PerformerPlan[];
}

/** In the order of the show. */
export function choosingHeads({ mappings, fixtures, performers }: Show): ChoosingHead[] {
  const peopleOf = new Map<number, Set<number>>();
  for (const one of mappings) {
    if (one.kind !== 'follow') continue;
    const choosable = choosableBy(one);
    if (choosable === undefined) continue;
    for (const head of one.heads) {
      const people = peopleOf.get(head) ?? new Set();
      for (const who of choosable) people.add(who);
      peopleOf.set(head, people);
    }
  }
  return fixtures.flatMap(({ name, label }: FixturePlan, index): ChoosingHead[] => {
    const people = peopleOf.get(index);
    if (people === undefined) return [];
    return [{ name, label, people: performers.filter((_, p) => people.has(p)) }];
  });
}

/** The performers a head chooses from by this mapping; undefined: it doesn't choose. */
function choosableBy({ choice }: FollowMappingPlan): readonly number[] | undefined {
  return choice === undefined || choice.rule.kind === 'middle' ? undefined : choice.people;
}

/** A head that is pinned to somebody, in a cue with a mapping that the pin does not affect. */
export interface IdlePin {
  /** Title of the mapping by which it follows there; undefined: it follows nobody. */
  readonly mapping: string | undefined;
}

/**
 * What a pin does in a cue.
 * @param head name of a fixture
 * @param cue index, -1 in a show without cues
 * @returns undefined: the head goes to them
 */
export function idlePinIn(
  show: Show,
  head: string,
  performer: string,
  cue: number,
): IdlePin | undefined {
  const whom = show.performers.findIndex(({ name }) => name === performer);
  return metIn(show, head, cue, people => people.includes(whom));
}

/** What an unpinned head does in a cue in which it has no choice. @returns undefined: it chooses there */
export function unchosenIn(show: Show, head: string, cue: number): IdlePin | undefined {
  return metIn(show, head, cue, () => true);
}

/** The mapping by which a head follows in a cue, unless it chooses there among the right people. */
function metIn(
  show: Show,
  head: string,
  cue: number,
  isRight: (people: readonly number[]) => boolean,
): IdlePin | undefined {
  const index = followIn(show, head, cue);
  const mapping = show.mappings[index];
  if (mapping?.kind !== 'follow') return { mapping: undefined };
  const people = choosableBy(mapping);
  return people !== undefined && isRight(people)
    ? undefined
    : { mapping: mappingTitle(show, index) };
}

/** Index of the mapping by which a head follows in a cue, -1 for none. */
export function followIn(show: Show, head: string, cue: number): number {
  const fixture = show.fixtures.findIndex(({ name }) => name === head);
  const levels = show.cues[cue]?.levels;
  return show.mappings.findIndex(
    (one, of) => one.kind === 'follow' && one.heads.includes(fixture) && (levels?.[of] ?? 1) > 0,
  );
}

/** `follows Ines, where a pin to Tobias changes nothing`: what the head does in that cue. */
export function idlePinInWords({ mapping }: IdlePin, performer: string): string {
  return mapping === undefined
    ? 'it follows nobody'
    : `it follows by the mapping "${mapping}", and a pin to ${performer} changes nothing`;
}
