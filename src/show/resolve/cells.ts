import { isAttribute, isEmitter } from '../../fixtures/attributes.js';
import { attributesOf, COLOUR, type LookWords } from '../palettes/look-values.js';
import type { Finding } from '../problems/problem.js';
import type { ChannelFile, ModeFile } from '../schema/profile.js';
import type { FixtureFile, LookFile, ShowFile } from '../schema/schema.js';
import { groupOf } from './groups.js';
import { modeFileFor, slotsOf } from './profiles.js';

/** A show in which each cell that is a light of its own is a fixture, and the fixture that has them is a group. */
export interface CellsApart {
  readonly show: ShowFile;
  /** By the name of a cell (or of what the cells share), the name of its fixture in the file. */
  readonly origins: ReadonlyMap<string, string>;
  /** Names of the profiles of cells, which stand in no file. */
  readonly profiles: ReadonlySet<string>;
  readonly findings: readonly Finding[];
}

/**
 * Splits fixtures with `cells`. Everything after this sees only lights. The places that the `copies` of a profile
 * list are its cells; a channel whose number of places matches no cells stays in the body.
 */
export function apartCells(show: ShowFile): CellsApart {
  const origins = new Map<string, string>();
  const profiles: ShowFile['profiles'] = {};
  const findings: Finding[] = [];
  const fixtures: ShowFile['fixtures'] = {};
  const groups: ShowFile['groups'] = {};
  for (const [name, fixture] of Object.entries(show.fixtures)) {
    const mode =
      fixture.cells === undefined || fixture.unpatched ? undefined : modeOf(show, fixture);
    if (mode === undefined) {
      fixtures[name] = fixture;
      continue;
    }
    const parts = typeof mode === 'string' ? [] : partsOf(name, fixture, mode);
    findings.push(...placeFindings(name, fixture));
    // The cells are the group of that name from here on.
    if (groupOf(show, name) !== undefined) {
      const message = `group "${name}" has the name of a fixture, which is the group of its cells; give it another name.`;
      findings.push({ code: 'group-name', message, path: ['groups', name], atKey: true });
    }
    const taken = parts.find(part => isTaken(show, part.name));
    if (typeof mode === 'string' || taken !== undefined) {
      const message =
        taken === undefined
          ? `fixture "${name}" has no cells: ${mode}.`
          : `a cell of fixture "${name}" is called "${taken.name}", but something else in the show has that name; rename one of them.`;
      findings.push({ code: 'cells', message, path: ['fixtures', name, 'cells'], atKey: true });
      fixtures[name] = fixture;
      continue;
    }
    for (const part of parts) {
      origins.set(part.name, name);
      profiles[part.fixture.profile] ??= part.profile;
      fixtures[part.name] = part.fixture;
    }
    groups[name] = parts.flatMap(part => (part.isBody ? [] : [part.name]));
  }
  if (origins.size === 0) return { show, origins, profiles: new Set(), findings };
  const others = Object.entries(show.groups).map(([group, members]): [string, string[]] => [
    group,
    // A name that is not in the show may be one that every object has: "constructor".
    members.flatMap(
      member => (Object.hasOwn(groups, member) ? groups[member] : undefined) ?? [member],
    ),
  ]);
  return {
    show: {
      ...show,
      fixtures,
      groups: { ...Object.fromEntries(others), ...groups },
      profiles: { ...show.profiles, ...profiles },
    },
    origins,
    profiles: new Set(Object.keys(profiles)),
    findings,
  };
}

