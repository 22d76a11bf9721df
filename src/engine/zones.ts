import { stepPresence } from '../mapping/presence.js';
import { signedDistanceM } from '../stage/area.js';
import type { EngineState, PerformerState, ZoneState } from './state.js';

/** Estimates -> presence of each performer in each zone. Those who are not believed keep theirs. */
export function zones(state: EngineState): void {
  for (let p = 0; p < state.performers.length; p++) {
    const performer = state.performers[p] as PerformerState;
    if (!performer.follows) continue;
    const { x, y, z } = performer.estimate;
    for (let i = 0; i < state.zones.length; i++) {
      const zone = state.zones[i] as ZoneState;
      const presence = zone.presences[p];
      if (presence === undefined) continue;
      if (stepPresence(presence, signedDistanceM(zone.area, x, y, z), zone.plan.edge)) {
        state.events.push({
          kind: 'zone',
          performer: performer.name,
          zone: zone.plan.name,
          inside: presence.level > 0,
        });
      }
    }
  }
}
