import { PLANCKIAN_KELVIN } from '../colour/temperature.js';
import { attributeClass } from '../fixtures/attributes.js';
import { isAtmospheric } from '../show/resolve/hazards.js';
import { ACCELERATION, SPEED } from '../show/schema/profile.js';
import type { Rotation } from '../stage/rotation.js';
import { type Vec3, vec3 } from '../stage/vector.js';
import { applyTo, rotationOf } from './affine.js';
import type { GdtfFixture, GdtfMode } from './gdtf.js';
import { type ChannelDraft, channelDraft, mainFunction } from './gdtf-channel-draft.js';
import { type ChannelFunction, type GdtfChannel, MOST_BYTES } from './gdtf-channels.js';
import { isIn, type Part } from './gdtf-geometry.js';
import { nameFrom, type Remarks, uniqueName } from './outcome.js';
import { numberOf, type XmlElement } from './xml.js';

/** A profile as it will stand in a file; keys as there. */
export interface ProfileDraft {
  label: string;
  hazard?: 'atmospheric';
  optics?: {
    beamAngle?: number;
    fieldAngle?: number;
    luminousFlux?: number;
    beamRadius?: number;
    colourTemperature?: number;
  };
  motion?: Record<string, { speed: number; acceleration?: number }>;
  modes: Record<string, ModeDraft>;
}

export interface ModeDraft {
  channels: ChannelDraft[];
  fixed?: { slot: number; level: number }[];
}

export interface ModeImport {
  /** As in the GDTF file. */
  readonly gdtfName: string;
  /** What has a DMX address of its own (a break), lowest first, with the name of its mode in the profile. */
  readonly parts: readonly { readonly dmxBreak: number; readonly name: string }[];
  readonly axes: HeadAxes | undefined;
}

/** Where pan and tilt cross in the body as it hangs, metres, and how the pan axis stands in it. */
export interface HeadAxes {
  readonly centre: Readonly<Vec3>;
  readonly rotation: Rotation;
}

export interface ProfileImport {
  readonly draft: ProfileDraft;
  readonly modes: readonly ModeImport[];
}

const LONGEST_LABEL = 60;

/** Of a machine for fog or haze, in the file and where it is imported. */
export const ATMOSPHERIC_MACHINE =
  'it makes fog or haze: all of its channels, its fan too, leave their safe values only while the atmospheric enable is held';

/**
 * The profile of a GDTF file.
 * @param wanted names of the modes to take; all of them where it is left out
 * @returns undefined where no mode has a channel that is of any use
 */
export function profileOf(
  fixture: GdtfFixture,
  remarks: Remarks,
  wanted?: ReadonlySet<string>,
): ProfileImport | undefined {
  let draft: ProfileDraft = { label: fixture.longName.slice(0, LONGEST_LABEL), modes: {} };
  const modes: ModeImport[] = [];
  const names = new Set<string>();
  for (const mode of fixture.modes) {
    if (wanted !== undefined && !wanted.has(mode.name)) continue;
    const drafts = modeDrafts(mode, fixture, remarks);
    const [first] = drafts;
    if (first === undefined) {
      remarks.leftOut(mode.where, 'none of its channels can be used');
      continue;
    }
    const parts = drafts.map(({ dmxBreak, draft: part }) => {
      const suffix = part === first.draft ? '' : `-break-${dmxBreak}`;
      const name = uniqueName(`${nameFrom(mode.name, 'mode')}${suffix}`, names);
      draft.modes[name] = part;
      return { dmxBreak, name };
    });
    if (parts.length > 1) {
      const list = parts.map(({ dmxBreak, name }) => `break ${dmxBreak} is "${name}"`).join(', ');
      remarks.note(
        mode.where,
        `it has ${parts.length} DMX addresses (breaks); each is a mode of its own, for a fixture of its own: ${list}`,
      );
    }
    modes.push({ gdtfName: mode.name, parts, axes: axesOf(mode, drafts, remarks) });
    const [optics, motion] = [opticsOf(mode), motionOf(mode)];
    if (optics !== undefined) draft.optics ??= optics;
    if (motion !== undefined) draft.motion ??= motion;
  }
  const channels = Object.values(draft.modes).flatMap(one => one.channels);
  if (channels.some(({ attribute }) => isAtmospheric(attribute))) {
    const { label, ...rest } = draft;
    draft = { label, hazard: 'atmospheric', ...rest };
    remarks.note(`"${draft.label}"`, ATMOSPHERIC_MACHINE);
  }
  return modes.length === 0 ? undefined : { draft, modes };
}