/** Both ends say where the cells are, and must be two different places. */
function placeFindings(name: string, { cells }: FixtureFile): Finding[] {
  const { from, to } = cells ?? {};
  const right = 'cells: { from: [x, y, z], to: [x, y, z] }, or {} if no place is needed.';
  const fault = (message: string): Finding[] => [
    { code: 'cells', message, path: ['fixtures', name, 'cells'], atKey: true },
  ];
  if (from === undefined && to === undefined) return [];
  if (from === undefined || to === undefined) {
    const [said, unsaid] = from === undefined ? ['last', 'first'] : ['first', 'last'];
    return fault(
      `fixture "${name}" says where its ${said} cell is but not its ${unsaid}: ${right}`,
    );
  }
  if (from.some((value, i) => value !== to[i])) return [];
  return fault(`the first and the last cell of fixture "${name}" are at the same place: ${right}`);
}

/** Findings of cells go to the fixture that has them; if all cells have one, it is reported for the first. */
export function atOrigins(
  findings: readonly Finding[],
  { origins, profiles }: CellsApart,
): Finding[] {
  if (origins.size === 0) return [...findings];
  const seen = new Set<string>();
  return findings.flatMap((finding): Finding[] => {
    const [block, name, ...rest] = finding.path;
    // Its faults are reported for the profile in the file.
    if (block === 'profiles' && profiles.has(String(name))) return [];
    const origin = block === 'fixtures' ? origins.get(String(name)) : undefined;
    const path = origin === undefined ? finding.path : ['fixtures', origin, ...rest];
    const said = finding.message
      .replace(/"([^"]*)-\d+"/g, (whole, one) =>
        origins.has(whole.slice(1, -1)) ? `"${one}"` : whole,
      )
      .replace(/"([^"]*) (?:cell \d+|body)"/g, (whole, one) =>
        profiles.has(whole.slice(1, -1)) ? `"${one}"` : whole,
      );
    const key = JSON.stringify([finding.code, path, said]);
    if (seen.has(key)) return [];
    seen.add(key);
    return [{ ...finding, path }];
  });
}

/** The mode of a fixture with cells, or why it has none; undefined if the profile is not known. */
function modeOf(show: ShowFile, fixture: FixtureFile): ModeFile | string | undefined {
  const mode = modeFileFor(show, fixture);
  if (mode === undefined) {
    // An unknown one is reported at its own place.
    if (Object.hasOwn(show.profiles, fixture.profile)) return undefined;
    return `profile "${fixture.profile}" has only one`;
  }
  return countOf(mode) > 1 ? mode : `no channel of profile "${fixture.profile}" has copies`;
}

function countOf({ channels }: ModeFile): number {
  return Math.max(...channels.map(({ copies = [] }) => 1 + copies.length));
}

function isTaken({ fixtures, groups, performers }: ShowFile, name: string): boolean {
  return (
    [fixtures, performers].some(all => Object.hasOwn(all, name)) ||
    groupOf({ groups, fixtures, performers }, name) !== undefined
  );
}

interface CellPart {
  readonly name: string;
  readonly isBody: boolean;
  readonly fixture: FixtureFile;
  readonly profile: Extract<ShowFile['profiles'][string], { channels: unknown }>;
}

