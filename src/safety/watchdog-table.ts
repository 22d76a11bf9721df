import type { EngineHealth, Observation, WatchTimers } from './observation.js';
import type { WatchdogOptions } from './options.js';

/**
 * What can go wrong, and what is done about it: the policy of the watchdog as data. Each row has the words for people
 * and the rule that runs: the condition, how long it has to last, how the light goes and what lets it come back. The
 * mechanism is in watchdog.ts (performers, in the engine) and fallback.ts (everything, in the supervisor); the safety
 * sheet, the reference and the reports read the same rows.
 */

/** Conditions that the supervisor decides, for everything: an engine can't tell that it is dead. */
export const SUPERVISOR_CONDITIONS = ['shutdown', 'engine-dead', 'engine-late'] as const;
export type SupervisorCondition = (typeof SUPERVISOR_CONDITIONS)[number];

/** Conditions that the engine decides, for one performer or for all. */
export const PERFORMER_CONDITIONS = [
  'operator-stop',
  'desk-lost',
  'feed-silent',
  'tracker-silent',
  'sensor-clock-gone',
  'jumped',
  'frozen',
  'out-of-bounds',
  'confidence-low',
] as const;
export type PerformerCondition = (typeof PERFORMER_CONDITIONS)[number];

/**
 * Worst first; if several hold at once, the first is named as the cause and the shortest fade is used. Rows that take
 * no light anywhere come last.
 */
export const CONDITIONS = [
  ...SUPERVISOR_CONDITIONS,
  'show-reload',
  ...PERFORMER_CONDITIONS,
  'output-down',
] as const;

export type Condition = (typeof CONDITIONS)[number];

export interface RowWords {
  readonly condition: Condition;
  /** What people call it. */
  readonly title: string;
  /** Whose light is taken to its safe values. */
  readonly scope: 'everything' | 'all performers' | 'one performer' | 'nobody';
  /** Which process decides it. */
  readonly decidedBy: 'supervisor' | 'engine';
  readonly when: string;
  readonly action: string;
  readonly clears: string;
  /** The usual causes, and where to look. */
  readonly cause: string;
}

/** Times that the tracking adds to those of the watchdog, seconds. */
export interface TrackingTimes {
  /** Until a track whose reports are elsewhere begins anew there. */
  readonly reacquireS: number;
  /** Until a repeated position is no longer believed: in the middle of a movement, or of a tracker that never repeats itself. */
  readonly repeatedS: number;
  /** For somebody standing, while the tracker's habit isn't known, or is to repeat itself. */
  readonly repeatedAtMostS: number;
}

/** What a row does; all times in seconds. */
interface Timing {
  /** From the beginning of the condition until it acts; undefined: it takes no light anywhere. */
  actsAfterS(options: WatchdogOptions, tracking: TrackingTimes): number | undefined;
  /** The longest that it may take; missing: no longer than `afterS`. */
  actsAtMostAfterS?(options: WatchdogOptions, tracking: TrackingTimes): number;
  /** Live to safe, where it acts alone; undefined: it takes no light anywhere. */
  fadeS(options: WatchdogOptions): number | undefined;
  /** How long all must be well before the light comes back; undefined: there is nothing to come back from. */
  rearmS(options: WatchdogOptions): number | undefined;
  /** Only if the show asks for it, with a required desk or with reports that say when they were measured. */
  readonly needs?: 'required desk' | 'measured times';
}

/** One performer's light, in the engine. Predicates are written so that NaN is never well. */
export interface PerformerRow extends RowWords, Timing {
  readonly condition: PerformerCondition;
  readonly decidedBy: 'engine';
  /** In this tick. */
  holds(seen: Readonly<Observation>, options: WatchdogOptions): boolean;
  /** Timer that says for how long it has held, if it has to last; undefined: it acts at once. */
  readonly timer: keyof WatchTimers | undefined;
  /** It takes the light of somebody off stage too; the other rows don't. */
  readonly actsOffStage?: true;
  /** It acts once its timer is beyond this. */
  lastsS(options: WatchdogOptions): number;
  fadeS(options: WatchdogOptions): number;
  rearmS(options: WatchdogOptions): number;
}

