import { distanceOutside } from '../stage/vector.js';
import { isInDoubt } from '../tracking/clock.js';
import { assessConfidence } from '../tracking/confidence.js';
import { predict } from '../tracking/predict.js';
import type { EngineState, PerformerState } from './state.js';

/** Tracks -> one estimate a performer, predicted to the moment at which the light will arrive. */
export function follow(state: EngineState, nowS: number): void {
  const { bounds, tracking } = state.show;
  const atS = nowS + tracking.outputLatencyS;
  for (const performer of state.performers) {
    const { track, estimate, observation, confidence } = performer;
    if (!observation.seen) continue;
    predict(track, atS, estimate, nowS);
    observation.outsideM = distanceOutside(bounds, estimate.x, estimate.y, estimate.z);
    observation.confidence = assessConfidence(
      track,
      estimate,
      nowS,
      observation.outsideM,
      confidence,
      tracking.confidence,
    );
    observation.clockGone = isClockGone(state, performer.input);
    observation.silentForS = nowS - (performer.lastHeardS ?? Number.NEGATIVE_INFINITY);
    // Who isn't heard at all is silent, and not frozen.
    const heard = observation.silentForS < tracking.confidence.ageLostS;
    observation.fresh = heard ? confidence.frozen : 1;
  }
  for (const { performer, lagS, estimate } of state.leads) {
    const { track, observation } = state.performers[performer] as PerformerState;
    if (observation.seen) predict(track, atS + lagS, estimate, nowS);
  }
}

/** Whether the stamps or time tags that an input should bring are missing, or can't be right. */
function isClockGone({ show, clocks, untagged }: EngineState, input: number): boolean {
  if (show.inputs[input]?.isStamped !== true) return false;
  const clock = clocks[input];
  return untagged[input] === 1 || (clock !== undefined && isInDoubt(clock));
}
