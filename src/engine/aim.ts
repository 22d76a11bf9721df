import { aimAt } from '../fixtures/kinematics.js';
import { toDegrees } from '../stage/units.js';
import type { EngineState } from './state.js';

/** Points to aim at -> pan and tilt of the heads that follow somebody. */
export function aim(state: EngineState): void {
  for (const light of state.lights) {
    const { follow, retreat, plan, live } = light;
    if (follow === undefined) continue;
    const performer = state.performers[follow.performer];
    // Fading out, a head holds its aim: the movement waits for the dark.
    if (performer === undefined || !performer.follows || retreat.stage === 'fading') continue;
    const { x, y, z } = performer.estimate;
    const { offset, head, aim: at } = follow;
    aimAt(head, x + offset.x, y + offset.y, z + offset.z, at.pan, at.tilt, at);
    live[plan.panChannel] = toDegrees(at.pan);
    live[plan.tiltChannel] = toDegrees(at.tilt);
    if (at.reachable !== follow.saidReachable) {
      follow.saidReachable = at.reachable;
      state.events.push({
        kind: 'reach',
        fixture: plan.name,
        reachable: at.reachable,
        missedByDeg: toDegrees(at.missedBy),
      });
    }
  }
}