/** One of the places of a channel: of its own, or by a reference to the geometry that it is on. */
interface Place {
  readonly slots: readonly number[];
  readonly dmxBreak: number;
}

interface PartDraft {
  readonly dmxBreak: number;
  readonly draft: ModeDraft;
}

/** What of the file is of use for all its channels. */
type Known = Pick<GdtfFixture, 'units' | 'colours'>;

interface PlacedChannel {
  readonly channel: GdtfChannel;
  readonly places: readonly Place[];
}

/** One for each DMX break, lowest first; without those that have no channel of any use. */
function modeDrafts(mode: GdtfMode, known: Known, remarks: Remarks): PartDraft[] {
  const placed: PlacedChannel[] = [];
  for (const channel of mode.channels) {
    if (channel.offsets.length > 0) {
      placed.push({ channel, places: placesOf(channel, mode, remarks) });
    } else if (channel.attribute !== 'Dimmer') {
      // A virtual dimmer needs no remark: fixtures of colours alone get one here as well.
      remarks.note(channel.where, 'it has no slots, and is not needed');
    }
  }
  const breaks = new Set(placed.flatMap(({ places }) => places.map(({ dmxBreak }) => dmxBreak)));
  return [...breaks]
    .sort((a, b) => a - b)
    .flatMap(dmxBreak => {
      const own = placed
        .map(({ channel, places }) => ({
          channel,
          places: places.filter(place => place.dmxBreak === dmxBreak),
        }))
        .filter(({ places }) => places.length > 0);
      const draft = partDraft(own, known, remarks);
      if (draft.channels.length > 0) return [{ dmxBreak, draft }];
      if (breaks.size > 1) {
        remarks.leftOut(
          mode.where,
          `none of the channels of its DMX break ${dmxBreak} can be used`,
        );
      }
      return [];
    });
}

/** The channels of one DMX address. */
function partDraft(
  placed: readonly PlacedChannel[],
  { units, colours }: Known,
  remarks: Remarks,
): ModeDraft {
  const channels: ChannelDraft[] = [];
  const fixed: { slot: number; level: number }[] = [];
  const used = new Set<number>();
  const hold = (slots: readonly number[], raw: number) => {
    slots.forEach((slot, i) => {
      fixed.push({ slot, level: Math.floor(raw / 256 ** (slots.length - 1 - i)) % 256 });
    });
  };
  for (const { channel, places: wanted } of placed) {
    const places = wanted.filter(({ slots }) => {
      const clash = slots.find(
        (slot, i) => used.has(slot) || slot > 512 || slots.indexOf(slot) !== i,
      );
      if (clash === undefined) {
        for (const slot of slots) used.add(slot);
        return true;
      }
      remarks.leftOut(channel.where, `its slot ${clash} is in use already, or beyond 512`);
      return false;
    });
    const [first, ...others] = places;
    if (first === undefined) continue;
    if (first.slots.length > MOST_BYTES) {
      remarks.note(
        channel.where,
        `it has ${8 * first.slots.length} bits, and GDTF gives values of ${8 * MOST_BYTES} at most; the lowest are held at 0`,
      );
    }
    const cut = (slots: readonly number[]) => {
      for (const slot of slots.slice(MOST_BYTES)) fixed.push({ slot, level: 0 });
      return slots.slice(0, MOST_BYTES);
    };
    const same = channels.find(({ attribute }) => attribute === channel.attribute);
    if (same !== undefined) {
      // Two eyes, or a cell written out: what can be ganged is, and what can't keeps its default.
      const fits = same.slots.length === Math.min(MOST_BYTES, first.slots.length);
      if (fits && attributeClass(same.attribute) !== 'movement') {
        same.copies = [...(same.copies ?? []), ...places.map(({ slots }) => cut(slots).slice())];
        remarks.note(channel.where, `it is a second ${channel.attribute}; both are driven as one`);
      } else {
        for (const { slots } of places) hold(cut(slots), channel.defaultRaw);
        remarks.leftOut(
          channel.where,
          `it is a second ${channel.attribute}; its slots are held at their default`,
        );
      }
      continue;
    }
    const draft = channelDraft(channel, cut(first.slots), units, colours, remarks);
    const rest = others.map(({ slots }) => [...cut(slots)]);
    if (draft === undefined) {
      for (const slots of [first.slots.slice(0, MOST_BYTES), ...rest])
        hold(slots, channel.defaultRaw);
      continue;
    }
    if (rest.length > 0) {
      draft.copies = rest;
      remarks.note(channel.where, `${rest.length + 1} cells have it; all are driven as one`);
    }
    channels.push(draft);
  }
  channels.sort((a, b) => (a.slots[0] ?? 0) - (b.slots[0] ?? 0));
  fixed.sort((a, b) => a.slot - b.slot);
  const held = fixed.filter(({ level }) => level > 0);
  // Slots that hold 0 need no mention, but for the last one: so the fixture has its full length.
  const end = Math.max(0, ...channels.flatMap(one => [one.slots, ...(one.copies ?? [])]).flat());
  const last = fixed.at(-1);
  if (last !== undefined && last.level === 0 && last.slot > end) held.push(last);
  return held.length === 0 ? { channels } : { channels, fixed: held };
}

