import { type Attribute, isAttribute, isEmitter, isFilter } from '../../fixtures/attributes.js';
import { offsetsOf, type ProfileOptions } from '../../fixtures/profile.js';
import { profileProblems } from '../../fixtures/profile-problems.js';
import { isStepped } from '../../fixtures/scales.js';
import { enumerated } from '../../stage/enumerated.js';
import { TARGET } from '../palettes/look-values.js';
import { type Finding, listed, type Path, suggestion } from '../problems/problem.js';
import { PLACEHOLDER } from '../resolve/builtin-profiles.js';
import { membersOf } from '../resolve/groups.js';
import {
  modeFilesOf,
  needsRange,
  ONLY_MODE,
  type ProfileModes,
  profileFor,
  profilesOf,
} from '../resolve/profiles.js';
import { universesOf } from '../resolve/universes.js';
import type { ChannelFile, ModeFile } from '../schema/profile.js';
import type { FixtureFile, ShowFile } from '../schema/schema.js';
import { type FixtureFault, together, type Whose } from './fixture-faults.js';
import { checkValues, unknownAttribute } from './looks.js';
import { checkAimedOnce, targetPaths } from './targets.js';

const SLOTS = 512;

/** Profiles, patch, and the looks of the fixtures. */
export function checkFixtures(show: ShowFile): Finding[] {
  const findings = [...checkProfiles(show), ...checkUniverses(show)];
  const profiles = profilesOf(show);
  const owners = new Map<string, string>();
  const faults: FixtureFault[] = [];
  for (const [name, fixture] of Object.entries(show.fixtures)) {
    const path = ['fixtures', name];
    const { unpatched, universe, address } = fixture;
    const isPlaceholder = fixture.profile === PLACEHOLDER && !profiles.has(PLACEHOLDER);
    if (isPlaceholder && unpatched) continue;
    if (isPlaceholder) {
      faults.push({
        fixture: name,
        code: 'placeholder-profile',
        message: placeholderFault,
        path: [...path, 'profile'],
      });
      continue;
    }
    if (!unpatched) findings.push(...missingPatch(name, fixture));
    const profile = profileFor(profiles, fixture);
    if (profile === undefined) {
      faults.push(profileFault(name, fixture, profiles));
      continue;
    }
    if (!unpatched && universe !== undefined && address !== undefined) {
      findings.push(...checkPatch(name, universe, address, profile, owners));
    }
    for (const look of ['base', 'safe'] as const) {
      const values = fixture[look];
      if (values === undefined) continue;
      faults.push(...checkValues(values, profile, name, [...path, look], show.palettes));
      findings.push(...checkAimedOnce(name, values, [...path, look]));
    }
    findings.push(...checkAiming(show, name, fixture, profile));
  }
  return [...findings, ...together(faults)];
}

function placeholderFault({ fixtures, several }: Whose): string {
  return several
    ? `${fixtures} have the profile "${PLACEHOLDER}", which doesn't say what their slots do; give them their real profile, or mark them as unpatched: true.`
    : `${fixtures} has the profile "${PLACEHOLDER}", which doesn't say what its slots do; give it its real profile, or mark it as unpatched: true.`;
}

/** Universes that fixtures are patched to but no output sends: each once, however many fixtures are in it. */
function checkUniverses({ fixtures, outputs }: ShowFile): Finding[] {
  const lists = Object.values(outputs).map(universesOf);
  // If the list of an output can't be read, nobody knows what it was meant to send.
  if (lists.includes(undefined)) return [];
  const sent = new Set(lists.flatMap(list => list ?? []));
  const inUniverse = new Map<number, string[]>();
  for (const [name, { unpatched, universe }] of Object.entries(fixtures)) {
    if (unpatched || universe === undefined || sent.has(universe)) continue;
    inUniverse.set(universe, [...(inUniverse.get(universe) ?? []), name]);
  }
  const [first] = inUniverse.values();
  if (lists.length === 0 && first !== undefined) {
    const numbers = [...inUniverse.keys()].sort((a, b) => a - b).map(String);
    const universes = `universe${numbers.length === 1 ? '' : 's'} ${enumerated(numbers)}`;
    return [
      {
        code: 'universe-unreachable',
        message: `the show has no outputs, but fixtures in ${universes}: add an output that sends ${numbers.length === 1 ? 'it' : 'them'}.`,
        path: ['fixtures', first[0] ?? '', 'universe'],
      },
    ];
  }
  const there = enumerated([...sent].sort((a, b) => a - b).map(String));
  return [...inUniverse].map(([universe, names]) => ({
    code: 'universe-unreachable',
    message: `no output sends universe ${universe}, which has fixture${names.length === 1 ? '' : 's'} ${enumerated(names.map(one => `"${one}"`))}; outputs send ${there}.`,
    path: ['fixtures', names[0] ?? '', 'universe'],
  }));
}

