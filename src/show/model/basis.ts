import type { PlacePlan, SignalSet } from '../../signals/plan.js';
import type { MappingPlan, Show } from './model.js';

/** What something in a show depends on: nothing else can change it, and losing any of these performers makes it unknown. */
export interface Basis {
  readonly performers: ReadonlySet<number>;
  readonly zones: ReadonlySet<number>;
  /** Inputs whose numbers it uses. */
  readonly inputs: ReadonlySet<number>;
  readonly signals: ReadonlySet<number>;
  readonly conditions: ReadonlySet<number>;
}

type Based = Pick<Show, 'signals' | 'zones'>;

/** Whether a mapping sets anything of a fixture, or aims it. */
export function touches(mapping: MappingPlan, fixture: number): boolean {
  return fixturesOf(mapping).has(fixture);
}

function fixturesOf(mapping: MappingPlan): ReadonlySet<number> {
  return once(touched, mapping, () => {
    const heads = mapping.kind === 'follow' ? mapping.heads : [];
    return new Set([...heads, ...mapping.values.map(one => one.fixture)]);
  });
}

/** Whether a mapping aims it. */
export function aims(mapping: MappingPlan, fixture: number): boolean {
  if (mapping.kind !== 'follow') return false;
  return once(aimed, mapping, () => new Set(mapping.heads)).has(fixture);
}

/** A mapping never changes, and is asked about for each fixture of a house: the answer is worked out once. */
const touched = new WeakMap<MappingPlan, ReadonlySet<number>>();
const aimed = new WeakMap<MappingPlan, ReadonlySet<number>>();
const restsOn = new WeakMap<MappingPlan, readonly number[]>();

function once<T>(known: WeakMap<MappingPlan, T>, mapping: MappingPlan, find: () => T): T {
  const there = known.get(mapping);
  if (there !== undefined) return there;
  const found = find();
  known.set(mapping, found);
  return found;
}

/** The mappings that touch a fixture, ascending, as indices. */
export function mappingsOf(mappings: readonly MappingPlan[], fixture: number): readonly number[] {
  let ofFixture = byFixture.get(mappings);
  if (ofFixture === undefined) {
    ofFixture = new Map();
    byFixture.set(mappings, ofFixture);
    for (const [index, mapping] of mappings.entries()) {
      for (const one of fixturesOf(mapping)) {
        const there = ofFixture.get(one);
        if (there === undefined) ofFixture.set(one, [index]);
        else there.push(index);
      }
    }
  }
  return ofFixture.get(fixture) ?? [];
}

const byFixture = new WeakMap<readonly MappingPlan[], Map<number, number[]>>();

/** The performers a fixture's mappings depend on, ascending; empty if no mapping touches it. */
export function driversOf(show: Based & Pick<Show, 'mappings'>, fixture: number): number[] {
  return unionOf(
    mappingsOf(show.mappings, fixture).map(index =>
      performersOf(show, show.mappings[index] as MappingPlan),
    ),
  );
}

/**
 * The same for only those mappings that act in a cue: whoever else is lost, the fixture stays as the cue has it.
 * @param cue its index; the show may have none
 */
export function driversIn(
  show: Based & Pick<Show, 'mappings' | 'cues'>,
  cue: number,
  fixture: number,
): number[] {
  const levels = show.cues[cue]?.levels;
  return unionOf(
    mappingsOf(show.mappings, fixture)
      .filter(of => levels === undefined || (levels[of] ?? 0) > 0)
      .map(of => performersOf(show, show.mappings[of] as MappingPlan)),
  );
}

/** All indices in any of the lists, ascending; in a large house a fixture has hundreds, and sorting them takes long. */
export function unionOf(lists: readonly (readonly number[])[]): number[] {
  let most = -1;
  for (const list of lists) for (const one of list) if (one > most) most = one;
  const isIn = new Uint8Array(most + 1);
  for (const list of lists) for (const one of list) isIn[one] = 1;
  const union: number[] = [];
  for (let one = 0; one <= most; one++) if (isIn[one] === 1) union.push(one);
  return union;
}

/** The performers a mapping depends on, ascending. */
export function performersOf(show: Based, mapping: MappingPlan): readonly number[] {
  return once(restsOn, mapping, () => [...basisOf(show, mapping).performers].sort((a, b) => a - b));
}

/** Whether a signal is unknown only because of a performer, or perhaps for a reason of its own: a desk, a sender. */
export function restsOnNobody(show: Based, signal: number): boolean {
  const gathered = gather(show);
  gathered.signal(signal);
  return gathered.basis.performers.size === 0;
}

