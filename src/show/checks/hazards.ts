import { toRaw } from '../../fixtures/encode.js';
import {
  type ChannelOptions,
  compileChannel,
  type ProfileOptions,
  physicalOf,
} from '../../fixtures/profile.js';
import { ENABLED_CLASSES } from '../../protocols/osc/orders.js';
import {
  type HazardClass,
  isHazardousRaw,
  isRefused,
  REFUSALS,
  type RefusedClass,
} from '../../safety/hazard.js';
import { nameVerdict } from '../../safety/hazard-words.js';
import { enumerated } from '../../stage/enumerated.js';
import { type LookWords, valuesOfLook } from '../palettes/look-values.js';
import type { Finding, Path } from '../problems/problem.js';
import { namesOf } from '../resolve/groups.js';
import {
  channelHazards,
  fixtureHazard,
  isAtmospheric,
  mustBeOff,
  strobeRaws,
} from '../resolve/hazards.js';
import { modeFilesOf, profileFor, profilesOf } from '../resolve/profiles.js';
import type { FixtureFile, ShowFile } from '../schema/schema.js';

const NEEDS_ENABLE =
  'needs an enable, but nobody can give it: the show has no operator input, and no slot of the desk enables it. Add an operator block with the port and the addresses of those who may enable it, or an entry under orders.';

/** What must not be driven at all, and what only with an enable. */
export function checkHazards(show: ShowFile): Finding[] {
  const profiles = profilesOf(show);
  return [
    ...checkRefused(show),
    ...Object.entries(show.fixtures).flatMap(([name, fixture]) =>
      // Nothing is sent to an unpatched fixture.
      fixture.unpatched ? [] : checkHazardous(show, name, fixture, profileFor(profiles, fixture)),
    ),
    ...checkEnables(show, profiles),
  ];
}

/** An enable of a class that no output has: either the order is wrong, or an output should have that class. */
function checkEnables(show: ShowFile, profiles: ReturnType<typeof profilesOf>): Finding[] {
  const asked = show.orders.flatMap((order, index) =>
    'enable' in order ? [{ hazard: order.enable, index, slot: order.slot }] : [],
  );
  if (asked.length === 0) return [];
  const has = new Set<HazardClass>();
  for (const fixture of Object.values(show.fixtures)) {
    const attributes = profileFor(profiles, fixture)?.channels.map(one => one.attribute);
    // If a profile can't be read, nobody knows what it has.
    if (attributes === undefined) return [];
    for (const hazard of channelHazards(show, fixture, attributes)) has.add(hazard);
    if (strobeRaws(show, fixture, attributes).some(raws => raws !== undefined)) has.add('strobe');
  }
  const there = ENABLED_CLASSES.filter(one => has.has(one));
  const all =
    there.length === 0 ? 'has no output that needs an enable' : `has only ${enumerated(there)}`;
  return asked.flatMap(({ hazard, index, slot: [desk, slot] }): Finding[] => {
    if (has.has(hazard)) return [];
    return [
      {
        code: 'enable-of-nothing',
        message: `slot ${slot} of "${desk}" would enable outputs of class "${hazard}", but the show ${all}. Write hazard: ${hazard} at the fixture that is meant, or leave the order out.`,
        path: ['orders', index, 'enable'],
      },
    ];
  });
}

function checkRefused(show: ShowFile): Finding[] {
  return [
    ...Object.entries(show.profiles).flatMap(([name, profile]) => {
      // If a file can't be read, nobody knows what it says.
      if ('file' in profile)
        return refused(`profile "${name}"`, [name], undefined, ['profiles', name]);
      const { hazard, label } = profile;
      return [
        ...refused(`profile "${name}"`, [name, label ?? ''], hazard, ['profiles', name]),
        ...modeFilesOf(profile).flatMap(({ mode, path }) =>
          mode.channels.flatMap(({ attribute, hazard: own }, index) =>
            refused(`${attribute} of profile "${name}"`, [], own, [
              'profiles',
              name,
              ...path,
              'channels',
              index,
            ]),
          ),
        ),
      ];
    }),
    ...Object.entries(show.fixtures).flatMap(([name, { hazard, label, profile }]) => {
      // A profile named like a machine has been refused at its own place, if it belongs to this show.
      const names = [name, label ?? '', ...(profile in show.profiles ? [] : [profile])];
      return refused(`fixture "${name}"`, names, hazard, ['fixtures', name]);
    }),
  ];
}

