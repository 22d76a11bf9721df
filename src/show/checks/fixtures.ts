import { isAttribute } from '../../fixtures/attributes.js';
import { offsetsOf, type ProfileOptions } from '../../fixtures/profile.js';
import { profileProblems } from '../../fixtures/profile-problems.js';
import { PLACEHOLDER } from '../builtin-profiles.js';
import { type Finding, listed, type Path, suggestion } from '../problem.js';
import type { ModeFile } from '../profile-schema.js';
import {
  modeFilesOf,
  needsRange,
  ONLY_MODE,
  type ProfileModes,
  profileFor,
  profilesOf,
} from '../profiles.js';
import type { FixtureFile, ShowFile } from '../schema.js';
import { universesOf } from '../universes.js';
import { checkValues, unknownAttribute } from './looks.js';

const SLOTS = 512;

/** Profiles, patch, and the looks of the fixtures. */
export function checkFixtures(show: ShowFile): Finding[] {
  const findings = checkProfiles(show);
  const profiles = profilesOf(show);
  const lists = Object.values(show.outputs).map(universesOf);
  const sent = new Set(lists.flatMap(list => list ?? []));
  // Of an output whose list can't be read nobody knows what it was to send.
  const isSentKnown = !lists.includes(undefined);
  const owners = new Map<string, string>();
  for (const [name, fixture] of Object.entries(show.fixtures)) {
    const path = ['fixtures', name];
    const { unpatched, universe, address } = fixture;
    const isPlaceholder = fixture.profile === PLACEHOLDER && !profiles.has(PLACEHOLDER);
    if (isPlaceholder && unpatched) continue;
    if (isPlaceholder) {
      findings.push({
        code: 'placeholder-profile',
        message: `fixture "${name}" has the profile "${PLACEHOLDER}", which doesn't say what its slots do; give it the profile of its kind, or mark it as unpatched: true.`,
        path: [...path, 'profile'],
      });
      continue;
    }
    if (!unpatched) findings.push(...missingPatch(name, fixture));
    if (!unpatched && universe !== undefined && isSentKnown && !sent.has(universe)) {
      findings.push({
        code: 'universe-unreachable',
        message: `fixture "${name}" is in universe ${universe}, which no output sends; they send ${listed([...sent].map(String))}.`,
        path: [...path, 'universe'],
      });
    }
    const profile = profileFor(profiles, fixture);
    if (profile === undefined) {
      findings.push(profileFault(name, fixture, profiles));
      continue;
    }
    if (!unpatched && universe !== undefined && address !== undefined) {
      findings.push(...checkPatch(name, universe, address, profile, owners));
    }
    for (const look of ['base', 'safe'] as const) {
      const values = fixture[look];
      if (values === undefined) continue;
      findings.push(...checkValues(values, profile, name, [...path, look]));
      if (values.aim !== undefined) {
        const reason = aimFault(fixture, profile);
        if (reason !== undefined) {
          findings.push({
            code: 'aim-impossible',
            message: `fixture "${name}" can't aim at a point: ${reason}.`,
            path: [...path, look, 'aim'],
            atKey: true,
          });
        } else if ('Pan' in values || 'Tilt' in values) {
          findings.push({
            code: 'aim-impossible',
            message: `fixture "${name}" is given an aim and a Pan or Tilt in the same look; one of them is enough.`,
            path: [...path, look, 'aim'],
            atKey: true,
          });
        }
      }
    }
  }
  return findings;
}

/** What a fixture that is output can't be without. */
function missingPatch(name: string, fixture: FixtureFile): Finding[] {
  return (['universe', 'address'] as const)
    .filter(key => fixture[key] === undefined)
    .map(key => ({
      code: 'missing-key',
      message: `fixture "${name}" has no ${key}; write it, or mark the fixture as unpatched: true.`,
      path: ['fixtures', name],
    }));
}

/** Why nobody can say what the profile of a fixture is. */
function profileFault(
  name: string,
  { profile, mode }: FixtureFile,
  profiles: ReadonlyMap<string, ProfileModes>,
): Finding {
  const path = ['fixtures', name];
  const modes = profiles.get(profile);
  if (modes === undefined) {
    const message = `there is no profile "${profile}".${suggestion(profile, [...profiles.keys()])}`;
    return { code: 'unknown-name', message, path: [...path, 'profile'] };
  }
  const names = [...modes.keys()].filter(one => one !== ONLY_MODE);
  if (mode === undefined) {
    const message = `fixture "${name}" doesn't say which mode is set on it: mode is ${listed(names)} of profile "${profile}".`;
    return { code: 'missing-key', message, path };
  }
  const message =
    names.length === 0
      ? `profile "${profile}" doesn't tell modes apart; leave mode out.`
      : `profile "${profile}" has no mode "${mode}".${suggestion(mode, names)} It has ${listed(names)}.`;
  return { code: 'unknown-name', message, path: [...path, 'mode'] };
}

/** Why a fixture can't aim at a point, or undefined. */
export function aimFault(fixture: FixtureFile, profile: ProfileOptions): string | undefined {
  const missing = (['Pan', 'Tilt'] as const).filter(
    name => !profile.channels.some(channel => channel.attribute === name),
  );
  if (missing.length > 0) return `its profile "${profile.name}" has no ${missing.join(' and no ')}`;
  return fixture.position === undefined ? 'it has no position' : undefined;
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
        message: `${channel.attribute} of profile "${name}" needs its range in ${channel.unit ?? 'degrees'}: range: [from, to].`,
        path: at,
      });
    }
  });
  // Indices of the two lists agree only where no channel was left out.
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
