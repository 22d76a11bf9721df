import { PSN_GROUP, PSN_PORT } from '../protocols/psn/layout.js';
import { own } from '../stage/own.js';
import type { ProfileDraft } from './gdtf-profile.js';
import type { Imported } from './import.js';
import { nameFrom, uniqueName } from './outcome.js';
import type { FixtureDraft } from './plot-fixture.js';
import { type OutFile, partFiles, ranges, universesOf, yamlText } from './show-text.js';

/** What somebody wants of a first show. */
export interface FirstShow {
  readonly name: string;
  /** Of the stage, metres: from stage right to stage left, and from downstage to upstage. */
  readonly widthM: number;
  readonly depthM: number;
  /** Labels of the performers, in the order of their trackers. */
  readonly performers: readonly string[];
  readonly tracking: 'osc' | 'psn';
  /** Address of this machine on the tracking network. */
  readonly listen: string;
  readonly light: 'sacn' | 'artnet';
  /** Address or name of this machine's interface on the lighting network. */
  readonly interface: string;
  /** Receivers; none: multicast. */
  readonly to: readonly string[];
  /** Profiles and fixtures of a plot or a kind of fixture, and the name of its file. */
  readonly rig: { readonly imported: Imported; readonly source: string } | undefined;
}

/** Where the schemas of show and scene files lie beside them, for editors. */
export const SCHEMA_FOLDER = 'schemas';
/** Where a bar of heads is likely to hang over a small stage: common practice, and to be measured. */
const BAR = { downstageM: 1, heightM: 5 };
const OSC_PORT = 9010;
const SLOTS = 512;

interface Named {
  readonly name: string;
  readonly label: string;
  readonly tracker: number;
}

interface Rig {
  /** The blocks `profiles` and `fixtures`, as text. */
  readonly text: string;
  readonly files: readonly OutFile[];
  /** Names of heads that can follow, and of a lamp that a zone can light. */
  readonly heads: readonly string[];
  readonly lamp: string | undefined;
  readonly universes: readonly number[];
}

/**
 * A first show with comments, the profile files that it names, and a scene to try it with.
 * @param base how its files are called: `BASE.show.yaml` and `BASE.scene.yaml`
 */
export function firstShow(wanted: FirstShow, base: string): OutFile[] {
  const taken = new Set<string>();
  const performers = wanted.performers.map(
    (label, index): Named => ({
      name: uniqueName(nameFrom(label, 'performer'), taken),
      label,
      tracker: index + 1,
    }),
  );
  const { rig: given } = wanted;
  const rig =
    given === undefined ? ownRig(wanted, performers) : importedRig(wanted, performers, given);
  return [
    { path: `${base}.show.yaml`, text: showText(wanted, performers, rig, base) },
    { path: `${base}.scene.yaml`, text: sceneText(wanted, performers, base) },
    ...rig.files,
  ];
}

function showText(wanted: FirstShow, performers: readonly Named[], rig: Rig, base: string): string {
  const { widthM, depthM, interface: from, to, light } = wanted;
  const [x, y] = middle(wanted);
  const radius = round(Math.min(widthM, depthM) / 5);
  const receivers = to.length === 0 ? 'multicast' : `[${to.join(', ')}]`;
  return `# yaml-language-server: $schema=${SCHEMA_FOLDER}/show.schema.json
#
# ${oneLine(wanted.name)}: a first show, made by \`lampwright init\`. Metres, seconds, degrees and per cent.
# x goes from stage right to stage left, y from downstage to upstage, z up; their origin is the corner downstage right.
#   lampwright check ${base}.show.yaml       after each change
#   lampwright rehearse ${base}.show.yaml ${base}.scene.yaml       what the light does, without a stage
lampwright: 1
name: ${yamlScalar(wanted.name)}

stage: { x: [0, ${widthM}], y: [0, ${depthM}] } # where performers can be

inputs:
  tracking:
${inputText(wanted)}

performers: # and the trackers that they wear
${performers.map(({ name, label, tracker }) => `  ${name}: { label: ${yamlScalar(label)}, trackers: [${tracker}] }`).join('\n')}

zones:
  centre: { circle: { centre: [${x}, ${y}], radius: ${radius} }, feather: 0.5 } # full inside, nothing 0.5 m outside

${rig.text}
mappings:
${mappingsText(performers, rig)}
outputs:${
    rig.universes.length === 0
      ? ' {} # none, as no fixture is patched'
      : `
  wire:
    protocol: ${light}
    interface: ${yamlScalar(from)} # address or name of this machine's interface on the lighting network
    to: ${receivers} # ${to.length === 0 ? 'or a list of the addresses of the receivers' : light === 'sacn' ? 'the receivers; or multicast' : 'the nodes'}
    universes: [${universeList(rig.universes)}]`
  }
`;
}

