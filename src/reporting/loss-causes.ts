import { isForWantOfTracker } from '../engine/event-words.js';
import type { EngineView, PerformerView } from '../engine/view.js';
import type { Condition } from '../safety/watchdog-table.js';
import type { ConfidencePart } from '../tracking/confidence.js';
import { CAUSES, isForAll, isMeant, type LossCause } from './causes.js';
import { inWords } from './words.js';

/** Why a loss began, or went on, from a moment on. */
export interface LossStep {
  readonly atS: number;
  readonly cause: LossCause;
  /** The same in words. */
  readonly why: string;
}

/** From the moment when a performer was no longer believed to that when their light began to return. */
export interface Loss {
  readonly performer: string;
  readonly atS: number;
  /** undefined: not within the recording. */
  untilS: number | undefined;
  /** Why, from its beginning on; the next step where it went on for another reason. */
  readonly steps: LossStep[];
  /** Trackers of theirs that were frozen when it began. */
  readonly frozen: readonly string[];
  /** What was worst about the confidence just then. */
  readonly reason: ConfidencePart | undefined;
  /** Where they were last believed to be, metres. */
  readonly x: number;
  readonly y: number;
  readonly place: string;
}

/** What keeps a performer's light at its safe values just now; undefined: nothing any more. */
export function causeNow(view: EngineView, performer: PerformerView): LossCause | undefined {
  const cause = performer.seen ? performer.cause : unheard(view, performer);
  if (cause === undefined) return undefined;
  const wearsNone = !view.trackers.some(one => one.performer === performer.name);
  return isForWantOfTracker({ cause, ...(wearsNone ? { wearsNone } : {}) }) ? 'no-tracker' : cause;
}

/** An engine that has just begun has heard nobody, and the watchdog has no word for that. */
function unheard({ feedSilent }: EngineView, { stopped }: PerformerView): Condition {
  if (stopped) return 'operator-stop';
  return feedSilent ? 'feed-silent' : 'tracker-silent';
}

/**
 * The loss goes on for a reason of another kind: after an engine that stood still the tracker is not heard, say.
 * That a tracker which comes back is first silent and then doubted is one loss of one kind.
 */
export function goOn(
  steps: LossStep[],
  cause: LossCause,
  atS: number,
  why: string = CAUSES[cause],
): void {
  const last = steps.at(-1);
  if (last === undefined || last.cause === cause) return;
  // What repeated itself and then was not heard at all has changed.
  const died = last.cause === 'frozen' && cause === 'tracker-silent';
  if (isOfTracking(last.cause) && isOfTracking(cause) && !died) return;
  steps.push({ atS, cause, why });
}

/** Of a performer's own tracking, and nobody's wish. */
function isOfTracking(cause: LossCause): boolean {
  return cause === 'new-tracker' || !(isForAll(cause) || isMeant(cause));
}

/** A shorter part of a loss is not told, seconds: until everybody is heard and believed again, it says nothing. */
const LEAST_PART_S = 3;

/** The cause of the longest part of a loss; in words all parts that lasted, with how long where there are several. */
export function lastingCause(
  steps: readonly LossStep[],
  untilS: number,
): Pick<LossStep, 'cause' | 'why'> {
  const [first] = steps as [LossStep];
  const sums = new Map<LossCause, number>();
  steps.forEach(({ atS, cause }, i) => {
    const forS = (steps[i + 1]?.atS ?? untilS) - atS;
    sums.set(cause, (sums.get(cause) ?? 0) + forS);
  });
  const [[cause]] = [...sums].sort((a, b) => b[1] - a[1]) as [[LossCause, number]];
  const told = [...sums].filter(
    ([one, forS]) => one === first.cause || one === cause || forS >= LEAST_PART_S,
  );
  if (told.length < 2) return first;
  const parts = told.map(([one, forS]) => {
    const { why } = steps.find(step => step.cause === one) as LossStep;
    return `${why} (${inWords.duration(forS)})`;
  });
  return { cause, why: parts.join(', then ') };
}

/** What a loss was for, without how long each part of it lasted. */
export function withoutLengths(why: string): string {
  return why.replace(/ \([\d.:]+ (s|min|h)\)/g, '');
}
