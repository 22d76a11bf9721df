import { leavePresence, stepPresence } from '../mapping/presence.js';
import { signedDistanceM } from '../stage/area.js';
import type { EngineState, PerformerState, ZoneState } from './state.js';

/** Estimates -> presence of each performer in each zone. Those who are not believed keep theirs. */
export function zones(state: EngineState): void {
  const { performers, boxes, near } = state;
  const count = state.zones.length;
  for (let p = 0; p < performers.length; p++) {
    const performer = performers[p] as PerformerState;
    if (!performer.follows) continue;
    const { x, y } = performer.estimate;
    for (let i = 0, pair = p * count; i < count; i++, pair++) {
      const box = 4 * i;
      const inBox =
        x >= (boxes[box] as number) &&
        x <= (boxes[box + 1] as number) &&
        y >= (boxes[box + 2] as number) &&
        y <= (boxes[box + 3] as number);
      // Of a large house nearly all pairs: who is far and was far needs no further look.
      if (!inBox && near[pair] === 0) continue;
      near[pair] = inBox ? 1 : 0;
      look(state, performer, p, i, inBox);
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