function inputText({ tracking, listen }: FirstShow): string {
  return tracking === 'osc'
    ? `    protocol: osc
    listen: ${listen} # address of this machine on the tracking network
    port: ${OSC_PORT} # to which the tracking system sends
    routes: [{ address: "/tracker/{tracker}/position" }] # with x, y and z in metres; others: docs/reference/show-file.md`
    : `    protocol: psn
    interface: ${listen} # address or name of this machine's interface on the tracking network
    group: ${PSN_GROUP} # or none, where the server sends to this machine
    port: ${PSN_PORT}
    axes: [x, z, y] # which axis of the feed is stage x, y and z: have somebody walk, and look (lampwright networks)`;
}

function mappingsText(performers: readonly Named[], { heads, lamp }: Rig): string {
  const lines = [
    ...(lamp === undefined
      ? []
      : [
          `  - { zone: centre, fixtures: [${lamp}], set: { Dimmer: 100 }, fade: { in: 0.5, out: 1.5 } } # lit by whoever is there`,
        ]),
    ...performers.flatMap(({ name }, index) => {
      const head = heads[index];
      return head === undefined
        ? []
        : [
            `  - { follow: ${name}, fixtures: [${head}], set: { Dimmer: 70 }, fade: { in: 1, out: 1.5 } }`,
          ];
    }),
  ];
  if (lines.length === 0)
    return '  [] # what a position does to the light: docs/guides/write-a-show.md\n';
  const more = heads.length - performers.length;
  const idle =
    more > 0 ? [`  # ${more} more ${more === 1 ? 'head' : 'heads'} could follow as well.`] : [];
  return `${[...lines, ...idle].join('\n')}\n`;
}

/** A lamp, and a head for each performer, of the built-in kinds. */
function ownRig(wanted: FirstShow, performers: readonly Named[]): Rig {
  const HEAD_SLOTS = 7;
  const places = performers.map((_, index) => barPlace(wanted, index, performers.length));
  const heads = performers.map(({ name }) => `head-${name}`);
  const [x, y] = middle(wanted);
  const patch = addresses(performers.length, HEAD_SLOTS, 11);
  const lines = heads.map((name, index) => {
    const { universe, address } = patch[index] ?? { universe: 1, address: 1 };
    return `  ${name}: { profile: moving-head, universe: ${universe}, address: ${address}, position: [${places[index]?.join(', ')}], safe: { aim: [${x}, ${y}, 0], Dimmer: 0 } }`;
  });
  return {
    text: `fixtures: # put yours in their place; \`safe\` is what each shows when nobody knows where a performer is
  lamp: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 30 } }
  # Hung base up, front to the audience; where pan and tilt cross, to be measured. Speeds and profiles: docs/guides/patch-fixtures.md
${lines.join('\n')}
`,
    files: [],
    heads,
    lamp: 'lamp',
    universes: [...new Set([1, ...patch.map(({ universe }) => universe)])],
  };
}

/** What a plot has; of a kind of fixture one for each performer. */
function importedRig(
  wanted: FirstShow,
  performers: readonly Named[],
  { imported, source }: NonNullable<FirstShow['rig']>,
): Rig {
  const fixtures =
    Object.keys(imported.fixtures).length > 0
      ? imported.fixtures
      : oneEach(wanted, performers, imported.profiles);
  const files = partFiles({ ...imported, fixtures }, source, 'unused').filter(
    ({ path }) => !path.endsWith('.patch.yaml'),
  );
  const references = Object.fromEntries(
    Object.keys(imported.profiles).map(name => [name, { file: `profiles/${name}.profile.yaml` }]),
  );
  const patched = Object.entries(fixtures).filter(([, { unpatched }]) => unpatched !== true);
  const has = (fixture: FixtureDraft, ...attributes: readonly string[]) => {
    // What needs an enable is not driven by a first show.
    if (own(imported.profiles, fixture.profile)?.hazard !== undefined) return false;
    const there = attributesOf(fixture, imported.profiles);
    return attributes.every(one => there.has(one));
  };
  const heads = patched
    .filter(([, one]) => one.position !== undefined && has(one, 'Pan', 'Tilt', 'Dimmer'))
    .map(([name]) => name);
  const lamp = patched.find(([, one]) => has(one, 'Dimmer') && !has(one, 'Pan'))?.[0];
  return {
    text: `# From ${oneLine(source)}. Each needs a safe look that somebody has seen: \`safe\` is what it shows when nobody knows where a
# performer is; without it, its base values, and no light. Until then the safe look is dark: \`lampwright check\` asks by
# which light people find their way out.
${yamlText({ profiles: references, fixtures })}`,
    files,
    heads,
    lamp,
    universes: universesOf(fixtures),
  };
}

