import { freshnessOf } from '../tracking/freeze.js';
import { type EngineState, NOBODY, type Wearer } from './state.js';

/** Once a tick: which tracker's feed hangs and repeats itself, and whose clock has stepped? */
export function weighFeeds(state: EngineState): void {
  for (const tracker of state.trackers) {
    if (tracker.performer !== NOBODY) weighFrozen(state, tracker);
  }
  state.clocks.forEach((clock, input) => {
    if (clock.steps === state.saidSteps[input]) return;
    state.saidSteps[input] = clock.steps;
    state.events.push({
      kind: 'sensor-clock',
      input: state.show.inputs[input]?.name ?? '',
      steppedS: clock.steppedS,
    });
  });
}

function weighFrozen(state: EngineState, tracker: Wearer): void {
  const performer = state.performers[tracker.performer];
  if (performer === undefined) return;
  const freshness = freshnessOf(performer.track, tracker.place);
  // Doubted at first; said once it is taken for silence, and when it moves again.
  const frozen = tracker.saidFrozen ? freshness < 1 : freshness === 0;
  if (frozen === tracker.saidFrozen) return;
  tracker.saidFrozen = frozen;
  state.events.push({
    kind: 'tracker-frozen',
    tracker: tracker.id,
    performer: performer.name,
    frozen,
  });
}
