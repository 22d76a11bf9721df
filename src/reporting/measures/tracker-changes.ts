import { isForWantOfTracker, whoAsked } from '../../engine/events/event-words.js';
import type { EngineEvent } from '../../engine/events/events.js';
import type { ConfidencePart } from '../../tracking/confidence.js';
import { CAUSES, DOUBTS, type LossCause } from '../causes/causes.js';

/** A position elsewhere this soon after a change of trackers comes from the new one, seconds. */
const CHANGED_WITHIN_S = 2;

/** What people did with the trackers, and the losses that this caused. */
export class TrackerChanges {
  /** The last change of each performer's trackers, in words. */
  readonly #changes = new Map<string, { readonly atS: number; readonly what: string }>();

  /** @param label gives the label of a performer by name */
  constructor(private readonly label: (name: string) => string) {}

  moved(event: Extract<EngineEvent, { kind: 'tracker' }>, nowS: number): void {
    const { tracker, performer, change, takenFrom } = event;
    const who = whoAsked(event);
    const by = who === undefined ? '' : ` by ${who}`;
    const given = `tracker ${tracker} was given to ${this.label(performer)}${by}`;
    const taken = `tracker ${tracker} was taken off${by}`;
    this.#changes.set(performer, { atS: nowS, what: change === 'assigned' ? given : taken });
    if (takenFrom !== undefined) this.#changes.set(takenFrom, { atS: nowS, what: given });
  }

  /** The cause of a loss: what people did with the trackers, if that explains it; otherwise what the watchdog saw. */
  causeOf(
    event: Extract<EngineEvent, { kind: 'performer' }>,
    reason: ConfidencePart | undefined,
    nowS: number,
  ): { readonly cause: LossCause; readonly why: string } | undefined {
    const { performer, cause } = event;
    if (cause === undefined) return undefined;
    if (cause === 'confidence-low' && event.wearsNone !== true && reason !== undefined) {
      return { cause, why: `${CAUSES[cause]}: ${DOUBTS[reason]}` };
    }
    const change = this.#changes.get(performer);
    if (isForWantOfTracker(event)) {
      const how = change === undefined ? '' : `: ${change.what}`;
      return { cause: 'no-tracker', why: `${CAUSES['no-tracker']}${how}` };
    }
    if (cause === 'jumped' && change !== undefined && nowS - change.atS < CHANGED_WITHIN_S) {
      return { cause: 'new-tracker', why: `${CAUSES['new-tracker']}: ${change.what}` };
    }
    return { cause, why: CAUSES[cause] };
  }
}
