import { enumerated } from '../../stage/enumerated.js';
import { isFarOff, metresAway, unitHint } from '../../stage/unit-guess.js';
import { distance } from '../../stage/vector.js';
import type { Show } from '../model/model.js';
import { isAsAsked } from '../palettes/beams.js';
import type { Finding } from '../problems/problem.js';

/** Beams that a fixture can't have as they are asked, and targets that a head can't aim at. */
export function paletteWarnings(show: Show): Finding[] {
  return [...beamWarnings(show), ...targetWarnings(show), ...farPoints(show), ...unused(show)];
}

/** Entries that nothing names. */
function unused({ colours, beams, targets, mappings }: Show): Finding[] {
  const goals = mappings.flatMap(one => {
    const rule = one.kind === 'follow' ? one.choice?.rule : undefined;
    return rule?.kind === 'nearest' && typeof rule.to !== 'number' ? [rule.to] : [];
  });
  const points = targets.filter(
    ({ kind, at }) =>
      kind === 'point' && !goals.some(to => to.x === at.x && to.y === at.y && to.z === at.z),
  );
  const blocks = [
    ['colours', 'colour', colours],
    ['points', 'point', points],
    ['beams', 'beam', beams],
  ] as const;
  return blocks.flatMap(([block, what, all]) =>
    all.flatMap(({ name, on }): Finding[] => {
      if (on.length > 0) return [];
      const message = `no look uses ${what} "${name}".`;
      return [{ code: 'palette-unused', message, path: ['palettes', block, name], atKey: true }];
    }),
  );
}

/** Those of as good a beam together. */
function beamWarnings({ beams, fixtures }: Show): Finding[] {
  return beams.flatMap(({ name, angleDeg: asked, on }) => {
    const byAngle = new Map<string, string[]>();
    for (const { fixture, angleDeg } of on) {
      if (isAsAsked(angleDeg, asked)) continue;
      const had = `${Number(angleDeg.toFixed(1))}`;
      byAngle.set(had, [...(byAngle.get(had) ?? []), `"${fixtures[fixture]?.name}"`]);
    }
    return [...byAngle].map(([had, names]): Finding => {
      const who = `fixture${names.length === 1 ? '' : 's'} ${enumerated(names)}`;
      const message = `beam "${name}" is ${asked} degrees wide, but the nearest that ${who} can make is ${had}.`;
      return { code: 'beam-off', message, path: ['palettes', 'beams', name], atKey: true };
    });
  });
}

/** Less than this counts as on target, degrees. */
const ON_IT_DEG = 0.1;
/** Nearer than this to where its axes cross, a point is in the head itself, metres. */
const OWN_PLACE_M = 0.2;

function targetWarnings({ targets, fixtures }: Show): Finding[] {
  return targets.flatMap(({ name, kind, at, on }): Finding[] => {
    const path = kind === 'point' ? ['palettes', 'points', name] : ['fixtures', name];
    const own = on.flatMap(({ fixture }) => {
      const plan = fixtures[fixture];
      const isThere = plan?.position !== undefined && distance(plan.position, at) < OWN_PLACE_M;
      return isThere ? [`"${plan.name}"`] : [];
    });
    if (own.length > 0) {
      const message = `target "${name}" is where fixture${own.length === 1 ? '' : 's'} ${enumerated(own)} ${own.length === 1 ? 'itself hangs' : 'themselves hang'}, so there is nothing to aim at. One of the positions is probably wrong.`;
      return [{ code: 'target-off', message, path, atKey: true }];
    }
    const off = on.filter(({ missedByDeg }) => !(missedByDeg <= ON_IT_DEG));
    if (off.length === 0) return [];
    const names = enumerated(off.map(({ fixture }) => `"${fixtures[fixture]?.name}"`));
    const most = Math.max(...off.map(({ missedByDeg }) => missedByDeg));
    const by = `${off.length === 1 ? '' : 'up to '}${Number(most.toFixed(1))} degrees`;
    const message = `fixture${off.length === 1 ? '' : 's'} ${names} can't aim at target "${name}": Pan or Tilt ends ${by} before it.`;
    return [{ code: 'target-off', message, path, atKey: true }];
  });
}

function farPoints({ targets, bounds }: Show): Finding[] {
  return targets.flatMap(({ name, kind, at }): Finding[] => {
    if (kind !== 'point' || !isFarOff(at, bounds)) return [];
    const isBeside = isFarOff({ ...at, z: 0 }, bounds);
    const where = isBeside
      ? `${Math.round(metresAway(at.x, at.y, bounds))} m from the stage`
      : `at a height of ${Math.round(at.z)} m`;
    const message = `point "${name}" is ${where}, outside any building.${unitHint([at], bounds)}`;
    return [{ code: 'position-far', message, path: ['palettes', 'points', name], atKey: true }];
  });
}
