import { isForWantOfTracker } from '../../engine/events/event-words.js';
import type { EngineView, PerformerView } from '../../engine/view.js';
import type { Condition } from '../../safety/watchdog-table.js';
import type { ConfidencePart } from '../../tracking/confidence.js';
import { CAUSES, DOUBTS, isForAll, isMeant, type LossCause } from './causes.js';

/** Why a loss began, or went on, from a moment on. */
export interface LossStep {
  readonly atS: number;
  readonly cause: LossCause;
  /** The same in words. */
  readonly why: string;
}

/** What a loss was for in one part of it; all parts of it together are as long as the loss. */
export interface LossPart extends LossStep {
  readonly forS: number;
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
  /** While confidence was low, for how long each part of it was the worst, seconds. */
  readonly doubtsS: Map<ConfidencePart, number>;
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

/** Tracked well for so long is no flicker, seconds: from its beginning on they wait for the light. */
const WAITS_AFTER_S = 3;

/** Since when those who are lost are tracked well again. */
export class Waits {
  readonly #sinceS = new Map<string, number>();

  /** @returns since when they wait for the light; undefined: they don't, or who knows yet */
  sinceS({ name, phase }: Pick<PerformerView, 'name' | 'phase'>, nowS: number): number | undefined {
    if (phase !== 'rearming') {
      this.#sinceS.delete(name);
      return undefined;
    }
    const sinceS = this.#sinceS.get(name) ?? nowS;
    this.#sinceS.set(name, sinceS);
    return nowS - sinceS >= WAITS_AFTER_S ? sinceS : undefined;
  }
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

/** What was worst for most of the time in which confidence was low, which need not be what began it. */
export function mainDoubt({ doubtsS, reason }: Pick<Loss, 'doubtsS' | 'reason'>) {
  let main = reason;
  let mostS = 0;
  for (const [part, forS] of doubtsS) {
    if (forS <= mostS) continue;
    main = part;
    mostS = forS;
  }
  return main;
}

/** The steps, with what was worst for most of the time. */
export function withMainDoubt(loss: Pick<Loss, 'steps' | 'doubtsS' | 'reason'>): LossStep[] {
  const main = mainDoubt(loss);
  if (main === undefined) return loss.steps;
  const why = `${CAUSES['confidence-low']}: ${DOUBTS[main]}`;
  return loss.steps.map(step => (step.cause === 'confidence-low' ? { ...step, why } : step));
}

/** Of a performer's own tracking, and nobody's wish. */
function isOfTracking(cause: LossCause): boolean {
  if (cause === 'waiting') return false;
  return cause === 'new-tracker' || !(isForAll(cause) || isMeant(cause));
}
