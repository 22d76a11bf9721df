import { type Profile, placesOf } from '../fixtures/profile.js';
import {
  type FixturePlan,
  type OutputPlan,
  type Show,
  SLOTS_PER_UNIVERSE,
} from '../show/model/model.js';
import { unitSuffix } from '../show/problems/value-text.js';
import { enumerated } from '../stage/enumerated.js';
import { turnsFromRotation } from '../stage/rotation.js';
import { toDegrees } from '../stage/units.js';
import { actsText, comesText, cueSheets } from './cue-sheets.js';
import { type DeskChart, deskChart } from './desk-chart.js';
import { safeLights } from './safe-lights.js';
import { type Run, runsOf } from './slot-chart.js';

/** What a production keeps of a rig in its folder: where things hang, how they are patched, what they do. */
export interface RigSheet {
  readonly show: string;
  readonly fixtures: readonly RigFixture[];
  /** Those that hang and are sent nothing. */
  readonly unpatched: readonly { readonly label: string; readonly hangs: string }[];
  readonly universes: readonly RigUniverse[];
  readonly profiles: readonly RigProfile[];
  readonly cues: readonly RigCue[];
  readonly performers: readonly {
    readonly label: string;
    readonly trackers: readonly string[];
    readonly heightM: number;
    readonly wornAtM: number;
  }[];
  readonly spares: readonly string[];
  readonly anchors: readonly { readonly name: string; readonly hangs: string }[];
  /** Slots by which the desk drives the show. */
  readonly desk: DeskChart;
}

export interface RigFixture {
  /** In the order of the patch, from 1. */
  readonly number: number;
  readonly name: string;
  readonly label: string;
  readonly kind: 'head' | 'fixed';
  readonly profile: string;
  /** Universe and first slot. */
  readonly patch: string;
  readonly universe: number;
  readonly runs: readonly Run[];
  /** "1.0, 1.0, 5.2"; '' where the show doesn't say. */
  readonly hangs: string;
  /** Of a head how it is turned, and how far its tilt is off: "hanging", "standing, tilt trim 1.2°"; '' of others. */
  readonly hung: string;
  readonly calibrated: string;
  /** In the safe look. */
  readonly safe: string;
  /** Its cells, where each is a light of its own, and then what they share. */
  readonly cells: readonly RigCell[];
}

/** What of a fixture is a light of its own, or is shared by its cells. */
export interface RigCell {
  /** undefined: nothing drives it. */
  readonly name: string | undefined;
  readonly label: string;
  readonly runs: readonly Run[];
  readonly hangs: string;
  readonly safe: string;
}

export interface RigUniverse {
  readonly universe: number;
  /** "sACN universe 1 from 10.0.0.20 to multicast, 40 Hz, priority 100" */
  readonly outputs: readonly string[];
  readonly used: number;
  readonly free: readonly Run[];
}

export interface RigProfile {
  readonly name: string;
  readonly slots: number;
  readonly fixtures: readonly string[];
  readonly channels: readonly {
    /** "1 + 2": of the fixture, from 1, coarse first; '' of a dimmer without slots. */
    readonly slots: string;
    readonly attribute: string;
    readonly range: string;
    /** Named values. */
    readonly values: readonly string[];
  }[];
}

export interface RigCue {
  readonly label: string;
  readonly comes: string;
  readonly acts: string;
  /** Where its safe look is another than that of the fixtures. */
  readonly safe: readonly string[];
}

export function rigSheet(show: Show): RigSheet {
  const fixtures = rigFixtures(show);
  return {
    show: show.name,
    fixtures,
    unpatched: show.unpatched.map(({ label, position }) => ({ label, hangs: placeText(position) })),
    universes: show.universes.map((universe, index) =>
      rigUniverse(show, universe, index, fixtures),
    ),
    profiles: rigProfiles(show),
    cues: rigCues(show),
    performers: show.performers.map(({ label, trackers, heightM, wornAtM }) => ({
      label,
      trackers: trackers.map(({ id }) => id),
      heightM,
      wornAtM,
    })),
    spares: show.spares.map(({ id }) => id),
    anchors: show.anchors.map(({ name, position }) => ({ name, hangs: placeText(position) })),
    desk: deskChart(show),
  };
}