/** All light, in the supervisor. */
export interface SupervisorRow extends RowWords, Timing {
  readonly condition: SupervisorCondition;
  readonly decidedBy: 'supervisor';
  /** @param afterS engineSilent.after */
  holds(health: EngineHealth, afterS: number): boolean;
}

/** Neither process decides it from what it sees in a tick: somebody or something causes it. */
export interface EventRow extends RowWords, Timing {
  readonly condition: 'show-reload' | 'output-down';
  readonly decidedBy: 'supervisor';
}

export type WatchdogRow = PerformerRow | SupervisorRow | EventRow;

const AT_ONCE = () => 0;
const NOTHING = () => undefined;
const rearmS = (options: WatchdogOptions) => options.rearmS;
const engineFadeS = ({ engineSilent }: WatchdogOptions) => engineSilent.fadeS;

export const WATCHDOG_TABLE: readonly WatchdogRow[] = [
  {
    condition: 'shutdown',
    title: 'shutdown',
    scope: 'everything',
    decidedBy: 'supervisor',
    when: 'the supervisor is told to stop (Ctrl-C, SIGTERM, the service manager)',
    action: 'every fixture fades from what was last sent to its safe values; then the streams end',
    clears: 'started again',
    cause: 'somebody stopped it, or the machine shuts down',
    holds: ({ stopping }) => stopping,
    actsAfterS: AT_ONCE,
    fadeS: engineFadeS,
    rearmS: NOTHING,
  },
  {
    condition: 'engine-dead',
    title: 'engine dead',
    scope: 'everything',
    decidedBy: 'supervisor',
    when: 'the engine process is gone',
    action:
      'every fixture fades from what was last sent to its safe values; the engine is restarted',
    clears: 'the safe look has been reached and frames have come on time for rearm',
    cause: 'it crashed, ran out of memory, or was killed: its last output is in the log',
    holds: ({ running }) => !running,
    actsAfterS: AT_ONCE,
    fadeS: engineFadeS,
    rearmS,
  },
  {
    condition: 'engine-late',
    title: 'engine late',
    scope: 'everything',
    decidedBy: 'supervisor',
    when: 'no frame from the engine, or only frames past their deadline, for engineSilent.after',
    action:
      'every fixture fades from what was last sent to its safe values; an engine that is silent for 1 s is killed and restarted',
    clears: 'the safe look has been reached and frames have come on time for rearm',
    cause: 'the machine is too busy, or the engine hangs: look at lateTicks among the counters',
    holds: ({ frameAgeS }, afterS) => !(frameAgeS !== undefined && frameAgeS <= afterS),
    actsAfterS: ({ engineSilent }) => engineSilent.afterS,
    fadeS: engineFadeS,
    rearmS,
  },
  {
    condition: 'show-reload',
    title: 'show reload',
    scope: 'everything',
    decidedBy: 'supervisor',
    when: 'a show with a changed patch, changed outputs or changed inputs (other than who may send to them, `allow`) is loaded during the run (SIGHUP, or lampwright tell); if these are unchanged, the light crossfades to the new show over its `reload` time',
    action:
      "a show with errors, or whose outputs or inputs can't be opened: it is rejected and logged, and the running show carries on. Otherwise what is lit fades to the safe look of the new show, as when the engine is dead, and the new engine takes over; if a universe is no longer sent, all light fades to the safe look of the old show first, and its stream ends",
    clears:
      'the safe look has been reached and frames of the new engine have come on time for rearm',
    cause: 'somebody edited and reloaded it',
    actsAfterS: AT_ONCE,
    fadeS: engineFadeS,
    rearmS,
  },
  {
    condition: 'operator-stop',
    title: 'operator stop',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'an operator has stopped the performer, or everybody',
    action: 'the light of those who are stopped fades to its safe values',
    clears: 'resumed by an operator, and tracked well for rearm',
    cause: 'somebody pressed stop',
    holds: ({ stopped }) => stopped,
    actsOffStage: true,
    timer: undefined,
    lastsS: AT_ONCE,
    actsAfterS: AT_ONCE,
    fadeS: ({ operatorStop }) => operatorStop.fadeS,
    rearmS,
  },
  {
    condition: 'desk-lost',
    title: 'desk input lost',
    scope: 'all performers',
    decidedBy: 'engine',
    when: 'operator.desk is "required", and nothing has been heard from the desk for deskLost.after',
    action: 'all performers are lost in one decision; their light fades to its safe values',
    clears: 'the desk is heard, and each performer has been tracked well for rearm',
    cause: 'the desk, its network, or the cue that repeats its heartbeat',
    holds: ({ deskLost }) => deskLost,
    actsOffStage: true,
    timer: undefined,
    lastsS: AT_ONCE,
    actsAfterS: ({ deskLost }) => deskLost.afterS,
    fadeS: ({ deskLost }) => deskLost.fadeS,
    rearmS,
    needs: 'required desk',
  },
  {
    condition: 'feed-silent',
    title: 'tracking silent',
    scope: 'all performers',
    decidedBy: 'engine',
    when: 'no position from anybody for feedSilent.after, or for nearly as long when the first tracker is found silent',
    action: 'all performers are lost in one decision; their light fades to its safe values',
    clears: 'each performer comes back by itself, once tracked well for rearm',
    cause: 'the tracking server, its network, or the allow list of the input',
    holds: ({ feedSilent }) => feedSilent,
    timer: undefined,
    lastsS: AT_ONCE,
    actsAfterS: ({ feedSilent }) => feedSilent.afterS,
    fadeS: ({ feedSilent }) => feedSilent.fadeS,
    rearmS,
  },
  {
    condition: 'tracker-silent',
    title: 'tracker silent',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'none of the trackers of the performer was heard for trackerSilent.after',
    action: 'the light of the performer fades to its safe values',
    clears: 'tracked well for rearm',
    cause: 'a battery, a body in the way, or a tracker that was not put on',
    holds: ({ silentForS }, { trackerSilent }) => !(silentForS <= trackerSilent.afterS),
    timer: undefined,
    lastsS: AT_ONCE,
    actsAfterS: ({ trackerSilent }) => trackerSilent.afterS,
    fadeS: ({ trackerSilent }) => trackerSilent.fadeS,
    rearmS,
  },
  {
    condition: 'sensor-clock-gone',
    title: 'sensor clock gone',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'the input should carry the time of measurement (timeTags "measured", a "stamp" argument, or stamps "required"), but for sensorClockGone.after reports of the performer had none, or all came far later than their times allow',
    action: 'the light of the performer fades to its safe values',
    clears: 'the tags agree with the arrivals again, and tracked well for rearm',
    cause: "the tracking server's clock, or a network that holds reports back",
    holds: ({ clockGone }) => clockGone,
    timer: 'clockGoneForS',
    lastsS: ({ sensorClockGone }) => sensorClockGone.afterS,
    actsAfterS: ({ sensorClockGone }) => sensorClockGone.afterS,
    fadeS: ({ sensorClockGone }) => sensorClockGone.fadeS,
    rearmS,
    needs: 'measured times',
  },
  {
    condition: 'jumped',
    title: 'impossible jump',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'the position reappeared elsewhere, farther than a person can have moved',
    action: 'the light fades out where it is, moves in the dark, and comes back at the new place',
    clears: 'tracked well at the new place for rearm',
    cause: 'reflections, a tracker changed hands, or anchors that were moved',
    holds: ({ jumped }) => jumped,
    timer: undefined,
    lastsS: AT_ONCE,
    actsAfterS: (_, { reacquireS }) => reacquireS,
    fadeS: ({ jumped }) => jumped.fadeS,
    rearmS,
  },
  {
    condition: 'frozen',
    title: 'frozen',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'exactly the same position repeats for longer than this tracker has ever done by itself, and then for frozen.after. It takes longest for somebody who stands still with a tracker that rounds its positions, or that has not yet stood for 10 s without a repeat (tracking.frozen)',
    action: 'the light of the performer fades to its safe values',
    clears: 'positions change again, and tracked well for rearm',
    cause: 'a tracking server that hangs and repeats its last position',
    holds: ({ fresh }, { confidenceLow }) => !(fresh >= confidenceLow.below),
    timer: 'frozenForS',
    lastsS: ({ frozen }) => frozen.afterS,
    actsAfterS: ({ frozen }, { repeatedS }) => repeatedS + frozen.afterS,
    actsAtMostAfterS: ({ frozen }, { repeatedAtMostS }) => repeatedAtMostS + frozen.afterS,
    fadeS: ({ frozen }) => frozen.fadeS,
    rearmS,
  },
  {
    condition: 'out-of-bounds',
    title: 'off the stage',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'the performer is more than outOfBounds.margin outside the stage for outOfBounds.after',
    action: 'the light of the performer fades to its safe values',
    clears: 'back within the margin, and tracked well for rearm',
    cause: 'they left the stage, or the stage frame does not fit',
    holds: ({ outsideM }, { outOfBounds }) => !(outsideM <= outOfBounds.marginM),
    timer: 'outOfBoundsForS',
    lastsS: ({ outOfBounds }) => outOfBounds.afterS,
    actsAfterS: ({ outOfBounds }) => outOfBounds.afterS,
    fadeS: ({ outOfBounds }) => outOfBounds.fadeS,
    rearmS,
  },
  {
    condition: 'confidence-low',
    title: 'confidence low',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'confidence below confidenceLow.below for confidenceLow.after',
    action: 'the light of the performer fades to its safe values',
    clears: 'confidence above the limit, and tracked well for rearm',
    cause: 'few reports, many outliers, poor quality, or an impossible speed',
    holds: ({ confidence }, { confidenceLow }) => !(confidence >= confidenceLow.below),
    timer: 'confidenceLowForS',
    lastsS: ({ confidenceLow }) => confidenceLow.afterS,
    actsAfterS: ({ confidenceLow }) => confidenceLow.afterS,
    fadeS: ({ confidenceLow }) => confidenceLow.fadeS,
    rearmS,
  },
  {
    condition: 'output-down',
    title: 'output down',
    scope: 'nobody',
    decidedBy: 'supervisor',
    when: "an interface of the lighting network is gone, or packets can't be sent",
    action:
      'it is logged and counted, and the interface is tried again; the other outputs are not touched. What the fixtures show is up to the gateways (E1.31 10.2.2)',
    clears:
      'the interface is back: its universes carry on from what they last sent. After an outage of half a second or more, a fixture whose light has changed meanwhile fades out where it is, moves in the dark, and comes up at its new values',
    cause: 'a cable, a switch, an address that changed',
    actsAfterS: NOTHING,
    fadeS: NOTHING,
    rearmS: NOTHING,
  },
];

/** Worst first, as they stand in the table: what the engine runs, and what the supervisor runs. */
export const PERFORMER_ROWS: readonly PerformerRow[] = WATCHDOG_TABLE.filter(
  row => row.decidedBy === 'engine',
);
export const SUPERVISOR_ROWS: readonly SupervisorRow[] = WATCHDOG_TABLE.filter(
  row => row.decidedBy === 'supervisor' && 'holds' in row,
);

export function rowOf<C extends Condition>(
  condition: C,
): Extract<WatchdogRow, { readonly condition: C }> & WatchdogRow {
  const row = WATCHDOG_TABLE.find(one => one.condition === condition);
  if (row === undefined) throw new Error(`the watchdog's table has no row for ${condition}`);
  return row as Extract<WatchdogRow, { readonly condition: C }> & WatchdogRow;
}

/** What people call a row of the table. */
export function titleOf(condition: Condition): string {
  return WATCHDOG_TABLE.find(row => row.condition === condition)?.title ?? condition;
}
