import type { PositionsPlan } from '../model/model.js';
import { UNITS } from '../schema/parts.js';
import type { PositionsFile } from '../schema/positions.js';
import type { ShowFile } from '../schema/schema.js';

export function resolvePositions(file: ShowFile): PositionsPlan[] {
  return Object.entries(file.positions).map(([name, given]): PositionsPlan => {
    const common = {
      name,
      receiver: given.to,
      rateHz: given.rate,
      aheadS: given.ahead,
      performers: numbered(file, given),
      axes: given.axes,
    };
    if (given.protocol === 'psn') return { ...common, protocol: 'psn', unitM: 1 };
    const { address, arguments: args, unit, bundle } = given;
    const unitM = UNITS[unit];
    return { ...common, protocol: 'osc', address, arguments: args, unitM, bundle };
  });
}

/** Whose positions an output has; a performer without a number gets the lowest free one. */
function numbered({ performers }: ShowFile, { performers: chosen, ids }: PositionsFile) {
  const taken = new Set(Object.values(ids));
  let next = 1;
  const free = () => {
    while (taken.has(next)) next += 1;
    taken.add(next);
    return next;
  };
  return Object.entries(performers).flatMap(([name, { label = name }], index) =>
    chosen === undefined || chosen.includes(name)
      ? [{ index, name, label, id: Object.hasOwn(ids, name) ? (ids[name] ?? 0) : free() }]
      : [],
  );
}
