import { isForWantOfTracker } from '../../engine/events/event-words.js';
import type { EngineView, PerformerView } from '../../engine/view.js';
import type { Condition } from '../../safety/watchdog-table.js';
import type { ConfidencePart } from '../../tracking/confidence.js';
import { CAUSES, DOUBTS, isForAll, isMeant, type LossCause } from './causes.js';

/** Why a loss began, or continued, from a moment on. */
export interface LossStep {
  readonly atS: number;
  readonly cause: LossCause;
  /** The same in words. */
  readonly why: string;
}

/** The cause of one part of a loss; all parts together are as long as the loss. */
export interface LossPart extends LossStep {
  readonly forS: number;
}

/** From the moment when a performer was no longer believed to that when their light began to return. */
export interface Loss {
  readonly performer: string;
  readonly atS: number;
  /** undefined: not within the recording. */
  untilS: number | undefined;
  /** Its causes from the beginning; another step for each time it continued for another reason. */
  readonly steps: LossStep[];
  /** Those of their trackers that were frozen when it began. */
  readonly frozen: readonly string[];
  /** The worst part of the confidence when it began. */
  readonly reason: ConfidencePart | undefined;
  /** While confidence was low, for how long each part of it was the worst, seconds. */
  readonly doubtsS: Map<ConfidencePart, number>;
  /** Where they were last believed to be, metres. */
  readonly x: number;
  readonly y: number;
  readonly place: string;
}

/** What keeps a performer's light at its safe values now; undefined: nothing any more. */
export function causeNow(view: EngineView, performer: PerformerView): LossCause | undefined {
  const cause = performer.seen ? performer.cause : unheard(view, performer);
  if (cause === undefined) return undefined;
  const wearsNone = !view.trackers.some(one => one.performer === performer.name);
  return isForWantOfTracker({ cause, ...(wearsNone ? { wearsNone } : {}) }) ? 'no-tracker' : cause;
}

/** An engine that has just begun has heard nobody yet; the watchdog's table has no row for that. */
function unheard({ feedSilent }: EngineView, { stopped }: PerformerView): Condition {
  if (stopped) return 'operator-stop';
  return feedSilent ? 'feed-silent' : 'tracker-silent';
}

/** Somebody who is tracked well for this long waits for the light, from the beginning of that time; less is a flicker, seconds. */
const WAITS_AFTER_S = 3;

/** Since when lost performers have been tracked well again. */
export class Waits {
  readonly #sinceS = new Map<string, number>();

  /** @returns since when they wait for the light; undefined: they don't, or it isn't certain yet */
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
 * Adds a step if the loss continues for a reason of another kind: after an engine that stood still, the tracker is
 * not heard, for example. A returning tracker that is first silent and then doubted is one kind.
 */
export function goOn(
  steps: LossStep[],
  cause: LossCause,
  atS: number,
  why: string = CAUSES[cause],
): void {
  const last = steps.at(-1);
  if (last === undefined || kindOf(last) === kindOf({ cause, why })) return;
  // A frozen tracker that then falls silent is another kind too.
  const died = last.cause === 'frozen' && cause === 'tracker-silent';
  if (isOfTracking(last.cause) && isOfTracking(cause) && !died) return;
  steps.push({ atS, cause, why });
}

/**
 * What is told as one part of a loss. That nothing left the machine is another part than the way back by the safe look
 * that follows.
 */
export function kindOf({ cause, why }: Pick<LossStep, 'cause' | 'why'>): string {
  return cause === 'output-down' ? why : cause;
}

/** The part that was worst for most of the time in which confidence was low; it need not be the one that began it. */
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

/** The steps, with the main doubt as the reason for low confidence. */
export function withMainDoubt(loss: Pick<Loss, 'steps' | 'doubtsS' | 'reason'>): LossStep[] {
  const main = mainDoubt(loss);
  if (main === undefined) return loss.steps;
  const why = `${CAUSES['confidence-low']}: ${DOUBTS[main]}`;
  return loss.steps.map(step => (step.cause === 'confidence-low' ? { ...step, why } : step));
}

/** Whether a cause lies in the performer's own tracking, and nobody wanted it. */
function isOfTracking(cause: LossCause): boolean {
  if (cause === 'waiting') return false;
  return cause === 'new-tracker' || !(isForAll(cause) || isMeant(cause));
}
