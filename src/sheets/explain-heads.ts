import type { CandidateView, ChoiceView, EngineView, FixtureView } from '../engine/view.js';
import type { FollowChoice, Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import type { Vec3 } from '../stage/vector.js';

/** A head that chooses whom it follows. */
export interface HeadExplanation {
  readonly fixture: string;
  readonly label: string;
  readonly rule: 'nearest' | 'first' | 'share' | 'middle';
  /** Name and label of whom it is on; null: nobody. */
  readonly performer: string | null;
  readonly performerLabel: string | null;
  /** Of whom it is to be on, as soon as it is dark, or the head that takes over is there. */
  readonly next: string | null;
  /** Of whom it is pinned to, whatever its rule says. */
  readonly pinnedTo: string | null;
  readonly candidates: readonly {
    readonly performer: string;
    readonly label: string;
    readonly tracked: boolean;
    /** Of a share: the lower the better; null: it can't be on them, as they are out of its reach or behind a keep-out. */
    readonly cost: number | null;
    readonly outOfReach: boolean;
    readonly keepOut: string | null;
    /** Of the nearest: from what they are to be near, metres. Of the first: how long they have been in the zone, seconds. */
    readonly awayM: number | null;
    readonly inZoneS: number | null;
  }[];
  /** The same in words. */
  readonly why: string;
}

export function explainHeads(view: EngineView): HeadExplanation[] {
  return view.fixtures.flatMap(one => headOf(view, one));
}

type LabelOf = (name: string) => string;

function headOf(view: EngineView, fixture: FixtureView): HeadExplanation[] {
  const { show } = view;
  const { plan, choice } = fixture;
  if (choice === undefined) return [];
  const labelOf = (name: string) => show.performers.find(one => one.name === name)?.label ?? name;
  const { rule, performer, next, pinnedTo } = choice;
  const candidates = choice.candidates();
  return [
    {
      fixture: plan.name,
      label: plan.label,
      rule,
      performer: performer ?? null,
      performerLabel: performer === undefined ? null : labelOf(performer),
      next: next ?? null,
      pinnedTo: pinnedTo ?? null,
      candidates: candidates.map(one => ({
        performer: one.performer,
        label: labelOf(one.performer),
        tracked: one.tracked,
        cost: rounded(one.cost),
        outOfReach: one.outOfReach,
        keepOut: one.keepOut ?? null,
        awayM: rounded(one.awayM),
        inZoneS: rounded(one.inZoneS),
      })),
      why: [
        pinWords(choice, candidates, labelOf),
        ...(next === performer
          ? []
          : [next === undefined ? 'to be free' : `to go to ${labelOf(next)}`]),
        reasonWords(view, fixture, choice, candidates, labelOf),
      ]
        .filter(Boolean)
        .join('; '),
    },
  ];
}

function rounded(value: number | undefined): number | null {
  return value === undefined ? null : Number(value.toFixed(2));
}

/** `pinned`, `pinned to Ines, and waits for them`. */
function pinWords(
  { performer, pinnedTo }: ChoiceView,
  candidates: readonly CandidateView[],
  labelOf: LabelOf,
): string {
  if (pinnedTo === undefined) return '';
  const isThere = candidates.some(one => one.performer === pinnedTo && one.tracked);
  if (!isThere) return `pinned to ${labelOf(pinnedTo)}, and waits for them`;
  return pinnedTo === performer ? 'pinned' : `pinned to ${labelOf(pinnedTo)}`;
}

function reasonWords(
  view: EngineView,
  fixture: FixtureView,
  choice: ChoiceView,
  candidates: readonly CandidateView[],
  labelOf: LabelOf,
): string {
  if (choice.rule === 'share') return shareWords(view, fixture, choice, candidates, labelOf);
  if (choice.pinnedTo !== undefined) return '';
  if (!candidates.some(({ tracked }) => tracked)) return 'nobody is tracked';
  const mapping = view.show.mappings[choice.mapping];
  const rule = mapping?.kind === 'follow' ? mapping.choice?.rule : undefined;
  if (rule?.kind === 'nearest') return nearestWords(view.show, rule, choice, candidates, labelOf);
  if (rule?.kind === 'first') return firstWords(view.show, rule, candidates, labelOf);
  return '';
}

/** "cost Mara 1.42, Ilja 2.10; out of reach: Noor; into the keep-out camera: Vik", the best first. */
function shareWords(
  view: EngineView,
  fixture: FixtureView,
  { performer, next, pinnedTo }: ChoiceView,
  candidates: readonly CandidateView[],
  labelOf: LabelOf,
): string {
  const costs = candidates.flatMap(one =>
    one.cost === undefined ? [] : [{ ...one, cost: one.cost }],
  );
  const words = costs
    .sort((a, b) => a.cost - b.cost)
    .map(one => `${labelOf(one.performer)} ${one.cost.toFixed(2)}`)
    .join(', ');
  const against = againstWords(candidates, labelOf);
  if (words === '' && against.length === 0) return 'nobody is tracked';
  const isFree = performer === undefined && next === undefined && pinnedTo === undefined;
  const isSpare =
    isFree && costs.length > 0 && costs.every(one => isServed(view, fixture, one.performer));
  return [
    isSpare ? 'the other heads are on everybody that it can light' : '',
    words === '' ? '' : `cost ${words}`,
    ...against,
  ]
    .filter(Boolean)
    .join('; ');
}

/** By another head that chooses. */
function isServed({ fixtures }: EngineView, but: FixtureView, who: string): boolean {
  return fixtures.some(
    one => one !== but && (one.choice?.performer === who || one.choice?.next === who),
  );
}

/** `out of reach: Noor`, `into the keep-out camera: Vik and Yara`. */
function againstWords(candidates: readonly CandidateView[], labelOf: LabelOf): string[] {
  const by = new Map<string, string[]>();
  for (const { performer, outOfReach, keepOut } of candidates) {
    if (!outOfReach && keepOut === undefined) continue;
    const why = outOfReach ? 'out of reach' : `into the keep-out ${keepOut}`;
    by.set(why, [...(by.get(why) ?? []), labelOf(performer)]);
  }
  return [...by].map(([why, who]) => `${why}: ${enumerated(who, 8)}`);
}

type RuleOf<K extends FollowChoice['rule']['kind']> = Extract<FollowChoice['rule'], { kind: K }>;

/** "nearest to Lantern: Mara 1.2 m, Ilja 3.4 m"; and why it is on another. */
function nearestWords(
  show: Show,
  { to }: RuleOf<'nearest'>,
  { performer, next, holdsS }: ChoiceView,
  candidates: readonly CandidateView[],
  labelOf: LabelOf,
): string {
  const away = candidates
    .flatMap(one => (one.awayM === undefined ? [] : [{ ...one, awayM: one.awayM }]))
    .sort((a, b) => a.awayM - b.awayM);
  if (away.length === 0) return 'nobody else is tracked';
  const list = away.map(one => `${labelOf(one.performer)} ${one.awayM.toFixed(1)} m`).join(', ');
  const isOther = next !== undefined && next === performer && away[0]?.performer !== performer;
  const stays = !isOther
    ? ''
    : holdsS > 0
      ? `; it stays for another ${holdsS.toFixed(1)} s`
      : '; somebody else has to be nearer by half a metre';
  return `nearest to ${placeWords(show, to)}: ${list}${stays}`;
}

/** A performer, a fixture or a point of the palette that is there, or the place. */
function placeWords({ performers, fixtures, targets }: Show, to: RuleOf<'nearest'>['to']): string {
  if (typeof to === 'number') return performers[to]?.label ?? '';
  const isThere = (at: Readonly<Vec3> | undefined) =>
    at?.x === to.x && at.y === to.y && at.z === to.z;
  const named =
    fixtures.find(({ position }) => isThere(position)) ?? targets.find(({ at }) => isThere(at));
  return named?.label ?? `[${to.x}, ${to.y}, ${to.z}]`;
}

/** "first in Table: Mara for 12.0 s, Ilja for 3.0 s". */
function firstWords(
  { zones }: Show,
  { zone }: RuleOf<'first'>,
  candidates: readonly CandidateView[],
  labelOf: LabelOf,
): string {
  const label = zones[zone]?.label ?? '';
  const inside = candidates
    .flatMap(one => (one.inZoneS === undefined ? [] : [{ ...one, inZoneS: one.inZoneS }]))
    .sort((a, b) => b.inZoneS - a.inZoneS);
  if (inside.length === 0) return `nobody is in ${label}`;
  const list = inside.map(one => `${labelOf(one.performer)} for ${one.inZoneS.toFixed(1)} s`);
  return `first in ${label}: ${list.join(', ')}`;
}
