import { driversOf, mappingsOf } from './basis.js';
import type { Show } from './model.js';

interface Elsewhere {
  readonly of: ReadonlyMap<number, readonly string[]>;
  readonly everybody: readonly string[];
}

/** Computed once for each show, which never changes: every status asks. */
const known = new WeakMap<Show, Elsewhere>();

/**
 * Names of the outputs of other machines (`run --outputs`) whose light a performer drives in any cue: orders to this
 * machine don't reach them.
 * @param performer index; undefined: everybody, with light without a performer and hazardous outputs
 */
export function litElsewhere(show: Show, performer: number | undefined): readonly string[] {
  if (show.share === undefined) return [];
  const there = known.get(show) ?? find(show);
  known.set(show, there);
  return performer === undefined ? there.everybody : (there.of.get(performer) ?? []);
}

/** Names of the outputs of other machines that send any of these universes, given by index. */
export function sentElsewhere(show: Show, universes: ReadonlySet<number>): readonly string[] {
  const sends = show.share?.others ?? [];
  return sends
    .filter(one => one.universes.some(({ index }) => universes.has(index)))
    .map(({ name }) => name);
}

function find(show: Show): Elsewhere {
  const all = new Set<number>();
  const of = new Map<number, Set<number>>();
  for (const [index, { hazards, universe }] of show.fixtures.entries()) {
    const isHazardous = hazards.some(one => one !== 'ordinary');
    if (isHazardous || mappingsOf(show.mappings, index).length > 0) all.add(universe);
    for (const performer of driversOf(show, index)) {
      of.set(performer, (of.get(performer) ?? new Set()).add(universe));
    }
  }
  return {
    of: new Map([...of].map(([performer, on]) => [performer, sentElsewhere(show, on)])),
    everybody: sentElsewhere(show, all),
  };
}
