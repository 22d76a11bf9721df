import { isDeepStrictEqual } from 'node:util';
import type { DeskInputPlan, FixturePlan, InputPlan, Show } from '../../show/model/model.js';
import { enumerated } from '../../stage/enumerated.js';

/**
 * What prevents a show from going on from the light of another one without going through the safe look: its name,
 * outputs and inputs have to be the same, and every slot the same channel of the same fixture. Performers, zones, looks,
 * mappings, limits, where fixtures hang, and whom an input listens to may differ.
 * @returns in plain words, all of it; undefined: nothing
 */
export function sendsOtherwise(running: Show, next: Show): string | undefined {
  const changed = [
    ...(running.name === next.name ? [] : ['name']),
    ...(isDeepStrictEqual(running.outputs, next.outputs) ? [] : ['outputs']),
    ...(hearsAlike('positions', running, next) ? [] : ['inputs']),
    ...(hearsAlike('orders', running, next) ? [] : ['operator input']),
    ...(isDeepStrictEqual(running.desk.map(heardAt), next.desk.map(heardAt)) ? [] : ['desk input']),
    ...(isPatchedAlike(running, next) ? [] : ['patch']),
  ];
  return changed.length === 0 ? undefined : `its ${enumerated(changed)} changed`;
}

function hearsAlike(what: InputPlan['carries'], running: Show, next: Show): boolean {
  const of = ({ inputs }: Show) => inputs.filter(({ carries }) => carries === what).map(socketOf);
  return isDeepStrictEqual(of(running), of(next));
}

function isPatchedAlike(running: Show, next: Show): boolean {
  if (running.fixtures.length !== next.fixtures.length) return false;
  if (!isDeepStrictEqual(running.universes, next.universes)) return false;
  const before = new Map(running.fixtures.map(one => [one.name, one]));
  const profiles = new Map<unknown, unknown>();
  return next.fixtures.every(one => {
    const was = before.get(one.name);
    if (was === undefined || !isDeepStrictEqual(patchOf(was), patchOf(one))) return false;
    // Fixtures of a kind share their profile.
    if (profiles.get(was.profile) === one.profile) return true;
    profiles.set(was.profile, one.profile);
    return isDeepStrictEqual(was.profile, one.profile);
  });
}

function socketOf({ listen, port, maxDatagramBytes, psn }: InputPlan) {
  const isPsn = psn !== undefined;
  return { listen, port, maxDatagramBytes, isPsn, group: psn?.group };
}

function heardAt({ name, protocol, universe, interface: on, ground }: DeskInputPlan) {
  return { name, protocol, universe, on, ground };
}

function patchOf({ universe, firstSlot, hazards, strobes, lagS, ground }: FixturePlan) {
  return { universe, firstSlot, hazards, strobes, lagS, ground };
}
