import { isInsideBounds, selfCrossing } from '../../stage/polygon.js';
import type { Finding } from '../problems/problem.js';
import { areaOf } from '../resolve/areas.js';
import { carrierOf, type ShowFile, type ZoneFile } from '../schema/schema.js';
import { NameCheck } from './names.js';

/** The stage, its zones and its exits. */
export function checkStage(show: ShowFile): Finding[] {
  const findings: Finding[] = [];
  for (const axis of ['x', 'y', 'z'] as const) {
    findings.push(...reversed(show.stage[axis], ['stage', axis], 'metres'));
  }
  const names = new NameCheck(show);
  for (const [name, exit] of Object.entries(show.exits)) {
    findings.push(...shapeFindings(exit, ['exits', name], `exit "${name}"`));
  }
  for (const [name, zone] of Object.entries(show.zones)) {
    const path = ['zones', name];
    const faults = shapeFindings(zone, path, `zone "${name}"`);
    findings.push(...faults);
    findings.push(...heightFindings(zone.height, show.stage.z, path, name));
    if (faults.some(({ code }) => code !== 'range-reversed')) continue;
    const carrier = carrierOf(zone);
    if (carrier !== undefined) {
      names.one('performers', carrier, [...path, 'circle', 'around']);
      // It moves with a performer.
      continue;
    }
    const { x, y } = show.stage;
    const area = areaOf(zone);
    // If the ends of the stage are mixed up, everything is outside it.
    const isStageRight = x[0] < x[1] && y[0] < y[1];
    if (isStageRight && area !== undefined && !isInsideBounds(area, { x, y })) {
      findings.push({
        code: 'zone-outside-stage',
        message: `zone "${name}" reaches outside the stage, which is x ${x[0]} to ${x[1]} and y ${y[0]} to ${y[1]} metres.`,
        path: [...path, zone.circle === undefined ? 'polygon' : 'circle'],
      });
    }
  }
  return [...names.findings, ...findings];
}

/** Wholly above or below the stage, nobody can be in it; if it only reaches beyond, it might as well end there. */
function heightFindings(
  height: ZoneFile['height'],
  z: ShowFile['stage']['z'],
  path: readonly string[],
  name: string,
): Finding[] {
  if (height === undefined || !(height[0] < height[1]) || !(z[0] < z[1])) return [];
  if (height[0] < z[1] && height[1] > z[0]) return [];
  const message = `zone "${name}" is ${height[0]} to ${height[1]} metres high, outside the stage, which is z ${z[0]} to ${z[1]} metres: nobody can be in it.`;
  return [{ code: 'zone-outside-stage', message, path: [...path, 'height'] }];
}

/** Of a zone or an exit: it has one shape, and its edges don't cross. */
export function shapeFindings(
  { circle, polygon, height }: Pick<ZoneFile, 'circle' | 'polygon' | 'height'>,
  path: readonly string[],
  what: string,
): Finding[] {
  if ((circle === undefined) === (polygon === undefined)) {
    const has = circle === undefined ? 'no shape' : 'two shapes';
    const message = `${what} has ${has}; give it either a circle or a polygon.`;
    return [{ code: 'zone-shape', message, path, atKey: true }];
  }
  const findings = height === undefined ? [] : reversed(height, [...path, 'height'], 'metres');
  const crossing = polygon === undefined ? undefined : selfCrossing(polygon);
  if (crossing === undefined) return findings;
  const { first, second } = crossing;
  const message =
    `the edges after corner ${first + 1} and after corner ${second + 1} of ${what} cross or ` +
    'touch; list the corners in order round the edge.';
  return [...findings, { code: 'zone-self-crossing', message, path: [...path, 'polygon'] }];
}

/** A range whose ends are mixed up. */
export function reversed(
  [from, to]: readonly [number, number],
  path: readonly string[],
  unit: string,
): Finding[] {
  if (from < to) return [];
  return [
    {
      code: 'range-reversed',
      message: `${path.join('.')} goes from ${from} to ${to} ${unit}; the first must be below the second.`,
      path,
    },
  ];
}
