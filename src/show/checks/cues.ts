import { toRaw } from '../../fixtures/encode.js';
import { compileChannel, type ProfileOptions, physicalOf } from '../../fixtures/profile.js';
import { isHazardousRaw } from '../../safety/hazard.js';
import { own } from '../../stage/own.js';
import { TARGET, valuesOfLook } from '../palettes/look-values.js';
import { type Finding, type Path, suggestion } from '../problems/problem.js';
import { cueShares } from '../resolve/cues.js';
import { namesOf } from '../resolve/groups.js';
import { channelHazards, strobeRaws } from '../resolve/hazards.js';
import { profileFor, profilesOf } from '../resolve/profiles.js';
import type { FixtureFile, LookFile, ShowFile } from '../schema/schema.js';
import { type FixtureFault, together } from './fixture-faults.js';
import { hasPanAndTilt } from './fixtures.js';
import { checkValues } from './looks.js';
import { NameCheck } from './names.js';
import { checkAimedOnce } from './targets.js';

/** Words of an order: a cue of that name could never be asked for. */
const ORDER_WORDS: readonly string[] = ['next', 'back'];

/** Names, values and hazards of the cues. */
export function checkCues(show: ShowFile): Finding[] {
  const faults: FixtureFault[] = [];
  const names = new NameCheck(show);
  const findings = [
    ...checkMappingNames(show),
    ...Object.entries(show.cues).flatMap(([name, cue]) => {
      const path = ['cues', name];
      if (cue.fire !== undefined) names.one('conditions', cue.fire, [...path, 'fire']);
      for (const word of ['off', 'on'] as const) names.people(cue[word], [...path, word]);
      return [
        ...checkStage(show, name, path),
        ...checkCueName(name, path),
        ...checkCueLabel(show, name, path),
        ...checkActing(show, name, path),
        ...(['base', 'safe'] as const).flatMap(look =>
          Object.entries(cue[look]).flatMap(([word, values]) => {
            const at = [...path, look, word];
            names.oneOrGroup('fixtures', word, at);
            return namesOf(show, [word], 'fixtures').flatMap(fixture =>
              checkLook(show, name, fixture, values, at, faults),
            );
          }),
        ),
      ];
    }),
  ];
  // The name is the key of the look: if it is wrong, mark the key.
  const unknown = names.findings.map(one => ({ ...one, atKey: isLookName(one.path) }));
  return [...findings, ...unknown, ...together(faults)];
}

/** Whether there is a moment at which both mappings act: always, in a show without cues. */
export function actTogether({ mappings, cues }: ShowFile, a: number, b: number): boolean {
  const all = Object.values(cues);
  if (all.length === 0) return true;
  const [one, other] = [mappings[a], mappings[b]];
  return all.some(cue => {
    const shares = cueShares(cue);
    const acts = (mapping: typeof one) => {
      const named = mapping?.name === undefined ? undefined : shares.get(mapping.name);
      return named === undefined ? mapping?.always === true : named > 0;
    };
    return acts(one) && acts(other);
  });
}

function isLookName(path: Path): boolean {
  return path.includes('base') || path.includes('safe');
}

function checkStage(show: ShowFile, cue: string, path: Path): Finding[] {
  const { off = [], on = [] } = show.cues[cue] ?? {};
  const both = namesOf(show, on, 'performers').find(one =>
    namesOf(show, off, 'performers').includes(one),
  );
  if (both === undefined) return [];
  const message = `cue "${cue}" sends performer "${both}" off stage and on stage as well.`;
  return [{ code: 'name-shared', message, path: [...path, 'on'], atKey: true }];
}

function checkMappingNames({ mappings }: ShowFile): Finding[] {
  const first = new Map<string, number>();
  return mappings.flatMap(({ name }, index): Finding[] => {
    if (name === undefined) return [];
    const other = first.get(name);
    if (other === undefined) {
      first.set(name, index);
      return [];
    }
    const message = `mapping ${other + 1} is called "${name}" already, so a cue could not tell them apart.`;
    return [{ code: 'name-shared', message, path: ['mappings', index, 'name'] }];
  });
}

function checkCueName(name: string, path: Path): Finding[] {
  if (!ORDER_WORDS.includes(name.toLowerCase())) return [];
  const message = `a cue can't be called "${name}": that word is the order to go to another cue.`;
  return [{ code: 'cue-name', message, path, atKey: true }];
}

/** People ask for a cue by its label, and see by the label which one is on. */
function checkCueLabel({ cues }: ShowFile, name: string, path: Path): Finding[] {
  const label = cues[name]?.label;
  if (label === undefined) return [];
  const at = { code: 'cue-name' as const, path: [...path, 'label'] };
  if (ORDER_WORDS.includes(label.toLowerCase())) {
    const message = `a cue can't be labelled "${label}": that word is the order to go to another cue.`;
    return [{ ...at, message }];
  }
  const other = Object.entries(cues).find(
    ([one, cue]) =>
      one !== name && [one, cue.label].some(word => word?.toLowerCase() === label.toLowerCase()),
  );
  if (other === undefined) return [];
  const message = `cue "${name}" is labelled "${label}", as cue "${other[0]}" is called, so nobody could tell which of them is on.`;
  return [{ ...at, message }];
}

