import type { FixturePlan, PerformerPlan, Show } from './model.js';

/** A head that chooses whom it is on, by any of its mappings; and on whom it may be, in the order of the show. */
export interface ChoosingHead {
  readonly name: string;
  readonly label: string;
  readonly people: readonly PerformerPlan[];
}

/** In the order of the show. */
export function choosingHeads({ mappings, fixtures, performers }: Show): ChoosingHead[] {
  const peopleOf = new Map<number, Set<number>>();
  for (const one of mappings) {
    if (one.kind !== 'follow' || one.choice === undefined || one.choice.rule.kind === 'middle') {
      continue;
    }
    for (const head of one.heads) {
      const people = peopleOf.get(head) ?? new Set();
      for (const who of one.choice.people) people.add(who);
      peopleOf.set(head, people);
    }
  }
  return fixtures.flatMap(({ name, label }: FixturePlan, index): ChoosingHead[] => {
    const people = peopleOf.get(index);
    if (people === undefined) return [];
    return [{ name, label, people: performers.filter((_, p) => people.has(p)) }];
  });
}