/** As they are patched: one with cells is one, and has its cells below it. */
function rigFixtures(show: Show): RigFixture[] {
  const sentences = safeLights(show).map(({ sentence }) => sentence);
  const wholes = new Map<string, FixturePlan[]>();
  for (const plan of show.fixtures) {
    const parts = wholes.get(plan.inFile);
    if (parts === undefined) wholes.set(plan.inFile, [plan]);
    else parts.push(plan);
  }
  const safeOf = (plan: FixturePlan) => sentences[show.fixtures.indexOf(plan)] ?? '';
  return [...wholes]
    .sort(([, [a]], [, [b]]) => firstOf(a) - firstOf(b))
    .map(([name, parts], i) => {
      const plan = parts[0] as FixturePlan;
      const { firstSlot, profileInFile: profile } = plan;
      const isApart = plan.name !== name;
      const universe = show.universes[plan.universe] ?? 0;
      const own = { profile, firstSlot };
      const safe = [...new Set(parts.filter(isLight).map(safeOf))];
      return {
        number: i + 1,
        name,
        label: wholeLabel(show, plan),
        kind: parts.some(({ head }) => head !== undefined) ? 'head' : 'fixed',
        profile: profile.name,
        patch: `${universe}/${Math.min(...slotsOf(own))}`,
        universe,
        runs: runsOf(slotsOf(own)),
        hangs: alongText(parts.filter(isLight)),
        hung: hungText(parts.find(({ head }) => head !== undefined)),
        calibrated: parts.find(({ calibrated }) => calibrated !== undefined)?.calibrated ?? '',
        // Where the cells differ, each says its own.
        safe: safe.length === 1 ? (safe[0] ?? '') : '',
        cells: isApart ? cellsOf(parts, safeOf) : [],
      };
    });
}

/** Its own label; of a cell that of the fixture that has it. */
function wholeLabel({ groups }: Show, { name, label, inFile }: FixturePlan): string {
  if (name === inFile) return label;
  return groups.find(group => group.name === inFile)?.label ?? inFile;
}

/** Whether it gives light by itself: what cells share does not. */
function isLight({ name, inFile }: FixturePlan): boolean {
  return name === inFile || name !== `${inFile}-body`;
}

function cellsOf(parts: readonly FixturePlan[], safeOf: (plan: FixturePlan) => string): RigCell[] {
  const cells = parts.map(plan => ({
    name: plan.name,
    label: plan.label,
    runs: runsOf(slotsOf({ ...plan, profile: { ...plan.profile, fixed: [] } })),
    hangs: isLight(plan) ? placeText(plan.position) : '',
    safe: safeOf(plan),
  }));
  const driven = new Set(parts.flatMap(({ profile }) => profile.channels.flatMap(placesOf).flat()));
  const { profileInFile, firstSlot } = parts[0] as FixturePlan;
  const held = profileInFile.channels.flatMap((channel): RigCell[] => {
    const offsets = placesOf(channel).flat();
    if (offsets.length === 0 || offsets.some(offset => driven.has(offset))) return [];
    const slots = offsets.map(offset => slotAt(firstSlot, offset));
    return [
      {
        ...{ name: undefined, label: `${channel.attribute} of all cells`, runs: runsOf(slots) },
        ...{ hangs: '', safe: 'held at full: each cell is dimmed for itself' },
      },
    ];
  });
  return [...cells, ...held];
}

function firstOf(plan: FixturePlan | undefined): number {
  if (plan === undefined) return 0;
  const { universe, firstSlot, profileInFile: profile } = plan;
  return universe * SLOTS_PER_UNIVERSE + Math.min(...slotsOf({ profile, firstSlot }));
}

/** In their universe, counted from 1. */
function slotsOf({ profile, firstSlot }: Pick<FixturePlan, 'profile' | 'firstSlot'>): number[] {
  const offsets = [
    ...profile.channels.flatMap(placesOf).flat(),
    ...profile.fixed.map(({ offset }) => offset),
  ];
  return offsets.map(offset => slotAt(firstSlot, offset));
}

function slotAt(firstSlot: number, offset: number): number {
  return (firstSlot % SLOTS_PER_UNIVERSE) + offset + 1;
}

