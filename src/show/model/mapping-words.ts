import { enumerated } from '../../stage/enumerated.js';
import { type Radians, toDegrees } from '../../stage/units.js';
import { unreachable } from '../../stage/unreachable.js';
import type { FollowMappingPlan, MappingPlan, Show } from './model.js';

type Worded = Pick<Show, 'mappings' | 'signals' | 'zones' | 'performers'>;

/** What people call a mapping: by its name, or by what drives it. */
export function mappingTitle(show: Worded, index: number): string {
  const mapping = show.mappings[index];
  if (mapping === undefined) return '';
  return mapping.name ?? drivenBy(show, mapping);
}

/** `stove`, `follows Ines`, `by glow when two`. */
function drivenBy(show: Worded, mapping: MappingPlan): string {
  switch (mapping.kind) {
    case 'zone':
      return show.zones[mapping.zone]?.label ?? '';
    case 'follow':
      return `follows ${whomWords(show, mapping)}${whenWords(show, mapping.when)}`;
    case 'signal': {
      const [first] = mapping.by ?? [];
      const name = show.signals.signals[first ?? -1]?.name.split('/')[0];
      const by = name === undefined ? '' : `by ${name}`;
      return `${by}${whenWords(show, mapping.when)}`.trim() || 'always';
    }
    default:
      return unreachable(mapping);
  }
}

/** `Ines`, `the nearest of Ines and Tobias`. */
function whomWords({ performers }: Worded, { performer, choice }: FollowMappingPlan): string {
  if (choice === undefined) return performers[performer]?.label ?? '';
  const people = enumerated(
    choice.people.map(p => performers[p]?.label ?? ''),
    4,
  );
  const { kind } = choice.rule;
  if (kind === 'middle') return `the middle of ${people}`;
  return kind === 'share' ? `one of ${people}` : `the ${kind} of ${people}`;
}

function whenWords(show: Worded, when: number | undefined): string {
  return when === undefined ? '' : ` when ${conditionWords(show, when)}`;
}

/** A condition by its name, or what it asks if it has no name. */
export function conditionWords(show: Pick<Show, 'signals'>, index: number): string {
  const { conditions, signals } = show.signals;
  const condition = conditions[index];
  if (condition === undefined) return '';
  const { name, test } = condition;
  // A condition written out where it is used is named by its place.
  if (!/[[.]/.test(name)) return name;
  switch (test.kind) {
    case 'threshold': {
      const plan = signals[test.signal];
      const signal = plan?.name ?? '';
      if (signal.includes(' in ')) return signal;
      const on = plan?.unit === 'radians' ? toDegrees(test.on as Radians) : test.on;
      const value = Number(on.toPrecision(3));
      return `${signal} ${test.direction === 'above' ? 'from' : 'below'} ${value}`;
    }
    case 'not':
      return `not ${conditionWords(show, test.condition)}`;
    case 'all':
    case 'any': {
      const parts = test.of.map(one => conditionWords(show, one));
      return enumerated(parts, 8, test.kind === 'all' ? 'and' : 'or');
    }
    default:
      return unreachable(test);
  }
}

/** The place of each mapping as the show's author counts them: a rule for several heads is one. */
export function mappingTitles(show: Show): string[] {
  return show.mappings.flatMap(({ place }, index) =>
    place !== undefined && show.mappings[index - 1]?.place === place
      ? []
      : [mappingTitle(show, index)],
  );
}