function checkActing({ mappings, cues }: ShowFile, cueName: string, path: Path): Finding[] {
  const names = mappings.flatMap(({ name }) => (name === undefined ? [] : [name]));
  const seen = new Set<string>();
  return (cues[cueName]?.mappings ?? []).flatMap((one, i) => {
    const said = typeof one === 'string' ? [one] : Object.keys(one);
    return said.flatMap((name): Finding[] => {
      const at = [...path, 'mappings', i, ...(typeof one === 'string' ? [] : [name])];
      const atKey = typeof one !== 'string';
      if (seen.has(name)) {
        const message = `mapping "${name}" appears twice in cue "${cueName}".`;
        return [{ code: 'name-shared', message, path: at, atKey }];
      }
      seen.add(name);
      // If two mappings have one name, either may be the one that is meant.
      if (names.includes(name) || new Set(names).size < names.length) return [];
      const unnamed = unnamedFor(mappings, name);
      const hint =
        unnamed !== undefined
          ? ` Mapping ${unnamed.place} (${unnamed.what}: ${name}) has no name: give it one with \`name\`.`
          : names.length === 0
            ? ' No mapping has a name yet: give it one with `name`.'
            : suggestion(name, names);
      const message = `there is no mapping "${name}".${hint}`;
      return [{ code: 'unknown-name', message, path: at, atKey }];
    });
  });
}

/** A mapping without a name that is about this zone, performer, signal or fixture, counted from 1. */
function unnamedFor(
  mappings: ShowFile['mappings'],
  name: string,
): { readonly place: number; readonly what: string } | undefined {
  for (const [index, mapping] of mappings.entries()) {
    if (mapping.name !== undefined) continue;
    const what = (['zone', 'follow', 'by', 'when'] as const).find(
      key => (mapping as Readonly<Record<string, unknown>>)[key] === name,
    );
    if (what !== undefined) return { place: index + 1, what };
    if (mapping.fixtures.includes(name)) return { place: index + 1, what: 'fixtures' };
  }
  return undefined;
}

function checkLook(
  show: ShowFile,
  cue: string,
  name: string,
  look: LookFile,
  path: Path,
  faults: FixtureFault[],
): Finding[] {
  const fixture = own(show.fixtures, name);
  if (fixture === undefined) return [];
  if (fixture.unpatched) {
    const message = `fixture "${name}" is unpatched, so nothing would be sent to it: give it a universe and an address and remove unpatched, or leave it out here.`;
    return [{ code: 'fixture-unpatched', message, path, atKey: true }];
  }
  const profile = profileFor(profilesOf(show), fixture);
  if (profile === undefined) return [];
  faults.push(...checkValues(look, profile, name, path, show.palettes));
  return [
    ...checkAim(fixture, name, profile, look, path),
    ...checkArming(show, cue, name, fixture, profile, look, path),
  ];
}

function checkAim(
  { position }: FixtureFile,
  name: string,
  profile: ProfileOptions,
  look: LookFile,
  path: Path,
): Finding[] {
  const twice = checkAimedOnce(name, look, path);
  if (twice.length > 0) return twice;
  const word = look.target === undefined ? 'aim' : TARGET;
  if (look[word] === undefined) return [];
  const at = { path: [...path, word], atKey: true };
  const fault = !hasPanAndTilt(profile)
    ? `its profile "${profile.name}" has no Pan and Tilt`
    : position === undefined
      ? 'it has no position'
      : undefined;
  if (fault === undefined) return [];
  return [
    { code: 'aim-impossible', message: `fixture "${name}" can't aim at a point: ${fault}.`, ...at },
  ];
}

/** A cue only changes light; hazardous outputs leave their safe value only while their enable is held. */
function checkArming(
  show: ShowFile,
  cue: string,
  name: string,
  fixture: FixtureFile,
  profile: ProfileOptions,
  look: LookFile,
  path: Path,
): Finding[] {
  const attributes = profile.channels.map(({ attribute }) => attribute);
  const hazards = channelHazards(show, fixture, attributes);
  const strobes = strobeRaws(show, fixture, attributes);
  const values = valuesOfLook(look, profile, show.palettes);
  return profile.channels.flatMap((channel, index): Finding[] => {
    const { attribute } = channel;
    const said = values[attribute];
    if (said === undefined) return [];
    const value = physicalOf(channel, said);
    const raws = strobes[index];
    const strobe =
      raws !== undefined &&
      value !== undefined &&
      isHazardousRaw(raws, toRaw(compileChannel(channel), value));
    const hazard = hazards[index] === 'ordinary' && strobe ? 'strobe' : hazards[index];
    if (hazard === undefined || hazard === 'ordinary') return [];
    const message = `${attribute} of fixture "${name}" is of class "${hazard}", and cue "${cue}" can't set it: only a mapping can take it off its safe value, while its enable is held.`;
    return [{ code: 'hazard-cue', message, path: [...path, attribute], atKey: true }];
  });
}
