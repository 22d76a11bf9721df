import { PLACEHOLDER } from '../show/resolve/builtin-profiles.js';
import { own } from '../stage/own.js';
import { clipped, readArchive } from './archive.js';
import { readGdtf } from './gdtf.js';
import { type ProfileDraft, profileOf } from './gdtf-profile.js';
import { fixturesOf, type MvrFixture } from './mvr.js';
import { nameFrom, type Remark, Remarks, uniqueName } from './outcome.js';
import {
  breakCounting,
  type FixtureDraft,
  fixtureDrafts,
  type Kind,
  type PlotPlace,
  SAME_FRAME,
} from './plot-fixture.js';
import { readXml } from './xml.js';

/** Parts of a show, as they will stand in its file. */
export interface Imported {
  readonly profiles: Readonly<Record<string, ProfileDraft>>;
  readonly fixtures: Readonly<Record<string, FixtureDraft>>;
  /** Fixtures in the plot. */
  readonly fixturesFound: number;
  /** Those of `fixtures` that are a further address (DMX break) of another, with the name of that. */
  readonly further: ReadonlyMap<string, string>;
  readonly remarks: readonly Remark[];
}

export type ImportResult =
  | ({ readonly ok: true } & Imported)
  | { readonly ok: false; readonly fault: string };

/** Of all the kinds of a plot together: a hundred large ones. What is packed is a tenth of it. */
const MOST_GDTF_XML_BYTES = 128 * 2 ** 20;

/** Of a list in a remark. */
const MOST_NAMES = 5;

const SCENE = 'GeneralSceneDescription.xml';

/**
 * What an MVR or a GDTF file says, as parts of a show; told apart by what is in the archive. Never throws.
 * @param file how to call it in remarks
 * @param budgetBytes of XML, of all the kinds of a plot together
 */
export function importArchive(
  bytes: Uint8Array,
  file: string,
  place = SAME_FRAME,
  budgetBytes = MOST_GDTF_XML_BYTES,
): ImportResult {
  const isGdtf = (name: string) => /\.gdtf$/i.test(name);
  const archive = readArchive(bytes, name => name === SCENE || isGdtf(name));
  if (!archive.ok) return archive;
  const scene = archive.entries.get(SCENE);
  if (scene !== undefined) return importMvr(scene, archive.entries, file, place, budgetBytes);
  if (archive.names.includes('description.xml')) return importGdtf(bytes, file);
  const fault = `it has neither ${SCENE} nor description.xml, so it is neither an MVR nor a GDTF file`;
  return { ok: false, fault };
}

function importGdtf(bytes: Uint8Array, file: string): ImportResult {
  const remarks = new Remarks();
  const gdtf = readGdtf(bytes, file, remarks);
  if (!gdtf.ok) return gdtf;
  const profile = profileOf(gdtf.fixture, remarks);
  if (profile === undefined) return { ok: false, fault: 'none of its modes can be used' };
  const name = nameFrom(gdtf.fixture.name, 'fixture');
  const profiles = { [name]: profile.draft };
  const none = { fixtures: {}, fixturesFound: 0, further: new Map() };
  return { ok: true, profiles, ...none, remarks: remarks.all };
}

function importMvr(
  scene: Uint8Array,
  entries: ReadonlyMap<string, Uint8Array>,
  file: string,
  place: PlotPlace,
  budgetBytes: number,
): ImportResult {
  const remarks = new Remarks();
  const xml = readXml(scene, 'GeneralSceneDescription');
  if (!xml.ok) return { ok: false, fault: `${SCENE}: ${xml.fault}` };
  const found = fixturesOf(xml.root, remarks);
  if (found.length === 0) remarks.note(file, 'there is no fixture in it');
  const profiles: Record<string, ProfileDraft> = {};
  const kinds = kindsOf(found, entries, remarks, profiles, budgetBytes);
  const fixtures: Record<string, FixtureDraft> = {};
  const further = new Map<string, string>();
  const taken = new Set<string>();
  const name = namerOf(found);
  const breaks = breakCounting(found);
  for (const fixture of found) {
    const kind = fixture.gdtfSpec === undefined ? undefined : kinds.get(fixture.gdtfSpec);
    const [own = '', ...more] = fixtureDrafts(fixture, kind, place, breaks, remarks).map(
      ({ suffix, draft }) => {
        draft.profile = invertedProfile(draft.profile, fixture, profiles);
        const unique = uniqueName(`${name(fixture)}${suffix}`, taken);
        const label = `${fixture.name.slice(0, 60 - suffix.length).trim()}${suffix.replaceAll('-', ' ')}`;
        fixtures[unique] = label.trim() === '' || label === unique ? draft : { label, ...draft };
        return unique;
      },
    );
    for (const other of more) further.set(other, own);
  }
  return {
    ok: true,
    profiles,
    fixtures,
    fixturesFound: found.length,
    further,
    remarks: remarks.all,
  };
}

