export interface TimedCondition {
  /** How long the condition has to last before it acts, seconds. */
  readonly afterS: number;
  /** Time for intensity to go from live to safe, seconds. */
  readonly fadeS: number;
}

export interface WatchdogOptions {
  readonly engineSilent: TimedCondition;
  readonly operatorStop: { readonly fadeS: number };
  readonly deskLost: TimedCondition;
  readonly feedSilent: TimedCondition;
  readonly trackerSilent: TimedCondition;
  readonly sensorClockGone: TimedCondition;
  readonly frozen: TimedCondition;
  readonly jumped: { readonly fadeS: number };
  readonly outOfBounds: TimedCondition & { readonly marginM: number };
  readonly confidenceLow: TimedCondition & { readonly below: number };
  /** How long a performer (or the engine) must be well before the light trusts them again, seconds. */
  readonly rearmS: number;
  /** How long trust takes from safe back to live, seconds. */
  readonly returnS: number;
  /** How long a head takes between its live and its safe aim, in the dark, seconds. */
  readonly moveS: number;
  /** Fade out, and fade in again, of a head that makes a turn that must not be seen, seconds. */
  readonly turnS: number;
}

/**
 * Every figure is common practice, not a standard's: half a second of silence is five missed
 * reports of a slow (10 Hz) tracker; two seconds is a fade that an audience reads as a cue and not
 * as a fault. E1.31 6.7.1 calls a source lost after 2.5 s, so the engine must be given up well
 * before that.
 */
export const DEFAULT_WATCHDOG: WatchdogOptions = {
  engineSilent: { afterS: 0.25, fadeS: 2 },
  // A person who presses stop wants to see it work.
  operatorStop: { fadeS: 1 },
  // Three missed repeats of a desk that repeats its heartbeat each second.
  deskLost: { afterS: 3, fadeS: 2 },
  feedSilent: { afterS: 0.5, fadeS: 2 },
  trackerSilent: { afterS: 0.5, fadeS: 2 },
  // Longer than the 0.4 s in which a clock that has stepped is followed: that is no loss.
  sensorClockGone: { afterS: 0.5, fadeS: 2 },
  frozen: { afterS: 0.5, fadeS: 2 },
  jumped: { fadeS: 0.5 },
  outOfBounds: { afterS: 0.5, fadeS: 2, marginM: 0.5 },
  confidenceLow: { afterS: 0.5, fadeS: 2, below: 0.35 },
  rearmS: 1,
  returnS: 1.5,
  moveS: 1,
  turnS: 0.5,
};

/** Frames come once a period: with less than two periods, a frame a little late would be a loss. */
export const LEAST_ENGINE_PERIODS = 2;
const DEFAULT_ENGINE_PERIODS = 2.5;

/** How long an engine may be silent if the show doesn't say. @param rateHz of its frames */
export function defaultEngineAfterS(rateHz: number): number {
  return Math.max(DEFAULT_WATCHDOG.engineSilent.afterS, DEFAULT_ENGINE_PERIODS / rateHz);
}
