import { attributeClass } from '../../fixtures/attributes.js';
import { own } from '../../stage/own.js';
import { distanceTo, type VolumeOptions } from '../../stage/volume.js';
import { shinesInto } from '../model/keep-out.js';
import type { Show } from '../model/model.js';
import type { Finding, Path } from '../problems/problem.js';
import { membersOf } from '../resolve/groups.js';
import { profileFor, profilesOf } from '../resolve/profiles.js';
import type { KeepOutFile, ShowFile } from '../schema/schema.js';
import { hasPanAndTilt } from './fixtures.js';
import { NameCheck } from './names.js';
import { shapeFindings } from './stage.js';

/** Shapes and names of the keep-outs. */
export function checkKeepOuts(show: ShowFile): Finding[] {
  const names = new NameCheck(show);
  const profiles = profilesOf(show);
  const isHead = (name: string) => {
    const fixture = own(show.fixtures, name);
    const profile = fixture && profileFor(profiles, fixture);
    // What can't be decided here is reported elsewhere.
    return profile === undefined || hasPanAndTilt(profile);
  };
  const findings = Object.entries(show.keepOut).flatMap(([name, keepOut]) => {
    const path = ['keepOut', name];
    if (keepOut.fixtures !== undefined) {
      names.list('fixtures', keepOut.fixtures, [...path, 'fixtures']);
    }
    return [...checkShape(keepOut, path, name), ...checkHeads(show, keepOut, isHead, path)];
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
  if (point === undefined)
    return fault(`${what} has a radius but no point; add point: [x, y, z], in metres.`);
  if (radius === undefined)
    return fault(`${what} has a point but no radius; add radius, in metres.`);
  if (height === undefined) return [];
  return fault(`${what} is a sphere round its point and has no height; leave it out.`);
}

/** It can only keep out heads whose position is known. */
function checkHeads(
  show: ShowFile,
  { fixtures }: KeepOutFile,
  isHead: (name: string) => boolean,
  path: Path,
): Finding[] {
  if (fixtures === undefined) return [];
  const idle = fixtures.flatMap((word, at): Finding[] => {
    const names = membersOf(show, [word], 'fixtures').map(({ name }) => name);
    if (names.some(isHead)) return [];
    const isGroup = !Object.hasOwn(show.fixtures, word);
    const message = isGroup
      ? `none of "${word}" has Pan and Tilt: a keep-out is for moving heads.`
      : `fixture "${word}" has no Pan and Tilt: a keep-out is for moving heads.`;
    return [{ code: 'keep-out-head', message, path: [...path, 'fixtures', at] }];
  });
  const heads = membersOf(show, fixtures, 'fixtures').filter(({ name }) => isHead(name));
  const unplaced = heads.flatMap(({ name, at }): Finding[] => {
    const fixture = own(show.fixtures, name);
    if (fixture === undefined || fixture.position !== undefined) return [];
    const message = `fixture "${name}" has no position, so nobody knows where its beam goes; add position: [x, y, z].`;
    return [{ code: 'keep-out-head', message, path: [...path, 'fixtures', at] }];
  });
  return [...idle, ...unplaced];
}

/** What makes it smaller. */
function smaller(volume: VolumeOptions): string {
  if (volume.kind === 'ball') return 'make its radius smaller';
  return volume.area.height === undefined ? 'give the area a height' : 'lower its height';
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
        const message = `${fixture} hangs inside keep-out "${name}" and could never be lit: ${smaller(volume)}, or name the fixtures it applies to.`;
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
        const message = `${fixture} shines into keep-out "${name}" in ${what}, so it would be kept dark: aim it elsewhere, or make it dark there.`;
        return [{ code: 'keep-out-lit', message, path: at, atKey: true }];
      });
    }),
  );
}
