import { dropRetreat } from '../safety/retreat.js';
import { dropWatch } from '../safety/watchdog.js';
import { restAtSafe } from './heads.js';
import type { EngineState } from './state.js';

/**
 * After a tick that came so late that the supervisor has given the engine up: it takes the light to the safe
 * look now, and looks at frames again only when that is done. The engine begins there too. Going on from
 * where it stood, it might still be fading a lost performer out when the supervisor comes back to it, and
 * that light would come up once more with nobody tracked.
 */
export function beginAfterStall(state: EngineState, stalledS: number): void {
  for (const { watch, observation, name } of state.performers) {
    const from = watch.phase;
    dropWatch(watch);
    if (from === watch.phase) continue;
    state.events.push({
      kind: 'performer',
      performer: name,
      from,
      to: watch.phase,
      cause: 'engine-late',
      silentForS: observation.silentForS,
      confidence: observation.confidence,
    });
  }
  for (const trust of state.trusts) trust.level = 0;
  for (const light of state.lights) {
    dropRetreat(light.retreat);
    light.turning = false;
    if (light.pointing !== undefined) restAtSafe(light.pointing, light.plan);
  }
  state.table.steady.fill(0);
  for (const output of state.hazards) output.gate = 'spent';
  state.events.push({ kind: 'stalled', stalledS });
}
