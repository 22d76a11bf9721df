import type { FixturePlan, OutputPlan } from '../model/model.js';
import { SLOTS_PER_UNIVERSE } from '../model/model.js';
import type { ShowFile } from '../schema/schema.js';
import { universesOf } from './universes.js';

const WHOLE: readonly [number, number][] = [[0, SLOTS_PER_UNIVERSE]];

export function resolveOutputs(
  file: ShowFile,
  universes: readonly number[],
  fixtures: readonly FixturePlan[],
): OutputPlan[] {
  return Object.entries(file.outputs).map(([name, output]): OutputPlan => {
    const saysOurs = output.protocol === 'sacn' && output.addressPriority;
    const common = {
      name,
      interface: output.interface,
      rateHz: output.rate,
      universes: (universesOf(output) ?? []).map(universe => {
        const index = universes.indexOf(universe);
        const onWire = universe + output.offset;
        if (!saysOurs) return { index, onWire };
        // We also send what passes from a desk: at priority 0 nobody would take it from us.
        const isOnDesk = Object.values(file.desk).some(({ ground }) => ground === universe);
        const ours = isOnDesk ? WHOLE : slotsOf(fixtures, index);
        return { index, onWire, ours };
      }),
    };
    if (output.protocol === 'artnet') {
      const { to, poll, sync } = output;
      return { ...common, protocol: 'artnet', to, poll, ...(sync ? { sync } : {}) };
    }
    const { to, priority, sync } = output;
    return { ...common, protocol: 'sacn', to, priority, ...(sync === undefined ? {} : { sync }) };
  });
}

/** Slots of a universe that fixtures have, from 0. */
function slotsOf(fixtures: readonly FixturePlan[], universe: number): [number, number][] {
  return fixtures
    .filter(one => one.universe === universe)
    .map(one => [one.firstSlot % SLOTS_PER_UNIVERSE, one.profile.footprint]);
}
