/**
 * What can go wrong, and what is done about it: the policy of the watchdog as data. The mechanism
 * is in watchdog.ts (performers, in the engine) and fallback.ts (everything, in the supervisor).
 * Rows stand worst first; where several hold at once the first is named as the cause and the
 * shortest fade is taken.
 */
export const CONDITIONS = [
  'engine-silent',
  'feed-silent',
  'tracker-silent',
  'jumped',
  'out-of-bounds',
  'confidence-low',
] as const;

export type Condition = (typeof CONDITIONS)[number];

export interface WatchdogRow {
  readonly condition: Condition;
  /** Whose light is taken to its safe values. */
  readonly scope: 'everything' | 'all performers' | 'one performer';
  /** Which of the two processes decides it. */
  readonly decidedBy: 'supervisor' | 'engine';
  readonly when: string;
  readonly action: string;
  readonly clears: string;
}

export const WATCHDOG_TABLE: readonly WatchdogRow[] = [
  {
    condition: 'engine-silent',
    scope: 'everything',
    decidedBy: 'supervisor',
    when: 'no frame from the engine, or only frames past their deadline, for engineSilent.after',
    action:
      'every fixture fades from what was last sent to its safe values; the engine is restarted',
    clears: 'the safe look has been reached and frames have come on time for rearm',
  },
  {
    condition: 'feed-silent',
    scope: 'all performers',
    decidedBy: 'engine',
    when: 'no position of any performer for feedSilent.after, or nearly so when a tracker is lost',
    action: 'all performers are lost in one decision; their light fades to its safe values',
    clears: 'each performer comes back by itself, once tracked well for rearm',
  },
  {
    condition: 'tracker-silent',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'none of the trackers of the performer was heard for trackerSilent.after',
    action: 'the light of the performer fades to its safe values',
    clears: 'tracked well for rearm',
  },
  {
    condition: 'jumped',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'the position reappeared elsewhere, farther than a person can have moved',
    action: 'the light fades out where it is, moves in the dark, and comes back at the new place',
    clears: 'tracked well at the new place for rearm',
  },
  {
    condition: 'out-of-bounds',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'the performer is farther than outOfBounds.margin outside of the stage for outOfBounds.after',
    action: 'the light of the performer fades to its safe values',
    clears: 'back within the margin, and tracked well for rearm',
  },
  {
    condition: 'confidence-low',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'confidence below confidenceLow.below for confidenceLow.after',
    action: 'the light of the performer fades to its safe values',
    clears: 'confidence above the limit, and tracked well for rearm',
  },
];
