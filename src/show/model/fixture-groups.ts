import type { FixtureGroupPlan, Show } from './model.js';

/** What a person may call one fixture or several by: fixtures first, then groups, in the order of the show. */
export function fixtureNames({
  fixtures,
  groups,
}: Pick<Show, 'fixtures' | 'groups'>): FixtureGroupPlan[] {
  const single = fixtures.map(({ name, label }, index) => ({ name, label, fixtures: [index] }));
  return [...single, ...groups];
}

/** Whether there is a fixture or a group of that name. */
export function isFixtureName(
  { fixtures, groups }: Pick<Show, 'fixtures' | 'groups'>,
  name: string,
): boolean {
  return fixtures.some(one => one.name === name) || groups.some(one => one.name === name);
}