function placesOf(channel: GdtfChannel, mode: GdtfMode, remarks: Remarks): Place[] {
  const on = mode.parts.filter(part => part.name === channel.geometry);
  if (on.length === 0 && mode.parts.length > 0) {
    remarks.note(channel.where, 'its geometry is not part of the mode; taken as on the body');
  }
  return on.length === 0
    ? [{ slots: channel.offsets, dmxBreak: channel.dmxBreak ?? 1 }]
    : on.map(part => placeOn(part, channel));
}

function placeOn(part: Part, { offsets, dmxBreak }: GdtfChannel): Place {
  let referred: Part | undefined = part;
  while (referred !== undefined && referred.shifts.length === 0) referred = referred.parent;
  const shifts = referred?.shifts ?? [];
  // "Overwrite" takes the last break of the reference.
  const shift =
    dmxBreak === undefined ? shifts.at(-1) : shifts.find(one => one.dmxBreak === dmxBreak);
  return {
    slots: offsets.map(offset => offset + (shift?.slots ?? 0)),
    dmxBreak: dmxBreak ?? shift?.dmxBreak ?? 1,
  };
}

/** Angles and metres that don't matter beside how well a plot is hung. */
const STRAIGHT_COS = Math.cos((0.5 * Math.PI) / 180);
const NEAR_M = 0.01;

function axesOf(
  { channels, parts, where }: GdtfMode,
  drafts: readonly PartDraft[],
  remarks: Remarks,
): HeadAxes | undefined {
  const has = ({ draft }: PartDraft, attribute: string) =>
    draft.channels.some(one => one.attribute === attribute);
  const moving = drafts.filter(one => has(one, 'Pan') || has(one, 'Tilt'));
  if (moving.length > 1) {
    remarks.note(
      where,
      'its Pan and Tilt have DMX addresses of their own, so it can not be aimed at a point',
    );
  }
  const partOf = (attribute: string) => {
    const channel = channels.find(one => one.attribute === attribute);
    return channel && parts.find(part => part.name === channel.geometry);
  };
  const [pan, tilt] = [partOf('Pan'), partOf('Tilt')];
  if (pan === undefined || tilt === undefined) return undefined;
  const turned = rotationOf(pan.placed);
  const tilted = rotationOf(tilt.placed);
  if (!turned.ok || !tilted.ok) {
    remarks.note(where, `the axes of the head are not placed by turns alone; calibrate it`);
    return undefined;
  }
  const axis = (rotation: Rotation, i: 0 | 1 | 2) =>
    vec3(rotation[i], rotation[3 + i] as number, rotation[6 + i] as number);
  const straight = ([0, 1, 2] as const).every(
    i => dot(axis(turned.rotation, i), axis(tilted.rotation, i)) > STRAIGHT_COS,
  );
  if (!straight) {
    remarks.note(
      where,
      'its tilt axis is turned against its pan axis, which is not modelled; calibrate it',
    );
  }
  // The pan axis is the Z of its geometry: what lies beside it swings round.
  const [from, to] = [pan.placed.offset, tilt.placed.offset];
  const z = axis(turned.rotation, 2);
  const apart = vec3(to.x - from.x, to.y - from.y, to.z - from.z);
  const along = dot(apart, z);
  const beside = Math.hypot(apart.x - along * z.x, apart.y - along * z.y, apart.z - along * z.z);
  if (beside > NEAR_M) {
    remarks.note(
      where,
      `its pan and tilt axes pass ${beside.toFixed(3)} m apart, which is not modelled`,
    );
  }
  const beam = parts.find(part => part.element.name === 'Beam' && isIn(part, tilt));
  if (beam !== undefined) {
    const out = applyTo({ linear: beam.placed.linear, offset: vec3(0, 0, 0) }, vec3(0, 0, -1));
    const size = Math.sqrt(dot(out, out));
    if (!(-dot(out, z) > STRAIGHT_COS * size)) {
      remarks.note(
        where,
        'its beam does not leave along the pan axis at pan and tilt 0, which is not modelled; calibrate it',
      );
    }
  }
  return { centre: to, rotation: turned.rotation };
}

