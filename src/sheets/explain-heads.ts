import type { CandidateView, EngineView, FixtureView } from '../engine/view.js';

/** A head that chooses whom it is on. */
export interface HeadExplanation {
  readonly fixture: string;
  readonly label: string;
  readonly rule: 'nearest' | 'first' | 'share' | 'middle';
  /** Name and label of whom it is on; null: nobody. */
  readonly performer: string | null;
  readonly performerLabel: string | null;
  /** Of whom it is to be on, as soon as it is dark, or the head that takes over is there. */
  readonly next: string | null;
  readonly candidates: readonly {
    readonly performer: string;
    readonly label: string;
    readonly tracked: boolean;
    /** Of a share: the lower the better; null: it can't be on them. */
    readonly cost: number | null;
  }[];
  /** The same in words. */
  readonly why: string;
}

export function explainHeads(view: EngineView): HeadExplanation[] {
  return view.fixtures.flatMap(one => headOf(view, one));
}

function headOf({ show }: EngineView, fixture: FixtureView): HeadExplanation[] {
  const { plan, choice } = fixture;
  if (choice === undefined) return [];
  const labelOf = (name: string) => show.performers.find(one => one.name === name)?.label ?? name;
  const { rule, performer, next, pinned } = choice;
  const candidates = choice.candidates();
  return [
    {
      fixture: plan.name,
      label: plan.label,
      rule,
      performer: performer ?? null,
      performerLabel: performer === undefined ? null : labelOf(performer),
      next: next ?? null,
      candidates: candidates.map(({ performer: name, tracked, cost }) => ({
        performer: name,
        label: labelOf(name),
        tracked,
        cost: cost === undefined ? null : Number(cost.toFixed(2)),
      })),
      why: [
        pinned ? 'by order' : '',
        ...(next === performer
          ? []
          : [next === undefined ? 'to be free' : `to go to ${labelOf(next)}`]),
        rule === 'share' ? costWords(candidates, labelOf) : nobodyWords(candidates, performer),
      ]
        .filter(Boolean)
        .join('; '),
    },
  ];
}

/** "Mara 1.42, Ilja 2.10; can't be on Noor", the best first. */
function costWords(
  candidates: readonly CandidateView[],
  labelOf: (name: string) => string,
): string {
  const costs = candidates.flatMap(({ performer, cost }) =>
    cost === undefined ? [] : [{ label: labelOf(performer), cost }],
  );
  const out = candidates.filter(({ tracked, cost }) => tracked && cost === undefined);
  const words = costs
    .sort((a, b) => a.cost - b.cost)
    .map(({ label, cost }) => `${label} ${cost.toFixed(2)}`)
    .join(', ');
  if (costs.length + out.length === 0) return 'nobody is tracked';
  const never =
    out.length === 0
      ? ''
      : `out of reach, or into a keep-out: ${out.map(({ performer }) => labelOf(performer)).join(', ')}`;
  return [words === '' ? '' : `cost ${words}`, never].filter(Boolean).join('; ');
}

function nobodyWords(candidates: readonly CandidateView[], performer: string | undefined): string {
  if (performer !== undefined) return '';
  return candidates.some(({ tracked }) => tracked)
    ? 'nobody is where it chooses'
    : 'nobody is tracked';
}
