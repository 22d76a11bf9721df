import { isDeepStrictEqual } from 'node:util';
import type { DeskInputPlan, FixturePlan, InputPlan, Show } from '../../show/model/model.js';
import { sendsAlike } from './sends-alike.js';

/** Why not, in plain words. */
export const SENDS_OTHERWISE = 'its name, outputs, inputs or patch changed';

/**
 * Whether a show can go on from the light of another one without going through the safe look: its name, outputs and
 * inputs are the same, and every slot is the same channel of the same fixture. Performers, zones, looks, mappings,
 * limits, and where fixtures hang may differ.
 */
export function goesOn(running: Show, next: Show): boolean {
  if (!sendsAlike(running, next) || running.fixtures.length !== next.fixtures.length) return false;
  if (!isDeepStrictEqual(running.inputs.map(socketOf), next.inputs.map(socketOf))) return false;
  if (!isDeepStrictEqual(running.desk.map(heardAt), next.desk.map(heardAt))) return false;
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

function socketOf({ carries, listen, port, allow, maxDatagramBytes, psn }: InputPlan) {
  const isPsn = psn !== undefined;
  return { carries, listen, port, allow, maxDatagramBytes, isPsn, group: psn?.group };
}

function heardAt({ name, protocol, universe, interface: on, ground }: DeskInputPlan) {
  return { name, protocol, universe, on, ground };
}

function patchOf({ universe, firstSlot, hazards, strobes, lagS, ground }: FixturePlan) {
  return { universe, firstSlot, hazards, strobes, lagS, ground };
}