function dot(a: Readonly<Vec3>, b: Readonly<Vec3>): number {
  return a.x * b.x + a.y * b.y + a.z * b.z;
}

/** Of the first beam; only what the file says, for GDTF's own defaults (25 degrees, 10 000 lm) are no measurement. */
function opticsOf({ parts }: GdtfMode): ProfileDraft['optics'] {
  const beam = parts.find(part => part.element.name === 'Beam')?.element;
  const positive = (name: string, most: number) => {
    const value = numberOf(beam, name);
    return value !== undefined && value > 0 && value <= most ? value : undefined;
  };
  const optics = {
    beamAngle: positive('BeamAngle', 180),
    fieldAngle: positive('FieldAngle', 180),
    luminousFlux: positive('LuminousFlux', 1e7),
    beamRadius: positive('BeamRadius', 10),
    colourTemperature: colourTemperatureOf(beam),
  };
  const said = Object.entries(optics).filter(([, value]) => value !== undefined);
  return said.length === 0 ? undefined : Object.fromEntries(said);
}

/** Only what can be a lamp's. */
function colourTemperatureOf(beam: XmlElement | undefined): number | undefined {
  const kelvin = numberOf(beam, 'ColorTemperature') ?? 0;
  const { least, most } = PLANCKIAN_KELVIN;
  return kelvin >= least && kelvin <= most ? kelvin : undefined;
}

const MOTION = { Pan: 'pan', Tilt: 'tilt', Zoom: 'zoom', Iris: 'iris', Focus1: 'focus' } as const;

function motionOf({ channels }: GdtfMode): ProfileDraft['motion'] {
  const motion: Record<string, { speed: number; acceleration?: number }> = {};
  for (const [attribute, key] of Object.entries(MOTION)) {
    const channel = channels.find(one => one.attribute === attribute);
    const main = channel && mainFunction(channel);
    const limit = main && limitOf(main, attribute);
    if (limit !== undefined) motion[key] = limit;
  }
  return Object.keys(motion).length === 0 ? undefined : motion;
}

/**
 * RealFade is the time over the whole range, so the mean speed; the greatest is no lower, and this is
 * what can be relied on. RealAcceleration is the time from standing to full speed.
 */
function limitOf(
  { physicalFrom, physicalTo, realFadeS, realAccelerationS }: ChannelFunction,
  attribute: string,
): { speed: number; acceleration?: number } | undefined {
  if (!(realFadeS > 0)) return undefined;
  const isShare = attribute === 'Iris' || attribute === 'Focus1';
  const range = Math.abs(physicalTo - physicalFrom) * (isShare ? 100 : 1);
  const speed = Number((range / realFadeS).toPrecision(6));
  if (!(speed >= SPEED.least && speed <= SPEED.most)) return undefined;
  const acceleration = Number((speed / realAccelerationS).toPrecision(6));
  const isLimit = acceleration >= ACCELERATION.least && acceleration <= ACCELERATION.most;
  return isLimit ? { speed, acceleration } : { speed };
}
