import { mappingsOf, performersOf, unionOf } from '../../show/model/basis.js';
import type { MappingPlan, Show } from '../../show/model/model.js';
import type { EngineLoss } from '../engine/engine-loss.js';
import type { Look } from '../levels/outgoing-cues.js';
import type { ShowLevels } from '../levels/show-levels.js';
import { wireSlotsOf } from '../levels/take-over.js';

/**
 * By slot, numbered the same in every show, the remaining time of the fade that the engine has begun there, seconds;
 * undefined: what is on it has not been lost. Slots without a fixture are not in it.
 */
export type LossTimes = ReadonlyMap<number, number | undefined>;

/**
 * For light that is live, or was until now. During a cue's crossfade a lamp shows some of each cue: the remaining
 * time is the least that it has in any of them, because a lost performer's light has to be gone by then.
 * @param looks of all cues of one show that may still show
 * @returns undefined if nobody is being lost
 */
export function lossTimes(
  looks: readonly Look[],
  loss: EngineLoss,
  nowS: number,
): LossTimes | undefined {
  if (!loss.isUnderWay) return undefined;
  const times = new Map<number, number | undefined>();
  for (const { show, cue, plan } of looks) {
    const wireSlot = wireSlotsOf(show);
    plan.fixtures.forEach(({ channels }, index) => {
      const drivers = driversIn(show, cue, index);
      const leftS = drivers && loss.leftS(nowS, drivers, show.fixtures[index]?.fadeS);
      for (const slot of channels.flatMap(({ slots }) => slots.map(wireSlot))) {
        times.set(slot, leastOf(times.get(slot), leftS));
      }
    });
  }
  return times;
}

function leastOf(one: number | undefined, other: number | undefined): number | undefined {
  if (one === undefined || other === undefined) return one ?? other;
  return Math.min(one, other);
}

/** Names of those its light depends on in a cue; undefined if any of it depends on nobody. */
function driversIn(show: Show, cue: number, fixture: number): string[] | undefined {
  const levels = show.cues[cue]?.levels;
  const acting = mappingsOf(show.mappings, fixture).filter(
    index => levels === undefined || (levels[index] ?? 0) > 0,
  );
  const people = acting.map(index => performersOf(show, show.mappings[index] as MappingPlan));
  if (people.length === 0 || people.some(one => one.length === 0)) return undefined;
  return unionOf(people).map(p => show.performers[p]?.name ?? '');
}

/**
 * For fixtures on some of these slots, a loss that begins now was begun earlier by the engine, which has promised its
 * end. All others get their whole fade.
 */
export function shortenFades(
  { show, plan, fallback: { fadeS } }: Pick<ShowLevels, 'show' | 'plan' | 'fallback'>,
  times: LossTimes | undefined,
): void {
  if (times === undefined) return;
  const wireSlot = wireSlotsOf(show);
  plan.fixtures.forEach(({ channels }, index) => {
    const mine = channels
      .flatMap(({ slots }) => slots.map(wireSlot))
      .filter(slot => times.has(slot))
      .map(slot => times.get(slot) ?? Number.POSITIVE_INFINITY);
    if (mine.length > 0) fadeS[index] = Math.min(fadeS[index] as number, Math.max(...mine));
  });
}
