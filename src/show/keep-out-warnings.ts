import { clearance } from '../fixtures/keep-out.js';
import { aimAt, panTilt } from '../fixtures/kinematics.js';
import { compileArea, signedDistanceM, withoutHeight } from '../stage/area.js';
import { enumerated } from '../stage/enumerated.js';
import type { Vec3 } from '../stage/vector.js';
import { basisOf } from './basis.js';
import { COMES_UP_RAD, keepOutOf, shinesInto } from './keep-out.js';
import type { FixturePlan, FollowMappingPlan, Show, ZonePlan } from './model.js';
import type { Finding } from './problem.js';

/** What of the keep-outs was probably meant otherwise. */
export function keepOutWarnings(show: Show): Finding[] {
  if (show.keepOuts.length === 0) return [];
  const ofHeads = show.fixtures.flatMap((plan, index) => {
    const keepOut = keepOutOf(show, index);
    if (keepOut === undefined) return [];
    return [
      ...litInBase(show, plan, index),
      ...litInCues(show, plan, index),
      ...litBySet(show, plan, index),
      ...(keepOut.field.assumed ? [assumed(plan, keepOut.field.fixedDeg)] : []),
    ];
  });
  return [...ofHeads, ...unlitZones(show)];
}

function litInBase(show: Show, { name, base }: FixturePlan, index: number): Finding[] {
  const into = shinesInto(show, index, base, COMES_UP_RAD);
  if (into === undefined) return [];
  const message = `fixture "${name}" shines into keep-out "${show.keepOuts[into]?.name}", or within a degree of it, in its base look, and is held dark.`;
  return [{ code: 'keep-out-base', message, path: ['fixtures', name], atKey: true }];
}

/** Of a cue that has it another way than the fixture itself. */
function litInCues(show: Show, { name, base }: FixturePlan, index: number): Finding[] {
  return show.cues.flatMap((cue): Finding[] => {
    const values = cue.base[index] ?? base;
    if (values.every((value, c) => value === base[c])) return [];
    const into = shinesInto(show, index, values, COMES_UP_RAD);
    if (into === undefined) return [];
    const message = `fixture "${name}" shines into keep-out "${show.keepOuts[into]?.name}", or within a degree of it, in cue "${cue.name}", and is held dark.`;
    return [{ code: 'keep-out-base', message, path: ['cues', cue.name], atKey: true }];
  });
}

/** By what a mapping sets over the base. */
function litBySet(show: Show, { name, base, panChannel, tiltChannel }: FixturePlan, index: number) {
  return show.mappings.flatMap((mapping, at): Finding[] => {
    const set = mapping.values.filter(({ fixture }) => fixture === index);
    const aims = set.some(({ channel }) => channel === panChannel || channel === tiltChannel);
    if (!aims || mapping.kind === 'follow') return [];
    const values = [...base];
    for (const { channel, value } of set) values[channel] = value;
    const into = shinesInto(show, index, values, COMES_UP_RAD);
    if (into === undefined) return [];
    const message = `fixture "${name}" shines into keep-out "${show.keepOuts[into]?.name}", or within a degree of it, as this mapping sets it, and is held dark.`;
    return [{ code: 'keep-out-base', message, path: ['mappings', mapping.place ?? at] }];
  });
}

function assumed({ name, profile }: FixturePlan, deg: number): Finding {
  const message = `the beam width of fixture "${name}" is not known, so ${deg} degrees are assumed: its profile "${profile.name}" needs optics: { fieldAngle: degrees }.`;
  return { code: 'keep-out-beam', message, path: ['fixtures', name], atKey: true };
}

/** Zones on which the show looks, and in which whoever is to be followed could be lit by no head of a mapping. */
function unlitZones(show: Show): Finding[] {
  const used = new Set(show.mappings.flatMap(one => [...basisOf(show, one).zones]));
  const zones = show.zones.filter((zone, z) => used.has(z) && zone.around === undefined);
  const shares = new Set<number>();
  return show.mappings.flatMap((mapping, at): Finding[] => {
    if (mapping.kind !== 'follow') return [];
    const rule = mapping.choice?.rule;
    const path = ['mappings', mapping.place ?? at];
    const isShared = rule?.kind === 'share';
    // Heads that share are there for each other.
    if (isShared && shares.has(rule.pool)) return [];
    if (isShared) shares.add(rule.pool);
    const heads = isShared ? headsOfPool(show, rule.pool) : mapping.heads;
    const groups = isShared ? [heads] : heads.map(head => [head]);
    return groups.flatMap(group => unlitBy(show, mapping, group, zones, path));
  });
}

