import { leavePresence, stepPresence } from '../mapping/presence.js';
import { signedDistanceM } from '../stage/area.js';
import type { EngineState, PerformerState, ZoneState } from './state.js';

/** Estimates -> presence of each performer in each zone. Those who are not believed keep theirs. */
export function zones(state: EngineState): void {
  const { performers, boxes, near, planX: xs, planY: ys } = state;
  const count = performers.length;
  for (let p = 0; p < count; p++) {
    const { estimate, follows } = performers[p] as PerformerState;
    // NaN is in no box and out of none.
    xs[p] = follows ? estimate.x : Number.NaN;
    ys[p] = estimate.y;
  }
  for (let i = 0; i < state.zones.length; i++) {
    const [leastX, mostX] = [boxes[4 * i] as number, boxes[4 * i + 1] as number];
    const [leastY, mostY] = [boxes[4 * i + 2] as number, boxes[4 * i + 3] as number];
    for (let p = 0, pair = i * count; p < count; p++, pair++) {
      const x = xs[p] as number;
      const y = ys[p] as number;
      const inBox = x >= leastX && x <= mostX && y >= leastY && y <= mostY;
      // Of a large house nearly all pairs: who is far and was far needs no further look.
      if (!inBox && (near[pair] === 0 || Number.isNaN(x))) continue;
      near[pair] = inBox ? 1 : 0;
      look(state, performers[p] as PerformerState, p, i, inBox);
    }
  }
}

function look(
  state: EngineState,
  performer: PerformerState,
  p: number,
  index: number,
  inBox: boolean,
): void {
  const zone = state.zones[index] as ZoneState;
  const presence = zone.presences[p];
  if (presence === undefined) return;
  const { x, y, z } = performer.estimate;
  const changed = inBox
    ? stepPresence(presence, signedDistanceM(zone.area, x, y, z), zone.plan.edge)
    : leavePresence(presence);
  if (!changed) return;
  const inside = presence.level > 0;
  if (inside) wake(state, zone, p);
  state.events.push({ kind: 'zone', performer: performer.name, zone: zone.plan.name, inside });
}

/** From now on the mapping has something to do for these. */
function wake(state: EngineState, zone: ZoneState, performer: number): void {
  for (const binding of zone.bindings[performer] ?? []) {
    if (!state.awake.includes(binding)) state.awake.push(binding);
  }
}
