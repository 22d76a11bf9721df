import { isInsideBounds, selfCrossing } from '../../stage/polygon.js';
import type { Finding } from '../problem.js';
import { areaOf } from '../resolve-areas.js';
import type { ShowFile } from '../schema.js';

/** The stage and its zones. */
export function checkStage(show: ShowFile): Finding[] {
  const findings: Finding[] = [];
  for (const axis of ['x', 'y', 'z'] as const) {
    findings.push(...reversed(show.stage[axis], ['stage', axis], 'metres'));
  }
  for (const [name, zone] of Object.entries(show.zones)) {
    const path = ['zones', name];
    if ((zone.circle === undefined) === (zone.polygon === undefined)) {
      const has = zone.circle === undefined ? 'no shape' : 'two shapes';
      findings.push({
        code: 'zone-shape',
        message: `zone "${name}" has ${has}; give it either a circle or a polygon.`,
        path,
        atKey: true,
      });
      continue;
    }
    if (zone.height !== undefined) {
      findings.push(...reversed(zone.height, [...path, 'height'], 'metres'));
    }
    if (zone.polygon !== undefined) {
      const crossing = selfCrossing(zone.polygon);
      if (crossing !== undefined) {
        const { first, second } = crossing;
        findings.push({
          code: 'zone-self-crossing',
          message:
            `the edges after corner ${first + 1} and after corner ${second + 1} of zone "${name}" cross or ` +
            'touch; list the corners in order round the edge.',
          path: [...path, 'polygon'],
        });
        continue;
      }
    }
    const { x, y } = show.stage;
    const area = areaOf(zone);
    // Outside of a stage whose ends are mixed up is everything.
    const isStageRight = x[0] < x[1] && y[0] < y[1];
    if (isStageRight && area !== undefined && !isInsideBounds(area, { x, y })) {
      findings.push({
        code: 'zone-outside-stage',
        message: `zone "${name}" reaches outside of the stage, which is x ${x[0]} to ${x[1]} and y ${y[0]} to ${y[1]} metres.`,
        path: [...path, zone.circle === undefined ? 'polygon' : 'circle'],
      });
    }
  }
  return findings;
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