function headsOfPool({ mappings }: Show, pool: number): number[] {
  return mappings.flatMap(one =>
    one.kind === 'follow' && one.choice?.rule.kind === 'share' && one.choice.rule.pool === pool
      ? one.heads
      : [],
  );
}

/** @param heads of which one is enough */
function unlitBy(
  show: Show,
  { performer, offset, choice }: FollowMappingPlan,
  heads: readonly number[],
  zones: readonly ZonePlan[],
  path: Finding['path'],
): Finding[] {
  if (heads.every(head => keepOutOf(show, head) === undefined)) return [];
  const people = choice?.people ?? [performer];
  const offsets = choice?.offsets ?? [offset];
  const dark = zones.flatMap(zone => {
    const unlit = people.filter(
      (p, i) => !heads.some(head => canLight(show, head, p, offsets[i] ?? offset, zone)),
    );
    return unlit.length === 0 ? [] : [{ zone, unlit }];
  });
  if (dark.length === 0) return [];
  const names = heads.map(head => `"${show.fixtures[head]?.name}"`);
  const who = `fixture${names.length === 1 ? '' : 's'} ${enumerated(names)}`;
  const where = dark.map(({ zone, unlit }) => {
    const whom = unlit.map(p => `"${show.performers[p]?.name}"`);
    return `"${zone.name}"${unlit.length === people.length ? '' : ` (for ${enumerated(whom)})`}`;
  });
  const isOne = names.length === 1;
  const touches = `${isOne ? 'its beam' : 'their beams'} would touch a keep-out`;
  // Somewhere, or nowhere, do they get as far as a keep-out.
  const isReached = dark.every(({ zone, unlit }) =>
    heads.some(head =>
      people.some(
        (p, i) => unlit.includes(p) && canLight(show, head, p, offsets[i] ?? offset, zone, 'reach'),
      ),
    ),
  );
  const reach = `${isOne ? 'it' : 'they'} can't reach ${dark.length === 1 ? 'it' : 'all of them'} within ${isOne ? 'its' : 'their'} Pan and Tilt`;
  const why = isReached ? touches : dark.length === 1 ? reach : `${reach}, or ${touches}`;
  const message = `${who} ${isOne ? 'follows, and is' : 'follow, and are'} dark everywhere in zone${dark.length === 1 ? '' : 's'} ${enumerated(where)}: ${why}.`;
  return [{ code: 'keep-out-unlit', message, path }];
}

/** Looked at for each side of the box round a zone. */
const ACROSS = 8;

/** Whether there is anywhere in a zone where its beam, as narrow as it goes, touches nothing; `reach`: whatever it touches. */
function canLight(
  show: Show,
  index: number,
  performer: number,
  offset: Readonly<Vec3>,
  { area }: ZonePlan,
  only?: 'reach',
): boolean {
  const keepOut = keepOutOf(show, index);
  if (keepOut === undefined) return true;
  const compiled = withoutHeight(compileArea(area));
  const { minX, maxX, minY, maxY } = compiled;
  const z = (show.performers[performer]?.wornAtM ?? 0) + offset.z;
  const zoom = show.fixtures[index]?.profile.channels[keepOut.field.zoom];
  const narrowest = zoom === undefined ? 0 : Math.min(zoom.from, zoom.to);
  for (let i = 0; i <= ACROSS; i++) {
    for (let j = 0; j <= ACROSS; j++) {
      const x = minX + (i / ACROSS) * (maxX - minX);
      const y = minY + (j / ACROSS) * (maxY - minY);
      if (signedDistanceM(compiled, x, y, 0) > 0) continue;
      const aim = aimAt(keepOut.head, x + offset.x, y + offset.y, z, 0, 0, panTilt());
      if (!aim.reachable) continue;
      if (only === 'reach' || clearance(keepOut, aim.pan, aim.tilt, narrowest) > 0) return true;
    }
  }
  return false;
}
