import { attributeClass } from '../../fixtures/attributes.js';
import { distanceTo } from '../../stage/volume.js';
import { membersOf } from '../groups.js';
import { shinesInto } from '../keep-out.js';
import type { Show } from '../model.js';
import type { Finding, Path } from '../problem.js';
import type { KeepOutFile, ShowFile } from '../schema.js';
import { NameCheck } from './names.js';
import { reversed, shapeFindings } from './stage.js';

/** Shapes and names of the keep-outs. */
export function checkKeepOuts(show: ShowFile): Finding[] {
  const names = new NameCheck(show);
  const findings = Object.entries(show.keepOut).flatMap(([name, keepOut]) => {
    const path = ['keepOut', name];
    keepOut.fixtures?.forEach((one, i) => {
      names.oneOrGroup('fixtures', one, [...path, 'fixtures', i]);
    });
    return [...checkShape(keepOut, path, name), ...checkHeads(show, keepOut, path)];
  });
  return [...names.findings, ...findings];
}

function checkShape(keepOut: KeepOutFile, path: readonly string[], name: string): Finding[] {
  const { point, radius, circle, polygon, height } = keepOut;
  const isBall = point !== undefined || radius !== undefined;
  const what = `keep-out "${name}"`;
  const fault = (message: string): Finding[] => [
    { code: 'keep-out-shape', message, path, atKey: true },
  ];
  if (!isBall && circle === undefined && polygon === undefined) {
    return fault(`${what} has no shape; give it a circle, a polygon, or a point with a radius.`);
  }
  if (!isBall) return shapeFindings(keepOut, path, what);
  if (circle !== undefined || polygon !== undefined) {
    return fault(`${what} has two shapes; give it a circle, a polygon, or a point with a radius.`);
  }
  if (point === undefined) return fault(`${what} has a radius and no point: [x, y, z], metres.`);
  if (radius === undefined) return fault(`${what} has a point and no radius, metres.`);
  return height === undefined ? [] : reversed(height, [...path, 'height'], 'metres');
}

/** It can only keep heads out whose place is known. */
function checkHeads(show: ShowFile, { fixtures }: KeepOutFile, path: Path): Finding[] {
  if (fixtures === undefined) return [];
  return membersOf(show, fixtures, 'fixtures').flatMap(({ name, at }): Finding[] => {
    const fixture = show.fixtures[name];
    if (fixture === undefined || fixture.position !== undefined) return [];
    const message = `where the beam of fixture "${name}" goes is not known: it has no position.`;
    return [{ code: 'keep-out-head', message, path: [...path, 'fixtures', at] }];
  });
}

/** What only shows once names and aims are resolved: heads that could never keep out. */
export function checkKeptHeads(show: Show): Finding[] {
  const { keepOuts, fixtures } = show;
  return keepOuts.flatMap(({ name, volume, heads }, which) =>
    heads.flatMap((index): Finding[] => {
      const plan = fixtures[index];
      if (plan?.head === undefined) return [];
      const fixture = `fixture "${plan.name}"`;
      const path = ['fixtures', plan.name];
      if (distanceTo(volume, plan.head.position) <= 0) {
        const message = `${fixture} hangs inside keep-out "${name}" and could never be lit: give the area a height, or name the fixtures it applies to.`;
        return [{ code: 'keep-out-head', message, path: ['keepOut', name], atKey: true }];
      }
      if (
        !plan.profile.channels.some(({ attribute }) => attributeClass(attribute) === 'intensity')
      ) {
        const message = `${fixture} has no Dimmer to go dark with before its beam touches keep-out "${name}".`;
        return [{ code: 'keep-out-head', message, path, atKey: true }];
      }
      const looks: (readonly [readonly number[], Path, string])[] = [
        [plan.safe, path, 'its safe look'],
        ...show.cues.flatMap(cue => {
          const safe = cue.safe[index] ?? plan.safe;
          const at: Path = ['cues', cue.name];
          return safe === plan.safe
            ? []
            : [[safe, at, `the safe look of cue "${cue.name}"`] as const];
        }),
      ];
      return looks.flatMap(([values, at, what]): Finding[] => {
        if (shinesInto(show, index, values) !== which) return [];
        const message = `${fixture} shines into keep-out "${name}" in ${what}, and would be held dark: aim it elsewhere, or have it dark there.`;
        return [{ code: 'keep-out-lit', message, path: at, atKey: true }];
      });
    }),
  );
}
