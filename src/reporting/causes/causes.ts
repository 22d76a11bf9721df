import { type Condition, WATCHDOG_TABLE } from '../../safety/watchdog-table.js';
import type { ConfidencePart } from '../../tracking/confidence.js';

/** Why a performer's light was lost: a row of the watchdog's table, or what people did with the trackers. */
export type LossCause =
  | Condition
  /** The last of their trackers was taken off: no tracker of theirs was silent. */
  | 'no-tracker'
  /** They were given another tracker, which put them elsewhere: the position didn't jump. */
  | 'new-tracker'
  /** Tracked well again, but the head is not dark yet, or they are not re-armed. */
  | 'waiting';

/** Why, in words. */
export const CAUSES: Readonly<Record<LossCause, string>> = {
  shutdown: 'the daemon was stopped',
  'engine-dead': 'the engine crashed',
  'engine-late': 'the engine was late',
  'operator-stop': 'stopped by an operator',
  'desk-lost': 'the desk was not heard',
  'feed-silent': 'nobody was heard',
  'tracker-silent': 'the tracker was not heard',
  'sensor-clock-gone': "the tracking system's clock was wrong",
  jumped: 'the position jumped',
  frozen: 'the tracker was frozen',
  'out-of-bounds': 'off the stage',
  'confidence-low': 'confidence was low',
  'output-down': 'an output was down',
  'show-reload': 'the show was reloaded',
  'no-tracker': 'wore no tracker',
  'new-tracker': 'was given another tracker',
  waiting: 'tracked well again and waiting for the light',
};

/** The worst part of the confidence when it was too low, in words. */
export const DOUBTS: Readonly<Record<ConfidencePart, string>> = {
  age: 'reports were late or missing',
  frozen: 'the position did not change',
  gate: 'most reports were too far off',
  elsewhere: 'reports kept giving another place',
  conflict: 'their trackers were in different places',
  bounds: 'off the stage',
  speed: 'faster than a person moves',
  quality: 'the tracker gave its own reports a low quality',
  spread: 'the place was too uncertain',
};

/** Why an engine was replaced by the next one. */
export type EngineEnd =
  | 'reloaded'
  | 'crashed'
  | 'killed'
  | 'hung'
  | 'grew'
  | 'slow to start'
  | 'did not start';

/** Nobody knows who killed it; it did not fail by itself. */
const KILLED = 'the engine was killed (SIGKILL)';

export function isKilled(why: string): boolean {
  return why.startsWith(KILLED);
}

/** How an engine ended, from what the supervisor saw. */
export function endOf(how: Exclude<EngineEnd, 'reloaded'>, reason: string): EngineEnd {
  return how === 'crashed' && reason.includes('ended by SIGKILL') ? 'killed' : how;
}

/** The cause of a performer's loss when the engine has ended. */
export const ENGINE_ENDS: Readonly<
  Record<EngineEnd, { readonly cause: LossCause; readonly why: string }>
> = {
  reloaded: { cause: 'show-reload', why: CAUSES['show-reload'] },
  crashed: { cause: 'engine-dead', why: CAUSES['engine-dead'] },
  killed: { cause: 'engine-dead', why: KILLED },
  hung: { cause: 'engine-dead', why: 'the engine hung' },
  grew: { cause: 'engine-dead', why: 'the engine had grown too large' },
  'slow to start': { cause: 'engine-dead', why: 'the engine was slow to start' },
  'did not start': { cause: 'engine-dead', why: 'the engine did not start' },
};

/** Whether it is one decision for everybody, and reported as one. */
export function isForAll(cause: LossCause): boolean {
  return WATCHDOG_TABLE.some(row => row.condition === cause && row.scope !== 'one performer');
}

/** Whether people did it on purpose: nothing to fix. */
export function isMeant(cause: LossCause): boolean {
  return ['operator-stop', 'no-tracker', 'new-tracker', 'shutdown', 'show-reload'].includes(cause);
}

/** Whether the place matters: elsewhere it might not have happened. */
export function isOfThePlace(cause: LossCause): boolean {
  return !isForAll(cause) && !isMeant(cause) && cause !== 'frozen';
}