function refused(
  who: string,
  names: readonly string[],
  hazard: HazardClass | RefusedClass | undefined,
  path: Path,
): Finding[] {
  if (hazard !== undefined && isRefused(hazard)) {
    const { why, whoDecides } = REFUSALS[hazard];
    return [
      {
        code: 'hazard-refused',
        message: `${who} is of class "${hazard}", which lampwright never drives: ${why}. That is for ${whoDecides}.`,
        path: [...path, 'hazard'],
      },
    ];
  }
  for (const name of names) {
    const verdict = nameVerdict(name);
    if (verdict === undefined || (verdict.mayBeLamp && hazard !== undefined)) continue;
    const { why, whoDecides } = REFUSALS[verdict.hazard];
    const lamp = verdict.mayBeLamp
      ? 'If it is a lamp, say so with hazard: ordinary.'
      : 'If it is a lamp, give it another name.';
    return [
      {
        code: 'hazard-refused',
        message: `${who} is called "${verdict.word}", and "${verdict.hazard}" is never driven by lampwright: ${why}. That is for ${whoDecides}. ${lamp}`,
        path,
        atKey: true,
      },
    ];
  }
  return [];
}

function checkHazardous(
  show: ShowFile,
  name: string,
  fixture: FixtureFile,
  profile: ProfileOptions | undefined,
): Finding[] {
  if (profile === undefined) return [];
  const path = ['fixtures', name];
  const attributes = profile.channels.map(channel => channel.attribute);
  const hazards = channelHazards(show, fixture, attributes);
  const hazardous = profile.channels.filter((_, index) => hazards[index] !== 'ordinary');
  const findings = checkStrobes(show, name, fixture, profile, hazards);
  if (hazardous.length === 0) return findings;
  const whole = fixtureHazard(show, fixture);
  if (fixture.fade !== undefined && whole !== 'ordinary') {
    findings.push({
      code: 'hazard-fade',
      message: `fixture "${name}" is of class "${whole}", which must go off at once; remove its fade.`,
      path: [...path, 'fade'],
      atKey: true,
    });
  }
  findings.push(...checkOff(name, fixture, hazardous, whole !== 'ordinary'));
  const driven = hazardous.find(channel => isDriven(show, name, fixture, profile, channel));
  const hazard = driven && hazards[attributes.indexOf(driven.attribute)];
  if (driven !== undefined && !canBeEnabled(show, hazard)) {
    findings.push({
      code: 'hazard-enable',
      message: `${driven.attribute} of fixture "${name}" is of class "${hazard}" and ${NEEDS_ENABLE}`,
      path,
      atKey: true,
    });
  }
  return findings;
}

/** By OSC, or by a slot of the desk. */
function canBeEnabled({ operator, orders }: ShowFile, hazard: HazardClass | undefined): boolean {
  if (operator !== undefined) return true;
  return orders.some(order => 'enable' in order && order.enable === hazard);
}

