import type { FixturePlan, PerformerPlan, Show } from './model.js';

/** A head that chooses whom it is on, by any of its mappings; and on whom it may be, in the order of the show. */
export interface ChoosingHead {
  readonly name: string;
  readonly label: string;
  readonly people: readonly PerformerPlan[];
}

/** In the order of the show. */
export function choosingHeads({ mappings, fixtures, performers }: Show): ChoosingHead[] {
  return fixtures.flatMap(({ name, label }: FixturePlan, index): ChoosingHead[] => {
    const people = new Set(
      mappings.flatMap(one =>
        one.kind === 'follow' && one.heads.includes(index) && one.choice?.rule.kind !== 'middle'
          ? (one.choice?.people ?? [])
          : [],
      ),
    );
    if (people.size === 0) return [];
    return [{ name, label, people: performers.filter((_, p) => people.has(p)) }];
  });
}
