import type { Engine } from '../engine.js';
import { takeRows } from '../values/places.js';
import type { SameSignals } from './same-signals.js';

/**
 * The state of signals and conditions, and the numbers that came in for them. It is kept only if the signal is the
 * same, down to everything it is made of, because its unit may differ otherwise. Others begin as at a start.
 */
export function takeSignals(
  next: Engine,
  old: Engine,
  { sources, whole, conditions }: SameSignals,
): void {
  const { network } = next.signals;
  const was = old.signals.network;
  next.signals.beganS = old.signals.beganS;
  const { raw, out, kept, keptS, begins, doubts } = network;
  takeRows({ raw, keptS }, { ...was }, sources);
  takeRows({ out, kept, begins, doubts }, { ...was }, whole);
  whole.forEach((place, at) => {
    if (place < 0) begins[at] = 1;
  });
  for (const { at, source } of network.nodes) {
    if (source?.kind !== 'heading') continue;
    const same = was.nodes.find(one => one.at === sources[at] && !one.condition)?.source;
    // Somebody who stands still keeps their direction.
    if (same?.kind === 'heading') Object.assign(source, { lastX: same.lastX, lastY: same.lastY });
  }
  takeRows({ ...next.reception.numbers }, { ...old.reception.numbers }, sources);
  for (const one of next.signals.heard) {
    const place = sources[one.at] as number;
    const same = old.signals.heard.find(({ at }) => at === place);
    one.saidSilent = same?.saidSilent ?? false;
  }
  takeRows({ ...network.conditions }, { ...was.conditions }, conditions);
  // A held condition stays held, by its new time.
  const { held, plans } = network.conditions;
  plans.forEach(({ holdS }, at) => {
    held.surely[at] = Math.min(held.surely[at] as number, holdS);
    held.possibly[at] = Math.min(held.possibly[at] as number, holdS);
  });
}
