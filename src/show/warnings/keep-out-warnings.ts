import { clearance } from '../../fixtures/keep-out.js';
import { aimAt, beamDirection, compileHead, panTilt } from '../../fixtures/kinematics.js';
import { compileArea, signedDistanceM, withoutHeight } from '../../stage/area.js';
import { enumerated } from '../../stage/enumerated.js';
import { isFarOff, metresAway, unitHint } from '../../stage/unit-guess.js';
import { type Degrees, toRadians } from '../../stage/units.js';
import { type Vec3, vec3 } from '../../stage/vector.js';
import { angleTo, seenFrom, type VolumeOptions } from '../../stage/volume.js';
import { basisOf } from '../model/basis.js';
import { COMES_UP_RAD, keepOutOf, shinesInto } from '../model/keep-out.js';
import type { FixturePlan, FollowMappingPlan, Show, ZonePlan } from '../model/model.js';
import type { Finding } from '../problems/problem.js';

/** What was probably not meant in the keep-outs. */
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
  return [...ofHeads, ...unlitZones(show), ...idleKeepOuts(show)];
}

/** Step of Pan and Tilt for checking where a head can shine, degrees. */
const LOOKED_EVERY_DEG = 4;
const WHOLE_TURN_DEG = 360;

/** Keep-outs into which nothing can shine: too far off, without heads, or out of reach. */
function idleKeepOuts(show: Show): Finding[] {
  return show.keepOuts.flatMap(({ name, volume, heads }): Finding[] => {
    const path = ['keepOut', name];
    const corners = cornersOf(volume);
    if (corners.every(at => isFarOff(at, show.bounds))) {
      const [{ x, y, z }] = corners as [Vec3];
      const away = Math.round(metresAway(x, y, show.bounds));
      const where = isFarOff({ x, y, z: 0 }, show.bounds)
        ? `${away} m from the stage`
        : `at a height of ${Math.round(z)} m`;
      const message = `keep-out "${name}" is ${where}, outside any building.${unitHint(corners, show.bounds)}`;
      return [{ code: 'position-far', message, path, atKey: true }];
    }
    const plans = heads.flatMap(index => show.fixtures[index] ?? []);
    if (plans.some(plan => canShineInto(plan, volume))) return [];
    const why =
      plans.length === 0
        ? 'no head of the show has to keep out of it'
        : `no Pan and Tilt of ${enumerated(plans.map(plan => `"${plan.name}"`))} can reach it`;
    const message = `nothing can shine into keep-out "${name}": ${why}.`;
    return [{ code: 'keep-out-idle', message, path, atKey: true }];
  });
}

function cornersOf(volume: VolumeOptions): Vec3[] {
  if (volume.kind === 'ball') return [{ ...volume.centre }];
  const { shape, height } = volume.area;
  const z = height?.fromM ?? 0;
  return shape.kind === 'polygon'
    ? shape.points.map(([x, y]) => vec3(x, y, z))
    : [vec3(shape.centre.x, shape.centre.y, z)];
}

/** Whether its beam, as wide as it goes, touches it anywhere within Pan and Tilt. */
function canShineInto({ head: options, profile }: FixturePlan, volume: VolumeOptions): boolean {
  if (options === undefined) return false;
  const head = compileHead(options);
  const seen = seenFrom(volume, options.position);
  const direction = vec3(0, 0, 0);
  const { channels, optics } = profile;
  const zoom = channels.find(({ attribute }) => attribute === 'Zoom');
  const widestDeg = Math.max(zoom?.from ?? 0, zoom?.to ?? 0, optics.fieldAngleDeg ?? 0);
  const touches = toRadians((widestDeg / 2 + LOOKED_EVERY_DEG) as Degrees);
  const [pans, tilts] = (['Pan', 'Tilt'] as const).map(axis => {
    const { from = 0, to = 0 } = channels.find(({ attribute }) => attribute === axis) ?? {};
    const least = Math.min(from, to);
    // After a whole turn it is where it was.
    const most = Math.min(Math.max(from, to), least + WHOLE_TURN_DEG);
    const count = Math.max(1, Math.ceil((most - least) / LOOKED_EVERY_DEG));
    return Array.from({ length: count + 1 }, (_, i) => least + ((most - least) * i) / count);
  }) as [number[], number[]];
  return tilts.some(tilt =>
    pans.some(pan => {
      beamDirection(head, toRadians(pan as Degrees), toRadians(tilt as Degrees), direction);
      return angleTo(seen, direction.x, direction.y, direction.z) <= touches;
    }),
  );
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

/** Zones that the show uses, in which no head of a mapping could light the performer it follows. */
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