/** One profile for each GDTF file that a fixture names, with the modes that are set on any; by the name used. */
function kindsOf(
  fixtures: readonly MvrFixture[],
  entries: ReadonlyMap<string, Uint8Array>,
  remarks: Remarks,
  profiles: Record<string, ProfileDraft>,
  budgetBytes: number,
): Map<string, Kind> {
  const wanted = new Map<string, { specs: Set<string>; modes: Set<string> }>();
  const missing = new Set<string>();
  for (const { gdtfSpec, gdtfMode } of fixtures) {
    if (gdtfSpec === undefined) continue;
    const name = entryNameOf(gdtfSpec, entries);
    if (name === undefined) {
      missing.add(gdtfSpec);
      continue;
    }
    const use = wanted.get(name) ?? { specs: new Set(), modes: new Set() };
    use.specs.add(gdtfSpec);
    if (gdtfMode !== undefined) use.modes.add(gdtfMode);
    wanted.set(name, use);
  }
  for (const spec of missing) {
    remarks.error(`GDTF file "${clipped(spec)}"`, 'it is not in the archive');
  }
  const idle = [...entries.keys()].filter(name => name !== SCENE && !wanted.has(name));
  if (idle.length > 0) {
    const names = idle.slice(0, MOST_NAMES).map(name => `"${clipped(name, 40)}"`);
    const more = idle.length - names.length;
    remarks.leftOut(
      'the archive',
      `${idle.length} GDTF file${idle.length === 1 ? '' : 's'} that no fixture names: ${names.join(', ')}${more > 0 ? ` and ${more} more` : ''}`,
    );
  }
  const kinds = new Map<string, Kind>();
  const names = new Set<string>([PLACEHOLDER]);
  let leftBytes = budgetBytes;
  for (const [entryName, { specs, modes }] of wanted) {
    const bytes = entries.get(entryName) ?? new Uint8Array(0);
    const gdtf = readGdtf(bytes, clipped(entryName), remarks, leftBytes);
    if (!gdtf.ok) {
      remarks.error(`GDTF file "${clipped(entryName)}"`, gdtf.fault);
      continue;
    }
    leftBytes -= gdtf.xmlBytes;
    const known = gdtf.fixture.modes.map(mode => mode.name);
    const [only] = known;
    // Who names no mode has the only one, or is told of it at the fixture.
    if (modes.size === 0 && known.length === 1 && only !== undefined) modes.add(only);
    const imported = profileOf(gdtf.fixture, remarks, modes);
    const profile = uniqueName(nameFrom(gdtf.fixture.name, 'fixture'), names);
    if (imported !== undefined) profiles[profile] = imported.draft;
    for (const spec of specs) kinds.set(spec, { profile, modes: imported?.modes ?? [] });
  }
  return kinds;
}

/** With or without the ending, in upper or lower case: writers differ. */
function entryNameOf(spec: string, entries: ReadonlyMap<string, Uint8Array>): string | undefined {
  for (const exact of [spec, `${spec}.gdtf`]) if (entries.has(exact)) return exact;
  const bare = (name: string) => name.toLowerCase().replace(/\.gdtf$/, '');
  const wanted = bare(spec);
  return [...entries.keys()].find(name => bare(name) === wanted);
}

/**
 * The profile of a fixture that has its pan or its tilt set to run the other way: the same with the
 * ranges turned round, made when the first one needs it.
 */
function invertedProfile(
  name: string,
  { invertsPan, invertsTilt }: MvrFixture,
  profiles: Record<string, ProfileDraft>,
): string {
  const turned = [...(invertsPan ? ['Pan'] : []), ...(invertsTilt ? ['Tilt'] : [])];
  const draft = own(profiles, name);
  if (turned.length === 0 || draft === undefined) return name;
  const inverted = `${name}-${turned.join('-').toLowerCase()}-inverted`;
  profiles[inverted] ??= {
    ...draft,
    modes: Object.fromEntries(
      Object.entries(draft.modes).map(([mode, { channels, ...rest }]) => [
        mode,
        {
          channels: channels.map(channel =>
            turned.includes(channel.attribute) && channel.range !== undefined
              ? { ...channel, range: [channel.range[1], channel.range[0]] as [number, number] }
              : channel,
          ),
          ...rest,
        },
      ]),
    ),
  };
  return inverted;
}

/** By their names in the plot; where several have the same, with what tells them apart on paper. */
function namerOf(fixtures: readonly MvrFixture[]): (fixture: MvrFixture) => string {
  const counts = new Map<string, number>();
  const plain = ({ name }: MvrFixture) => nameFrom(name, 'fixture');
  for (const fixture of fixtures) counts.set(plain(fixture), (counts.get(plain(fixture)) ?? 0) + 1);
  return fixture => {
    const name = plain(fixture);
    const id = fixture.fixtureId || fixture.unitNumber;
    return (counts.get(name) ?? 0) > 1 && id !== '' ? nameFrom(`${name} ${id}`, 'fixture') : name;
  };
}
