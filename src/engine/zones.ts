import { leavePresence, stepPresence } from '../mapping/presence.js';
import { isFartherThan, signedDistanceM } from '../stage/area.js';
import type { EngineState, PerformerState, ZoneState } from './state.js';

/** Estimates -> presence of each performer in each zone. Those who are not believed keep theirs. */
export function zones(state: EngineState): void {
  const { performers, zones } = state;
  for (let p = 0; p < performers.length; p++) {
    const performer = performers[p] as PerformerState;
    if (!performer.follows) continue;
    const { x, y, z } = performer.estimate;
    for (let i = 0; i < zones.length; i++) {
      const zone = zones[i] as ZoneState;
      const far = isFartherThan(zone.area, zone.reachM, x, y);
      // Of a large house nearly all pairs: who is far and was far needs no further look.
      if (far && zone.near[p] === 0) continue;
      zone.near[p] = far ? 0 : 1;
      const presence = zone.presences[p];
      if (presence === undefined) continue;
      const changed = far
        ? leavePresence(presence)
        : stepPresence(presence, signedDistanceM(zone.area, x, y, z), zone.plan.edge);
      if (!changed) continue;
      const inside = presence.level > 0;
      if (inside) wake(state, zone, p);
      state.events.push({ kind: 'zone', performer: performer.name, zone: zone.plan.name, inside });
    }
  }
}

/** From now on the mapping has something to do for these. */
function wake(state: EngineState, zone: ZoneState, performer: number): void {
  for (const binding of zone.bindings[performer] ?? []) {
    if (!state.awake.includes(binding)) state.awake.push(binding);
  }
}