/** A fixture that should aim or follow but can't: reported once, whatever asks for it. */
function checkAiming(
  show: ShowFile,
  name: string,
  fixture: FixtureFile,
  profile: ProfileOptions,
): Finding[] {
  const fault = aimFault(fixture, profile);
  if (fault === undefined) return [];
  const asked = [
    ...(['base', 'safe'] as const)
      .filter(look => fixture[look]?.aim !== undefined)
      .map((look): Path => ['fixtures', name, look, 'aim']),
    ...targetPaths(show, name),
    ...show.mappings.flatMap((mapping, index): Path[] => {
      if (!('follow' in mapping)) return [];
      const members = membersOf(show, mapping.fixtures, 'fixtures');
      const at = members.find(member => member.name === name)?.at;
      return at === undefined ? [] : [['mappings', index, 'fixtures', at]];
    }),
  ];
  const [first] = asked;
  if (first === undefined) return [];
  const what = first.at(-1) === 'aim' || first.at(-1) === TARGET ? 'aim at a point' : 'follow';
  const others = asked.length === 1 ? '' : ` That is asked of it in ${asked.length} places.`;
  const message = `fixture "${name}" can't ${what}: ${fault}.${others}`;
  // A missing position is the fixture's fault; something it can never do is the fault of whatever asks for it.
  if (hasPanAndTilt(profile)) {
    return [{ code: 'aim-impossible', message, path: ['fixtures', name], atKey: true }];
  }
  return [{ code: 'aim-impossible', message, path: first, atKey: first.at(-2) !== 'fixtures' }];
}

export function hasPanAndTilt({ channels }: ProfileOptions): boolean {
  return (['Pan', 'Tilt'] as const).every(name => channels.some(one => one.attribute === name));
}

/** What a patched fixture must have. */
function missingPatch(name: string, fixture: FixtureFile): Finding[] {
  return (['universe', 'address'] as const)
    .filter(key => fixture[key] === undefined)
    .map(key => ({
      code: 'missing-key',
      message: `fixture "${name}" has no ${key}; write it, or mark the fixture as unpatched: true.`,
      path: ['fixtures', name],
    }));
}

/** Why the profile of a fixture is not known. */
function profileFault(
  name: string,
  { profile, mode }: FixtureFile,
  profiles: ReadonlyMap<string, ProfileModes>,
): FixtureFault {
  const path = ['fixtures', name];
  const fault = { fixture: name, code: 'unknown-name' as const };
  const modes = profiles.get(profile);
  if (modes === undefined) {
    const hint = suggestion(profile, [...profiles.keys()]);
    return {
      ...fault,
      message: ({ fixtures, several }) =>
        `there is no profile "${profile}"${several ? `, which ${fixtures} ask for` : ''}.${hint}`,
      path: [...path, 'profile'],
    };
  }
  const names = [...modes.keys()].filter(one => one !== ONLY_MODE);
  if (mode === undefined) {
    return {
      ...fault,
      code: 'missing-key',
      message: ({ fixtures, several }) =>
        `${fixtures} ${several ? "don't say which mode is set on them" : "doesn't say which mode is set on it"}: mode is ${listed(names)} of profile "${profile}".`,
      path,
    };
  }
  const what =
    names.length === 0
      ? `profile "${profile}" has no modes; leave mode out.`
      : `profile "${profile}" has no mode "${mode}".${suggestion(mode, names)} It has ${listed(names)}.`;
  return {
    ...fault,
    message: ({ fixtures, several }) => (several ? `${what} It is asked for ${fixtures}.` : what),
    path: [...path, 'mode'],
  };
}

/** Why a fixture can't aim at a point, or undefined. */
function aimFault(fixture: FixtureFile, profile: ProfileOptions): string | undefined {
  const missing = (['Pan', 'Tilt'] as const).filter(
    name => !profile.channels.some(channel => channel.attribute === name),
  );
  if (missing.length > 0) return `its profile "${profile.name}" has no ${missing.join(' and no ')}`;
  return fixture.position === undefined
    ? 'it has no position; give it where it hangs, in metres of the stage frame: position: [x, y, z]'
    : undefined;
}

