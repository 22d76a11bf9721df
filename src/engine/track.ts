import { distanceOutside } from '../stage/vector.js';
import { assessConfidence } from '../tracking/confidence.js';
import { predict } from '../tracking/predict.js';
import type { EngineState } from './state.js';

/** Tracks -> one estimate a performer, predicted to the moment at which the light will arrive. */
export function follow(state: EngineState, nowS: number): void {
  const { bounds, tracking } = state.show;
  const atS = nowS + tracking.outputLatencyS;
  for (const performer of state.performers) {
    const { track, estimate, observation, confidence } = performer;
    if (!observation.seen) continue;
    predict(track, atS, estimate);
    observation.outsideM = distanceOutside(bounds, estimate.x, estimate.y, estimate.z);
    observation.confidence = assessConfidence(
      track,
      estimate,
      nowS,
      observation.outsideM,
      confidence,
      tracking.confidence,
    );
    observation.silentForS = nowS - (performer.lastHeardS ?? Number.NEGATIVE_INFINITY);
  }
}
