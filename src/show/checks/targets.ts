import { type LookWords, TARGET } from '../palettes/look-values.js';
import { nameMeant } from '../problems/names.js';
import type { Finding, Path } from '../problems/problem.js';
import { groupOf, membersOf } from '../resolve/groups.js';
import type { FixtureFile, ShowFile } from '../schema/schema.js';

/** Places at which looks aim: each is a point of the palette or a fixture with a position; reported once for each place in the file. */
export function checkTargets(show: ShowFile): Finding[] {
  const shared = Object.keys(show.palettes.points).filter(name =>
    Object.hasOwn(show.fixtures, name),
  );
  return [
    ...shared.map(
      (name): Finding => ({
        code: 'name-shared',
        message: `"${name}" is the name of a point and of a fixture, so a target could mean either; rename one of them.`,
        path: ['palettes', 'points', name],
        atKey: true,
      }),
    ),
    ...targetsIn(show).flatMap(({ target, path }) => {
      const message = targetFault(show, target);
      return message === undefined
        ? []
        : [{ code: 'unknown-name' as const, message, path: [...path, TARGET] }];
    }),
  ];
}

/** All that name a target, and where. */
function targetsIn(show: ShowFile): { readonly target: string; readonly path: Path }[] {
  const asked = (look: LookWords | undefined, path: Path) => {
    const target = look?.[TARGET];
    return typeof target === 'string' ? [{ target, path }] : [];
  };
  return [
    ...Object.entries(show.fixtures).flatMap(([name, { base, safe }]) => [
      ...asked(base, ['fixtures', name, 'base']),
      ...asked(safe, ['fixtures', name, 'safe']),
    ]),
    ...show.mappings.flatMap((mapping, index) => [
      ...asked(mapping.set, ['mappings', index, 'set']),
      ...asked('from' in mapping ? mapping.from : undefined, ['mappings', index, 'from']),
    ]),
    ...Object.entries(show.cues).flatMap(([name, cue]) =>
      (['base', 'safe'] as const).flatMap(kind =>
        Object.entries(cue[kind]).flatMap(([word, look]) =>
          asked(look, ['cues', name, kind, word]),
        ),
      ),
    ),
  ];
}

/** What is wrong with the name of a target; undefined: nothing. */
function targetFault(show: ShowFile, name: string): string | undefined {
  const { palettes, fixtures, performers, zones } = show;
  if (Object.hasOwn(palettes.points, name)) return undefined;
  const fixture = Object.hasOwn(fixtures, name) ? fixtures[name] : undefined;
  if (fixture !== undefined) {
    if (fixture.position !== undefined) return undefined;
    return `fixture "${name}" has no position, so nothing can aim at it.`;
  }
  if (Object.hasOwn(performers, name)) {
    return `a target does not move, but "${name}" is a performer. Use a mapping: { follow: ${name}, fixtures: [...], set: { Dimmer: 70 } }.`;
  }
  if (groupOf(show, name) !== undefined) {
    return `"${name}" is a group, but a target is one place: a point of the palette, or a fixture.`;
  }
  const points = Object.entries(palettes.points).map(([one, point]) => ({
    name: one,
    label: Array.isArray(point) ? undefined : point.label,
  }));
  const places = [
    ...points,
    ...Object.entries(fixtures).map(([one, { label }]) => ({ name: one, label })),
  ];
  const zone = Object.hasOwn(zones, name)
    ? ` "${name}" is a zone: add a point to palettes for the place in it that is meant.`
    : '';
  const hint =
    zone ||
    nameMeant(name, places) ||
    (points.length === 0
      ? ' palettes has no points yet: palettes: { points: { table: [6, 5, 0.8] } }.'
      : '');
  return `there is no point or fixture "${name}".${hint}`;
}

/** Places in the file where a fixture is to aim at a target. */
export function targetPaths(show: ShowFile, name: string): Path[] {
  const { base, safe } = show.fixtures[name] as FixtureFile;
  return [
    ...(base?.[TARGET] === undefined ? [] : [['fixtures', name, 'base', TARGET]]),
    ...(safe?.[TARGET] === undefined ? [] : [['fixtures', name, 'safe', TARGET]]),
    ...show.mappings.flatMap((mapping, index): Path[] => {
      const looks =
        'from' in mapping ? { set: mapping.set, from: mapping.from } : { set: mapping.set };
      const members = membersOf(show, mapping.fixtures, 'fixtures');
      if (!members.some(member => member.name === name)) return [];
      return Object.entries(looks).flatMap(([key, look]): Path[] =>
        look?.[TARGET] === undefined ? [] : [['mappings', index, key, TARGET]],
      );
    }),
  ];
}

/** A look aims once, and not at its own fixture. */
export function checkAimedOnce(name: string, look: LookWords, path: Path): Finding[] {
  const fault = (message: string, word: string): Finding[] => [
    { code: 'aim-impossible', message, path: [...path, word], atKey: true },
  ];
  const has = (word: string) => Object.hasOwn(look, word);
  const [first, other] = [TARGET, 'aim', 'Pan', 'Tilt'].filter(has);
  if (first === TARGET && look[TARGET] === name) {
    return fault(`fixture "${name}" can't aim at itself.`, TARGET);
  }
  if (first === undefined || other === undefined || first === 'Pan') return [];
  const words = first === TARGET ? 'a target' : 'an aim';
  const also = other === 'aim' ? 'an aim' : 'a Pan or Tilt';
  return fault(
    `fixture "${name}" is given ${words} and ${also} in the same look; keep one of them.`,
    first,
  );
}
