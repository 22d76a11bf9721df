/** What the engine knows of one performer in one tick. */
export interface Observation {
  /** Any report of any tracker of the performer since the start. */
  seen: boolean;
  /** Known to be off stage: only an operator or a lost desk takes their light. */
  offStage: boolean;
  /** An operator has stopped the performer, or everybody. */
  stopped: boolean;
  /** The desk is required, and has not been heard for deskLost.after. */
  deskLost: boolean;
  /** Nobody at all has been heard for feedSilent.after. */
  feedSilent: boolean;
  /** Time since a report of the performer last arrived, seconds. */
  silentForS: number;
  /** The time tags of the performer's reports are missing or can't be right. */
  clockGone: boolean;
  /** The track restarted at another place in this tick. */
  jumped: boolean;
  /** Confidence that the reports are not a repetition, 0..1. */
  fresh: number;
  /** Metres outside the stage bounds. */
  outsideM: number;
  /** 0..1 */
  confidence: number;
  /** No light of the performer still shows what it showed before the loss. */
  settled: boolean;
}

/** How long each condition that has to last has held, seconds. */
export interface WatchTimers {
  clockGoneForS: number;
  frozenForS: number;
  outOfBoundsForS: number;
  confidenceLowForS: number;
}

/** What the supervisor knows of the engine and of itself in one beat. */
export interface EngineHealth {
  readonly stopping: boolean;
  /** There is an engine process. */
  readonly running: boolean;
  /** Time since its last frame that came on time, seconds; undefined before the first. */
  readonly frameAgeS: number | undefined;
}
