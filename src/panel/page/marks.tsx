import type { Person } from '../../live/reading.js';

type State = Person['status']['state'];

/** A shape beside every colour, 16 by 16: a disc, a half disc, a triangle, a ring, a square, a dash. */
export const SHAPES: Readonly<Record<State, string>> = {
  live: 'M8 2a6 6 0 1 0 .01 0z',
  returning: 'M8 2a6 6 0 0 0 0 12z',
  lost: 'M8 1.5 15 14H1z',
  'not heard': 'M8 2a6 6 0 1 0 .01 0zM8 4.6a3.4 3.4 0 1 1-.01 0z',
  stopped: 'M3 3h10v10H3z',
  'off stage': 'M2 7h12v2.4H2z',
};

export function StateMark({ state }: { readonly state: State }) {
  return (
    <svg class={`mark ${state.replace(' ', '-')}`} viewBox="0 0 16 16" aria-hidden="true">
      <path d={SHAPES[state]} fill-rule="evenodd" />
    </svg>
  );
}

const LEVELS = {
  well: 'M3 9l4 4 8-9',
  look: 'M9 2a7 7 0 1 0 .01 0M9 6v4M9 12.6v.4',
  act: 'M9 2l8 14H1zM9 7v4M9 13v.4',
} as const;

export function LevelMark({ level }: { readonly level: keyof typeof LEVELS }) {
  return (
    <svg class="level-mark" viewBox="0 0 18 18" aria-hidden="true">
      <path d={LEVELS[level]} />
    </svg>
  );
}

export function Bar({
  share,
  safe,
}: {
  readonly share: number;
  readonly safe?: number | undefined;
}) {
  const percent = (value: number) => `${Math.min(100, Math.max(0, value * 100))}%`;
  return (
    <span class="bar" aria-hidden="true">
      <span class="fill" style={{ width: percent(share) }} />
      {safe !== undefined && <span class="safe" style={{ left: percent(safe) }} />}
    </span>
  );
}