export function basisOf(show: Based, mapping: MappingPlan): Basis {
  const gathered = gather(show);
  if (mapping.master !== undefined) gathered.signal(mapping.master);
  switch (mapping.kind) {
    case 'zone':
      gathered.zone(mapping.zone);
      gathered.people(mapping.performers);
      break;
    case 'follow':
      gathered.people(mapping.choice?.people ?? [mapping.performer]);
      if (mapping.choice?.rule.kind === 'first') gathered.zone(mapping.choice.rule.zone);
      if (mapping.choice?.rule.kind === 'nearest' && typeof mapping.choice.rule.to === 'number') {
        gathered.people([mapping.choice.rule.to]);
      }
      if (mapping.when !== undefined) gathered.condition(mapping.when);
      break;
    case 'signal':
      if (mapping.when !== undefined) gathered.condition(mapping.when);
      for (const signal of mapping.by ?? []) gathered.signal(signal);
      break;
  }
  return gathered.basis;
}

export function basisOfCondition(show: Based, condition: number): Basis {
  const gathered = gather(show);
  gathered.condition(condition);
  return gathered.basis;
}

/** Everything that the mappings, the cues and the actions of a show depend on. */
export function basisOfAll(show: Based & Pick<Show, 'mappings' | 'cues' | 'actions'>): Basis {
  const bases = show.mappings.map(mapping => basisOf(show, mapping));
  const gathered = gather(show);
  for (const { fire } of show.cues) if (fire !== undefined) gathered.condition(fire);
  for (const { of, index } of show.actions) if (of === 'condition') gathered.condition(index);
  const all = [...bases, gathered.basis];
  const union = (key: keyof Basis) => new Set(all.flatMap(basis => [...basis[key]]));
  return {
    performers: union('performers'),
    zones: union('zones'),
    inputs: union('inputs'),
    signals: union('signals'),
    conditions: union('conditions'),
  };
}

function gather({ signals: set, zones: plans }: Based) {
  const performers = new Set<number>();
  const zones = new Set<number>();
  const inputs = new Set<number>();
  const signals = new Set<number>();
  const conditions = new Set<number>();
  const people = (which: readonly number[]) => {
    for (const one of which) performers.add(one);
  };
  const zone = (index: number) => {
    zones.add(index);
    const around = plans[index]?.around;
    if (around !== undefined) performers.add(around);
  };
  const place = (to: PlacePlan) => {
    if (to.kind === 'performers') people(to.performers);
    if (to.kind === 'zone') zone(to.zone);
  };
  const signal = (index: number) => {
    if (signals.has(index)) return;
    signals.add(index);
    visitSource(set, index, { people, zone, place, signal, condition, input: i => inputs.add(i) });
  };
  const condition = (index: number) => {
    if (conditions.has(index)) return;
    conditions.add(index);
    const test = set.conditions[index]?.test;
    if (test?.kind === 'threshold') signal(test.signal);
    else if (test?.kind === 'not') condition(test.condition);
    else for (const one of test?.of ?? []) condition(one);
  };
  return {
    people,
    zone,
    signal,
    condition,
    basis: { performers, zones, inputs, signals, conditions },
  };
}

interface Visitor {
  readonly people: (which: readonly number[]) => void;
  readonly zone: (index: number) => void;
  readonly place: (to: PlacePlan) => void;
  readonly signal: (index: number) => void;
  readonly condition: (index: number) => void;
  readonly input: (index: number) => void;
}

function visitSource(set: SignalSet, index: number, visit: Visitor): void {
  const source = set.signals[index]?.source;
  if (source === undefined) return;
  switch (source.kind) {
    case 'wave':
    case 'slot':
      return;
    case 'presence':
    case 'count':
      visit.zone(source.zone);
      visit.people(source.performers);
      return;
    case 'distance':
      visit.people(source.performers);
      visit.place(source.to);
      return;
    case 'height':
    case 'speed':
      visit.people(source.performers);
      return;
    case 'along':
      visit.people([source.performer]);
      return;
    case 'across':
      visit.people([source.performer]);
      visit.zone(source.zone);
      return;
    case 'heading':
      visit.people([source.performer]);
      if (source.towards.kind !== 'direction') visit.place(source.towards);
      return;
    case 'time':
      visit.condition(source.condition);
      return;
    case 'osc':
      visit.input(source.input);
      return;
    case 'inverse':
      visit.signal(source.signal);
      return;
    default:
      for (const operand of source.of) if (operand.kind === 'signal') visit.signal(operand.signal);
  }
}
