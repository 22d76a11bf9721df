import { clearance } from '../fixtures/keep-out.js';
import { aimAt, panTilt } from '../fixtures/kinematics.js';
import { compileArea, signedDistanceM, withoutHeight } from '../stage/area.js';
import { enumerated } from '../stage/enumerated.js';
import { basisOf } from './basis.js';
import { keepOutOf, shinesInto } from './keep-out.js';
import type { FixturePlan, FollowMappingPlan, Show, ZonePlan } from './model.js';
import type { Finding } from './problem.js';

/** What of the keep-outs was probably meant otherwise. */
export function keepOutWarnings(show: Show): Finding[] {
  if (show.keepOuts.length === 0) return [];
  return show.fixtures.flatMap((plan, index) => {
    const keepOut = keepOutOf(show, index);
    if (keepOut === undefined) return [];
    return [
      ...litInBase(show, plan, index),
      ...(keepOut.field.assumed ? [assumed(plan, keepOut.field.fixedDeg)] : []),
      ...unlitZones(show, plan, index),
    ];
  });
}

function litInBase(show: Show, { name, base }: FixturePlan, index: number): Finding[] {
  const into = shinesInto(show, index, base);
  if (into === undefined) return [];
  const message = `fixture "${name}" shines into keep-out "${show.keepOuts[into]?.name}" in its base look, and is held dark.`;
  return [{ code: 'keep-out-base', message, path: ['fixtures', name], atKey: true }];
}

function assumed({ name, profile }: FixturePlan, deg: number): Finding {
  const message = `how wide the beam of fixture "${name}" is is not known, and ${deg} degrees are taken: its profile "${profile.name}" needs optics: { fieldAngle: degrees }.`;
  return { code: 'keep-out-beam', message, path: ['fixtures', name], atKey: true };
}

/** Zones on which the show looks, and in which a head that follows could light nobody. */
function unlitZones(show: Show, { name }: FixturePlan, index: number): Finding[] {
  return show.mappings.flatMap((mapping, at): Finding[] => {
    if (mapping.kind !== 'follow' || !mapping.heads.includes(index)) return [];
    const used = new Set(show.mappings.flatMap(one => [...basisOf(show, one).zones]));
    const dark = show.zones.filter(
      (zone, z) =>
        used.has(z) && zone.around === undefined && !canLight(show, index, mapping, zone),
    );
    if (dark.length === 0) return [];
    const names = enumerated(dark.map(one => `"${one.name}"`));
    const message = `fixture "${name}" follows, and is dark everywhere in zone${dark.length === 1 ? '' : 's'} ${names}: its beam would touch a keep-out.`;
    return [{ code: 'keep-out-unlit', message, path: ['mappings', mapping.place ?? at] }];
  });
}

/** Looked at for each side of the box round a zone. */
const ACROSS = 8;

/** Whether there is anywhere in a zone where its beam, as narrow as it goes, touches nothing. */
function canLight(
  show: Show,
  index: number,
  { performer, offset }: FollowMappingPlan,
  { area }: ZonePlan,
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
      if (aim.reachable && clearance(keepOut, aim.pan, aim.tilt, narrowest) > 0) return true;
    }
  }
  return false;
}