function checkPatch(
  name: string,
  universe: number,
  address: number,
  profile: ProfileOptions,
  owners: Map<string, string>,
): Finding[] {
  const offsets = offsetsOf(profile);
  const footprint = 1 + Math.max(0, ...offsets);
  const path = ['fixtures', name, 'address'];
  const last = address + footprint - 1;
  if (last > SLOTS) {
    const message = `fixture "${name}" needs ${footprint} slots from ${address}, up to ${last}; a universe ends at ${SLOTS}.`;
    return [{ code: 'patch-past-end', message, path }];
  }
  const overlaps = new Map<string, number>();
  for (const offset of offsets) {
    const slot = address + offset;
    const key = `${universe}/${slot}`;
    const owner = owners.get(key);
    if (owner === undefined) owners.set(key, name);
    else if (owner !== name && !overlaps.has(owner)) overlaps.set(owner, slot);
  }
  return [...overlaps].map(([owner, slot]) => ({
    code: 'patch-overlap',
    message: `fixture "${name}" shares slot ${slot} of universe ${universe} with fixture "${owner}".`,
    path,
  }));
}

function checkProfiles(show: ShowFile): Finding[] {
  const profiles = profilesOf(show);
  return Object.entries(show.profiles).flatMap(([name, file]) => {
    const path = ['profiles', name];
    if ('file' in file) {
      const message = `profile "${name}" is in the file "${file.file}", which has not been read.`;
      return [{ code: 'file-unreadable', message, path: [...path, 'file'] } as const];
    }
    return modeFilesOf(file).flatMap(({ name: mode, mode: channels, path: inFile }) =>
      checkMode(channels, profiles.get(name)?.get(mode), [...path, ...inFile]),
    );
  });
}

/** A colour belongs to something that makes or passes light. */
function checkColours(
  { emitter, filter, values = {} }: ChannelFile,
  attribute: Attribute,
  profile: string,
  path: Path,
): Finding[] {
  const findings: Finding[] = [];
  const add = (key: string, message: string) =>
    findings.push({
      code: 'profile-channels',
      message: `${attribute} of profile "${profile}" ${message}.`,
      path: [...path, key],
      atKey: true,
    });
  if (emitter !== undefined && !isEmitter(attribute)) {
    add('emitter', 'is not an emitter: those are ColorAdd_ and ColorRGB_ attributes');
  }
  if (filter !== undefined && !isFilter(attribute)) {
    add('filter', 'is not a filter: those are ColorSub_ attributes');
  }
  for (const [name, at] of Object.entries(values)) {
    if (typeof at === 'number' || !('levels' in at)) continue;
    if ((at.range === undefined) !== (at.unit === undefined)) {
      add(
        'values',
        `has ${at.range === undefined ? 'a unit without a range' : 'a range without its unit'} at "${name}"`,
      );
    }
    if (at.xy === undefined && at.luminance !== undefined) {
      add('values', `has a luminance for "${name}", but no xy`);
    }
    if (at.xy !== undefined && !isStepped(attribute)) {
      add('values', `is not a colour wheel, so "${name}" can have no xy`);
    }
  }
  return findings;
}

function checkMode(file: ModeFile, options: ProfileOptions | undefined, path: Path): Finding[] {
  const findings: Finding[] = [];
  const name = options?.name ?? '';
  let unknown = 0;
  file.channels.forEach((channel, index) => {
    const at = [...path, 'channels', index];
    if (!isAttribute(channel.attribute)) {
      unknown += 1;
      const finding = unknownAttribute(channel.attribute, [...at, 'attribute']);
      findings.push({ ...finding, atKey: false });
    } else if (channel.range === undefined && needsRange(channel)) {
      findings.push({
        code: 'profile-channels',
        message: `${channel.attribute} of profile "${name}" needs a range in ${channel.unit ?? 'degrees'}: range: [from, to].`,
        path: at,
      });
    } else findings.push(...checkColours(channel, channel.attribute, name, at));
  });
  // Indices of the two lists agree only if no channel was left out.
  if (unknown > 0 || options === undefined) return findings;
  for (const problem of profileProblems(options)) {
    findings.push({
      code: 'profile-channels',
      message: `profile "${name}": ${problem.message}.`,
      path:
        problem.field === 'fixed'
          ? [...path, 'fixed']
          : [...path, 'channels', ...(problem.channel < 0 ? [] : [problem.channel])],
    });
  }
  return findings;
}