function rigUniverse(
  show: Show,
  universe: number,
  index: number,
  fixtures: readonly RigFixture[],
): RigUniverse {
  const used = new Set<number>();
  for (const { runs } of fixtures.filter(one => one.universe === universe)) {
    for (const [first, last] of runs) for (let slot = first; slot <= last; slot++) used.add(slot);
  }
  const all = Array.from({ length: SLOTS_PER_UNIVERSE }, (_, i) => i + 1);
  return {
    universe,
    outputs: show.outputs.flatMap(output => outputText(output, index)),
    used: used.size,
    free: runsOf(all.filter(slot => !used.has(slot))),
  };
}

function outputText(output: OutputPlan, index: number): string[] {
  const one = output.universes.find(universe => universe.index === index);
  if (one === undefined) return [];
  const wire =
    output.protocol === 'sacn'
      ? `sACN universe ${one.onWire}`
      : `Art-Net Port-Address ${one.onWire}`;
  const to = output.to === 'multicast' ? 'multicast' : enumerated(output.to, 4);
  const priority = output.protocol === 'sacn' ? `, priority ${output.priority}` : '';
  return [`${wire} from ${output.interface} to ${to}, ${output.rateHz} Hz${priority}`];
}

function rigProfiles(show: Show): RigProfile[] {
  const users = new Map<string, { profile: Profile; labels: string[] }>();
  const told = new Set<string>();
  for (const plan of show.fixtures) {
    if (told.has(plan.inFile)) continue;
    told.add(plan.inFile);
    const { profileInFile: profile } = plan;
    const label = wholeLabel(show, plan);
    const one = users.get(profile.name);
    if (one === undefined) users.set(profile.name, { profile, labels: [label] });
    else one.labels.push(label);
  }
  return [...users.values()].map(({ profile, labels }) => ({
    name: profile.name,
    slots: profile.footprint,
    fixtures: labels,
    channels: profile.channels.map(channel => ({
      slots: placesOf(channel)
        .map(place => place.map(offset => offset + 1).join(' + '))
        .filter(text => text !== '')
        .join(', '),
      attribute: channel.attribute,
      range: `${rounded(channel.from)} to ${rounded(channel.to)}${unitSuffix(channel.unit)}`,
      values: [...channel.values.keys()],
    })),
  }));
}

function rigCues(show: Show): RigCue[] {
  const usual = safeLights(show, -1);
  return cueSheets(show).map((cue, index) => {
    const lights = safeLights(show, index);
    const differing = new Set(cue.safe.map(({ fixture }) => fixture));
    return {
      label: cue.label,
      comes: comesText(cue),
      acts: actsText(cue),
      safe: lights.flatMap(({ name, label, sentence }, i) =>
        differing.has(name)
          ? [
              `${label} ${sentence === usual[i]?.sentence ? 'as usual, except for details' : sentence}`,
            ]
          : [],
      ),
    };
  });
}

/** Where it hangs; of cells from the first to the last. */
function alongText(lights: readonly FixturePlan[]): string {
  const [from, to] = [placeText(lights[0]?.position), placeText(lights.at(-1)?.position)];
  return from === to ? from : `${from} to ${to}`;
}

function placeText(
  place: { readonly x: number; readonly y: number; readonly z: number } | undefined,
): string {
  return place === undefined
    ? ''
    : [place.x, place.y, place.z].map(one => one.toFixed(1)).join(', ');
}

function hungText(plan: FixturePlan | undefined): string {
  if (plan?.head === undefined) return '';
  const { x, y, z } = turnsFromRotation(plan.head.rotation);
  const [aboutX, aboutY, aboutZ] = [x, y, z].map(turn => Number(toDegrees(turn).toFixed(1)) || 0);
  const isUpright = aboutX === 0 || Math.abs(aboutX ?? 0) === 180;
  const stands = aboutX === 0 ? 'hanging' : 'standing';
  const turned =
    aboutY !== 0 || !isUpright
      ? `turned ${aboutX}, ${aboutY}, ${aboutZ}° about x, y, z`
      : aboutZ === 0
        ? stands
        : `${stands}, turned ${aboutZ}° about z`;
  const trim = Number(toDegrees(plan.tiltTrim).toFixed(1)) || 0;
  return trim === 0 ? turned : `${turned}; tilt trim ${trim}°`;
}

function rounded(value: number): number {
  return Number(value.toFixed(2));
}
