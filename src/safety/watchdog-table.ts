/**
 * What can go wrong, and what is done about it: the policy of the watchdog as data. The mechanism
 * is in watchdog.ts (performers, in the engine) and fallback.ts (everything, in the supervisor).
 */

/** What the supervisor decides for everything: an engine can't tell that it is dead. */
export const SUPERVISOR_CONDITIONS = ['shutdown', 'engine-dead', 'engine-late'] as const;
export type SupervisorCondition = (typeof SUPERVISOR_CONDITIONS)[number];

/** What the engine decides, for one performer or for all. */
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
 * Worst first; where several hold at once the first is named as the cause and the shortest fade is
 * taken. What takes no light anywhere stands last.
 */
export const CONDITIONS = [
  ...SUPERVISOR_CONDITIONS,
  'show-reload',
  ...PERFORMER_CONDITIONS,
  'output-down',
] as const;

export type Condition = (typeof CONDITIONS)[number];

export interface WatchdogRow {
  readonly condition: Condition;
  /** What people call it. */
  readonly title: string;
  /** Whose light is taken to its safe values. */
  readonly scope: 'everything' | 'all performers' | 'one performer' | 'nobody';
  /** Which of the two processes decides it. */
  readonly decidedBy: 'supervisor' | 'engine';
  readonly when: string;
  readonly action: string;
  readonly clears: string;
  /** What is mostly behind it, and where to look. */
  readonly cause: string;
}

export const WATCHDOG_TABLE: readonly WatchdogRow[] = [
  {
    condition: 'shutdown',
    title: 'shutdown',
    scope: 'everything',
    decidedBy: 'supervisor',
    when: 'the supervisor is told to stop (Ctrl-C, SIGTERM, the service manager)',
    action:
      'every fixture fades from what was last sent to its safe values; then the streams are ended',
    clears: 'started again',
    cause: 'somebody stopped it, or the machine shuts down',
  },
  {
    condition: 'engine-dead',
    title: 'engine dead',
    scope: 'everything',
    decidedBy: 'supervisor',
    when: 'the engine process is gone',
    action:
      'every fixture fades from what was last sent to its safe values; the engine is started again',
    clears: 'the safe look has been reached and frames have come on time for rearm',
    cause: 'a crash, no memory left, or somebody killed it: the log has its last words',
  },
  {
    condition: 'engine-late',
    title: 'engine late',
    scope: 'everything',
    decidedBy: 'supervisor',
    when: 'no frame from the engine, or only frames past their deadline, for engineSilent.after',
    action:
      'every fixture fades from what was last sent to its safe values; an engine silent for 1 s is killed and started again',
    clears: 'the safe look has been reached and frames have come on time for rearm',
    cause: 'the machine is too busy, or the engine hangs: look at lateTicks among the counters',
  },
  {
    condition: 'show-reload',
    title: 'show reload',
    scope: 'everything',
    decidedBy: 'supervisor',
    when: 'a changed show is loaded while it runs (SIGHUP, or lampwright tell)',
    action:
      'a show with errors, or whose outputs or inputs can not be opened: nothing, and it is said; otherwise what is lit fades to the safe look of the new show, as when the engine is dead, and its engine takes over',
    clears:
      'the safe look has been reached and frames of the new engine have come on time for rearm',
    cause: 'somebody edited it, and had it loaded',
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
  },
  {
    condition: 'desk-lost',
    title: 'desk input lost',
    scope: 'all performers',
    decidedBy: 'engine',
    when: 'operator.desk is "required", and nothing has been heard from the desk for deskLost.after',
    action: 'all performers are lost in one decision; their light fades to its safe values',
    clears: 'the desk is heard, and each performer has been tracked well for rearm',
    cause: 'the desk, its network, or its cue that repeats the heartbeat',
  },
  {
    condition: 'feed-silent',
    title: 'feed silent',
    scope: 'all performers',
    decidedBy: 'engine',
    when: 'no position of any performer for feedSilent.after, or nearly so when a tracker is lost',
    action: 'all performers are lost in one decision; their light fades to its safe values',
    clears: 'each performer comes back by itself, once tracked well for rearm',
    cause: 'the tracking server, its network, or the allow list of the input',
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
  },
  {
    condition: 'sensor-clock-gone',
    title: 'sensor clock gone',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'the input is to bring the time of measurement (timeTags "measured", or a "stamp" argument), and for sensorClockGone.after the reports of the performer have carried none, or all have come far later than it says they could',
    action: 'the light of the performer fades to its safe values',
    clears: 'the tags agree with the arrivals again, and tracked well for rearm',
    cause: "the tracking server's clock, or a network that holds reports back",
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
  },
  {
    condition: 'frozen',
    title: 'frozen',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'positions have repeated to the last bit for well over tracking.frozen, and go on for frozen.after',
    action: 'the light of the performer fades to its safe values',
    clears: 'positions change again, and tracked well for rearm',
    cause: 'a tracking server that hangs and repeats itself',
  },
  {
    condition: 'out-of-bounds',
    title: 'out of bounds',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'the performer is farther than outOfBounds.margin outside of the stage for outOfBounds.after',
    action: 'the light of the performer fades to its safe values',
    clears: 'back within the margin, and tracked well for rearm',
    cause: 'they left the stage, or the stage frame does not fit',
  },
  {
    condition: 'confidence-low',
    title: 'confidence low',
    scope: 'one performer',
    decidedBy: 'engine',
    when: 'confidence below confidenceLow.below for confidenceLow.after',
    action: 'the light of the performer fades to its safe values',
    clears: 'confidence above the limit, and tracked well for rearm',
    cause: 'few reports, many outliers, poor quality, or a speed that nobody has',
  },
  {
    condition: 'output-down',
    title: 'output down',
    scope: 'nobody',
    decidedBy: 'supervisor',
    when: 'an interface of the lighting network is gone, or packets can not be sent',
    action:
      'it is said and counted, and the interface is tried again; the other outputs are not touched. What the fixtures show is up to the gateways (E1.31 10.2.2)',
    clears:
      'the interface is back: its universes go on from what they last sent, no faster than the limits allow',
    cause: 'a cable, a switch, an address that changed',
  },
];

/** The row of the worst of some conditions; undefined where there is none. */
export function worstRow(holding: (condition: Condition) => boolean): WatchdogRow | undefined {
  return WATCHDOG_TABLE.find(row => holding(row.condition));
}
