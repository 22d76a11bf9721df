import { Document, isMap, isPair, isScalar, visit } from 'yaml';
import { PROFILE_FORMAT_VERSION } from '../show/schema/profile.js';
import { ATMOSPHERIC_MACHINE, type ProfileDraft } from './gdtf-profile.js';
import type { Imported } from './import.js';
import type { FixtureDraft } from './plot-fixture.js';

/** A file to be written, by its path from the folder that was asked for. */
export interface OutFile {
  readonly path: string;
  readonly text: string;
}

/** Profiles and patch as one part of a show file, to be put into one. */
export function partText({ profiles, fixtures }: Imported, source: string): string {
  const universes = universesOf(fixtures);
  const needs =
    universes.length === 0
      ? ''
      : `# Its universes, which an output has to send: ${ranges(universes)}.\n`;
  const unpatched = Object.values(fixtures).filter(one => one.unpatched === true).length;
  const lacks =
    unpatched === 0
      ? ''
      : `# ${unpatched} of its ${Object.keys(fixtures).length} fixtures ${unpatched === 1 ? 'is' : 'are'} unpatched: give each a universe and an address, and take \`unpatched\` away.\n`;
  const head = `# From ${source}: parts of a show file. Look at them, then put them where they belong.\n${needs}${lacks}${hazardComment(Object.values(profiles))}`;
  return `${head}${yamlText({ profiles, fixtures })}`;
}

/** Each profile as a file of its own, and the patch as a part of a show that names them. */
export function partFiles(imported: Imported, source: string, base: string): OutFile[] {
  const files = Object.entries(imported.profiles).map(
    ([name, profile]): OutFile => ({
      path: profilePath(name),
      text: profileText(profile, source),
    }),
  );
  if (Object.keys(imported.fixtures).length === 0) return files;
  const references = Object.fromEntries(
    Object.keys(imported.profiles).map(name => [name, { file: profilePath(name) }]),
  );
  const text = partText({ ...imported, profiles: references as never }, source);
  return [...files, { path: `${base}.patch.yaml`, text }];
}

function hazardComment(profiles: readonly ProfileDraft[]): string {
  const machines = profiles.filter(({ hazard }) => hazard !== undefined);
  return machines.map(({ label }) => `# ${label}: ${ATMOSPHERIC_MACHINE}.\n`).join('');
}

export function profileText(profile: ProfileDraft, source: string): string {
  return `# From ${source}.\n${hazardComment([profile])}${yamlText({ profile: PROFILE_FORMAT_VERSION, ...profile })}`;
}

/**
 * A whole show of what was imported, with the least of everything else: to find out whether it would
 * pass the check.
 */
export function showOf({ profiles, fixtures }: Pick<Imported, 'profiles' | 'fixtures'>): unknown {
  const universes = universesOf(fixtures);
  const outputs =
    universes.length === 0
      ? {}
      : { wire: { protocol: 'sacn', interface: '127.0.0.1', to: ['127.0.0.1'], universes } };
  return {
    lampwright: 1,
    name: 'imported',
    stage: { x: [0, 1], y: [0, 1] },
    inputs: {},
    performers: {},
    profiles,
    fixtures,
    outputs,
  };
}

function profilePath(name: string): string {
  return `profiles/${name}.profile.yaml`;
}

export function universesOf(fixtures: Readonly<Record<string, FixtureDraft>>): number[] {
  const patched = Object.values(fixtures).filter(({ unpatched }) => unpatched !== true);
  return [...new Set(patched.flatMap(({ universe }) => universe ?? []))].sort((a, b) => a - b);
}

/** `1-4, 7` */
export function ranges(numbers: readonly number[]): string {
  const runs: [number, number][] = [];
  for (const number of numbers) {
    const last = runs.at(-1);
    if (last !== undefined && number === last[1] + 1) last[1] = number;
    else runs.push([number, number]);
  }
  return runs.map(([from, to]) => (from === to ? String(from) : `${from}-${to}`)).join(', ');
}

/** Keys of profiles and channels in the order in which people write them. */
const KEY_ORDER = [
  'label', 'hazard', 'optics', 'motion', 'modes',
  'attribute', 'bits', 'slots', 'copies', 'range', 'unit', 'levels', 'values', 'snap', 'default', 'highlight',
  'emitter', 'filter',
]; // biome-ignore format: two kinds of block

/** Channels, fixtures and all that is small on a line each, as people write them. */
export function yamlText(value: unknown): string {
  const document = new Document(value, { aliasDuplicateObjects: false });
  const place = (key: unknown) => KEY_ORDER.indexOf(isScalar(key) ? String(key.value) : '');
  visit(document, {
    Pair(_, pair) {
      if (!isPair(pair) || !isScalar(pair.key)) return;
      const key = String(pair.key.value);
      if (key === 'fixtures' && isMap(pair.value)) {
        for (const { value: fixture } of pair.value.items) if (isMap(fixture)) fixture.flow = true;
      }
    },
    Seq(_, list) {
      const blocks = list.items.some(isMap);
      if (!blocks) list.flow = true;
      for (const item of list.items) if (isMap(item)) item.flow = true;
    },
    Map(_, map) {
      if (map.items.every(({ key }) => place(key) >= 0)) {
        map.items.sort((a, b) => place(a.key) - place(b.key));
      }
      const small = map.items.every(({ value: one }) => isScalar(one));
      if (small && map.items.length > 0 && map.items.length <= 4 && !map.has('profile'))
        map.flow = true;
    },
  });
  return document.toString({ lineWidth: 0, flowCollectionPadding: true });
}