function oneEach(
  wanted: FirstShow,
  performers: readonly Named[],
  profiles: Imported['profiles'],
): Record<string, FixtureDraft> {
  const [profile, draft] = Object.entries(profiles)[0] ?? [];
  if (profile === undefined || draft === undefined) return {};
  const [mode] = Object.keys(draft.modes);
  const slots = Math.max(1, ...slotsOf(draft, mode));
  const patch = addresses(performers.length, slots, 1);
  return Object.fromEntries(
    performers.map(({ name }, index): [string, FixtureDraft] => [
      `${profile}-${name}`,
      {
        profile,
        ...(mode === undefined ? {} : { mode }),
        ...(patch[index] ?? { universe: 1, address: 1 }),
        position: barPlace(wanted, index, performers.length),
      },
    ]),
  );
}

/** Fixtures of so many slots, one behind the other, none over the end of a universe. */
function addresses(
  count: number,
  slots: number,
  first: number,
): { readonly universe: number; readonly address: number }[] {
  let universe = 1;
  let address = first;
  return Array.from({ length: count }, () => {
    if (address + slots - 1 > SLOTS) {
      universe += 1;
      address = 1;
    }
    const at = { universe, address };
    address += slots;
    return at;
  });
}

function slotsOf(draft: ProfileDraft, mode: string | undefined): number[] {
  const { channels = [], fixed = [] } = draft.modes[mode ?? ''] ?? {};
  return [
    ...channels.flatMap(({ slots, copies = [] }) => [...slots, ...copies.flat()]),
    ...fixed.map(({ slot }) => slot),
  ];
}

function attributesOf(
  { profile, mode }: FixtureDraft,
  profiles: Imported['profiles'],
): Set<string> {
  const modes = own(profiles, profile)?.modes ?? {};
  const channels =
    (mode === undefined ? Object.values(modes)[0] : own(modes, mode))?.channels ?? [];
  return new Set(channels.map(({ attribute }) => attribute));
}

/** Performers walk from their side to the middle and back, one after the other. */
function sceneText(wanted: FirstShow, performers: readonly Named[], base: string): string {
  const { widthM, depthM } = wanted;
  const count = performers.length;
  const blocks = performers.map(({ name }, index) => {
    const x = round(((index + 0.5) / count) * widthM);
    const away = round(depthM * 0.8);
    const begin = (index * 4) % 12;
    return `  ${name}:
    path:
      - { at: 0, place: [${x}, ${away}] }
      - { at: ${begin + 4}, place: [${x}, ${away}] }
      - { at: ${begin + 12}, place: centre }
      - { at: ${begin + 16}, place: centre }
      - { at: ${begin + 24}, place: [${x}, ${away}] }
      - { at: 40, place: [${x}, ${away}] }`;
  });
  return `# yaml-language-server: $schema=${SCHEMA_FOLDER}/scene.schema.json
#
# Everybody comes to the middle once; in the end nothing is heard of anybody for three seconds.
#   lampwright play ${base}.scene.yaml --show ${base}.show.yaml --loop       while the show runs in another terminal
lampwright: 1
scene: a first walk
length: 40

performers:
${blocks.join('\n')}

losses:
  - { from: 36, to: 39 } # the tracking system is gone: the light goes to its safe look, and comes back
`;
}

function barPlace({ widthM }: FirstShow, index: number, count: number): [number, number, number] {
  return [round(((index + 0.5) / count) * widthM), -BAR.downstageM, BAR.heightM];
}

function middle({ widthM, depthM }: FirstShow): [number, number] {
  return [round(widthM / 2), round(depthM / 2)];
}

function round(metres: number): number {
  return Math.round(metres * 100) / 100;
}

/** Ranges are words, single universes are numbers. */
function universeList(universes: readonly number[]): string {
  return ranges(universes)
    .split(', ')
    .map(one => (one.includes('-') ? `"${one}"` : one))
    .join(', ');
}

function yamlScalar(text: string): string {
  return /^[A-Za-z][\w .]*$/.test(text) && !/^(y|n|yes|no|on|off|true|false|null)$/i.test(text)
    ? text
    : JSON.stringify(text);
}

function oneLine(text: string): string {
  return text.replace(/\s+/g, ' ');
}