/** Its cells in order, and the body if they share anything that can be driven. */
function partsOf(name: string, fixture: FixtureFile, mode: ModeFile): CellPart[] {
  const count = countOf(mode);
  const places = slotsOf(mode);
  const all = mode.channels.map((channel, i) => ({ channel, slots: [...(places[i] ?? [])] }));
  const ofCells = all.filter(({ channel }) => (channel.copies ?? []).length === count - 1);
  const shared = all.filter(one => !ofCells.includes(one));
  const has = (attribute: string) => ofCells.some(one => one.channel.attribute === attribute);
  const isColour = ofCells.some(
    ({ channel: { attribute } }) => isAttribute(attribute) && isEmitter(attribute),
  );
  // Each cell is dimmed for itself: the Dimmer over all of them stands open.
  const opens = shared.filter(
    ({ channel }) => channel.attribute === 'Dimmer' && isColour && !has('Dimmer'),
  );
  const rest = shared.filter(one => !opens.includes(one));
  const bodyHas = (attribute: string) =>
    !has(attribute) && rest.some(one => one.channel.attribute === attribute);
  const isForBody = (word: string) => attributesFor(word).some(bodyHas);
  const fixed = [...mode.fixed, ...opens.flatMap(openSlots)];
  const kind = `${fixture.profile}${fixture.mode === undefined ? '' : `/${fixture.mode}`}`;
  const common = profileOf(fixture);
  const cells = Array.from({ length: count }, (_, k): CellPart => {
    const channels = ofCells.map(({ channel: { copies = [], ...channel }, slots }) => ({
      ...channel,
      slots: k === 0 ? slots : (copies[k - 1] ?? []),
    }));
    const profile = `${kind} cell ${k + 1}`;
    return {
      name: `${name}-${k + 1}`,
      isBody: false,
      fixture: {
        ...common,
        label: `${fixture.label ?? name} ${k + 1}`,
        profile,
        position: placeOf(fixture, k, count),
        ...looksOf(fixture, word => !isForBody(word)),
      },
      profile: { channels, fixed: k === 0 && rest.length === 0 ? fixed : [] },
    };
  });
  if (rest.length === 0) return cells;
  const body: CellPart = {
    name: `${name}-body`,
    isBody: true,
    fixture: {
      ...common,
      label: `${fixture.label ?? name} body`,
      profile: `${kind} body`,
      ...looksOf(fixture, isForBody),
    },
    profile: { channels: rest.map(({ channel, slots }) => ({ ...channel, slots })), fixed },
  };
  return [...cells, body];
}

function profileOf({ cells: _, mode: __, ...fixture }: FixtureFile): FixtureFile {
  return fixture;
}

/** The attributes by which it is seen which part a word of a look is for; `colour` is for the cells. */
function attributesFor(word: string): readonly string[] {
  if (word === COLOUR) return ['ColorAdd_R'];
  return word === 'aim' ? ['Pan'] : attributesOf(word);
}

/** The words of base and safe that are for this part. */
function looksOf({ base, safe, ground }: FixtureFile, isFor: (word: string) => boolean) {
  const part = (look: LookWords) =>
    Object.fromEntries(Object.entries(look).filter(([word]) => isFor(word))) as LookFile;
  const words = (list: readonly string[] | undefined) => {
    const own = list?.filter(isFor);
    return own?.length === 0 ? undefined : own;
  };
  return { base: part(base), safe: safe && part(safe), ground: groundOf(ground, words) };
}

/** The part of the fixture's ground that is for one of its parts. */
function groundOf(
  ground: FixtureFile['ground'],
  words: (list: readonly string[] | undefined) => string[] | undefined,
): FixtureFile['ground'] {
  if (ground === undefined || typeof ground === 'string') return ground;
  if (Array.isArray(ground)) return words(ground);
  const { desk, safe, scale } = ground;
  return { desk: words(desk), safe: words(safe), scale: words(scale) };
}

/** Evenly between the first and the last; without places, at its fixture. */
function placeOf(
  { cells, position }: FixtureFile,
  k: number,
  count: number,
): FixtureFile['position'] {
  const { from, to } = cells ?? {};
  if (from === undefined || to === undefined) return position;
  const along = (i: 0 | 1 | 2) => from[i] + ((to[i] - from[i]) * k) / (count - 1);
  return [along(0), along(1), along(2)];
}

/** Held at the level of full. */
function openSlots({ channel, slots }: { channel: ChannelFile; slots: readonly number[] }) {
  const [from, to] = channel.range ?? [0, 100];
  const most = 2 ** channel.bits - 1;
  const [low, high] = channel.levels ?? [0, most];
  const full = to >= from ? high : low;
  return [slots, ...(channel.copies ?? [])].flatMap(place =>
    place.map((slot, i) => ({
      slot,
      level: Math.floor(full / 256 ** (place.length - 1 - i)) % 256,
    })),
  );
}