/** Flashing values of ordinary channels: never in the safe look, elsewhere only with an enable. */
function checkStrobes(
  show: ShowFile,
  name: string,
  fixture: FixtureFile,
  profile: ProfileOptions,
  hazards: readonly HazardClass[],
): Finding[] {
  const attributes = profile.channels.map(channel => channel.attribute);
  const ranges = strobeRaws(show, fixture, attributes);
  return profile.channels.flatMap((channel, index): Finding[] => {
    const raws = hazards[index] === 'ordinary' ? ranges[index] : undefined;
    if (raws === undefined) return [];
    const { attribute } = channel;
    const flashes = (said: unknown) => {
      const value = isValue(said) ? physicalOf(channel, said) : undefined;
      return value !== undefined && isHazardousRaw(raws, toRaw(compileChannel(channel), value));
    };
    const valuesIn = (look: LookWords = {}) => valuesOfLook(look, profile, show.palettes);
    const [base, safe] = [valuesIn(fixture.base), valuesIn(fixture.safe)];
    const rest = base[attribute] ?? channel.default;
    const path = ['fixtures', name];
    if (flashes(safe[attribute] ?? rest)) {
      const message = `${attribute} of fixture "${name}" strobes in the safe look; in the safe look light must be steady, or off.`;
      return [{ code: 'hazard-safe', message, path, atKey: true }];
    }
    const asked = show.mappings
      .filter(({ fixtures }) => namesOf(show, fixtures, 'fixtures').includes(name))
      .flatMap(mapping => [mapping.set, 'from' in mapping ? mapping.from : undefined])
      .map(look => valuesIn(look)[attribute]);
    if (canBeEnabled(show, 'strobe') || ![rest, ...asked].some(flashes)) return [];
    const message = `${attribute} of fixture "${name}" is asked to strobe, which ${NEEDS_ENABLE}`;
    return [{ code: 'hazard-enable', message, path, atKey: true }];
  });
}

/** A hazardous output must be off in the safe look. */
function checkOff(
  name: string,
  fixture: FixtureFile,
  hazardous: readonly ChannelOptions[],
  isWhole: boolean,
): Finding[] {
  const output = hazardous.filter(channel => mustBeOff(channel.attribute));
  const path = ['fixtures', name, ...(fixture.safe === undefined ? [] : ['safe'])];
  if (output.length === 0) {
    if (!isWhole || fixture.safe !== undefined) return [];
    const message = `fixture "${name}" is hazardous and has no Dimmer, Fog1 or Haze1, so only you know what "off" is for it: write it in safe.`;
    return [{ code: 'hazard-safe', message, path, atKey: true }];
  }
  return output.flatMap(channel => {
    const { attribute, from, to, default: byDefault } = channel;
    const said = fixture.safe?.[attribute] ?? fixture.base[attribute] ?? byDefault;
    const value = isValue(said) ? physicalOf(channel, said) : undefined;
    const off = Math.min(Math.max(0, Math.min(from, to)), Math.max(from, to));
    if (value === off) return [];
    // It need not be hazardous by itself.
    const light =
      attribute === 'Dimmer' && !isWhole && hazardous.some(one => isAtmospheric(one.attribute))
        ? ' It counts as part of a machine for fog or haze; if it is only light, write hazard: ordinary at its channel in the profile.'
        : '';
    const message =
      fixture.safe?.[attribute] === undefined
        ? `${attribute} of fixture "${name}" is hazardous, and its safe look, where it must be off, has its ${fixture.base[attribute] === undefined ? 'default' : 'base'} value, ${String(said)}: add safe: { ${attribute}: ${off} }.${light}`
        : `${attribute} of fixture "${name}" is hazardous and is set to ${String(said)} in the safe look; ${off} is off.${light}`;
    return [{ code: 'hazard-safe', message, path, atKey: true }];
  });
}

function isValue(value: unknown): value is number | string {
  return typeof value === 'number' || typeof value === 'string';
}

/** Whether anything takes it off its safe value. */
function isDriven(
  show: ShowFile,
  name: string,
  { base, safe }: FixtureFile,
  profile: ProfileOptions,
  { attribute, default: byDefault }: ChannelOptions,
): boolean {
  const valuesIn = (look: LookWords = {}) => valuesOfLook(look, profile, show.palettes);
  const rest = valuesIn(base)[attribute] ?? byDefault;
  if (rest !== (valuesIn(safe)[attribute] ?? rest)) return true;
  return show.mappings.some(
    ({ fixtures, set }) =>
      namesOf(show, fixtures, 'fixtures').includes(name) && attribute in valuesIn(set),
  );
}
