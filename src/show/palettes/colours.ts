import {
  distanceOf,
  scaled,
  sumOf,
  type Xy,
  type Xyz,
  xyOf,
  xyzOf,
} from '../../colour/chromaticity.js';
import { type Mixed, mixOf } from '../../colour/mix.js';
import { srgbLights, xyOfSrgb } from '../../colour/srgb.js';
import { inSteps } from '../../colour/stepped.js';
import { daylight, planckian } from '../../colour/temperature.js';
import { type Attribute, isEmitter, isFilter } from '../../fixtures/attributes.js';
import type { ChannelColours, ProfileOptics, StatedLight } from '../../fixtures/profile.js';
import { enumerated } from '../../stage/enumerated.js';
import type { ColourFile } from '../schema/palettes.js';

/** The parts of a profile, compiled or not, that its colours are made with. */
export interface Colourable {
  readonly name: string;
  readonly channels: readonly ColourableChannel[];
  readonly optics?: ProfileOptics | undefined;
}

interface ColourableChannel extends ChannelColours {
  readonly attribute: Attribute;
  readonly from: number;
  readonly to: number;
  /** For a channel that is not compiled, and for one that is. */
  readonly bits?: number;
  readonly levels?: readonly [number, number] | undefined;
  readonly rawAtFrom?: number;
  readonly rawAtTo?: number;
}

/** How a fixture makes a colour. */
export interface ColourMade {
  readonly by: 'emitters' | 'filters' | 'wheel';
  /** Physical values, or names of them. */
  readonly values: Readonly<Record<string, number | string>>;
  /** How far what comes out is from what is asked, in u'v'. */
  readonly off: number;
  /** Per cent of all emitters at full, or of the open lamp. */
  readonly luminance: number;
  /** Error caused by the steps of its slots, in u'v', and how much brighter (below 0: darker), as a share. */
  readonly bySteps: { readonly off: number; readonly brighter: number };
  /** Nothing is stated about its emitters or filters: those of sRGB are assumed. */
  readonly isAssumed: boolean;
  /** Emitters about which nothing is stated, beside others: they stay dark. */
  readonly unknown: readonly Attribute[];
}

/** What a colour asks: a chromaticity, and per cent of the most luminance of the fixture. */
export interface ColourAsked {
  readonly xy: Xy;
  readonly luminance: number | undefined;
}

/** Expects a colour without findings; white if it has no definition. */
export function colourAsked({
  xy,
  kelvin,
  duv,
  daylight: day,
  srgb,
  luminance,
}: ColourFile): ColourAsked {
  const chromaticity =
    xy !== undefined
      ? { x: xy[0], y: xy[1] }
      : kelvin !== undefined
        ? planckian(kelvin, duv)
        : day !== undefined
          ? daylight(day)
          : xyOfSrgb(srgb ?? [255, 255, 255]);
  return { xy: chromaticity, luminance };
}

/** @returns why it can't, in words that go on after the name of the profile */
export function colourOn(profile: Colourable, asked: ColourAsked): ColourMade | string {
  const { channels } = profile;
  const emitters = channels.filter(({ attribute }) => isEmitter(attribute));
  if (emitters.length > 0) return byEmitters(emitters, asked);
  const filters = channels.filter(({ attribute }) => isFilter(attribute));
  if (filters.length > 0) return byFilters(filters, profile.optics, asked);
  const wheel = channels.find(({ places }) => places !== undefined);
  if (wheel !== undefined) return byWheel(wheel, asked);
  return channels.some(({ attribute }) => /^Color\d$/.test(attribute))
    ? "doesn't say what colours the places of its wheel are: values: { red: { levels: [10, 19], xy: [0.6, 0.3] } }"
    : 'has no emitters, filters or wheel of colours';
}

const SRGB_EMITTERS: Readonly<Record<string, 'red' | 'green' | 'blue'>> = {
  ColorAdd_R: 'red',
  ColorAdd_G: 'green',
  ColorAdd_B: 'blue',
  ColorRGB_Red: 'red',
  ColorRGB_Green: 'green',
  ColorRGB_Blue: 'blue',
};

/** Each filter takes away this primary of sRGB. */
const SRGB_FILTERS: Readonly<Record<string, 'red' | 'green' | 'blue'>> = {
  ColorSub_C: 'red',
  ColorSub_M: 'green',
  ColorSub_Y: 'blue',
};

function byEmitters(
  emitters: readonly ColourableChannel[],
  { xy, luminance }: ColourAsked,
): ColourMade | string {
  const isAssumed = emitters.every(({ emitter }) => emitter === undefined);
  const srgb = srgbLights();
  const known = emitters.flatMap((channel): [ColourableChannel, Xyz][] => {
    if (!isAssumed)
      return channel.emitter === undefined ? [] : [[channel, lightOf(channel.emitter)]];
    const name = SRGB_EMITTERS[channel.attribute];
    return name === undefined ? [] : [[channel, srgb[name]]];
  });
  const unknown = emitters.filter(one => known.every(([channel]) => channel !== one));
  if (isAssumed && new Set(known.map(([{ attribute }]) => SRGB_EMITTERS[attribute])).size < 3) {
    // Only red and green are known, which mix no white.
    const unsaid = unknown.length === 0 ? emitters : unknown;
    const names = enumerated(unsaid.map(({ attribute }) => attribute));
    return `doesn't say what colour its ${names} ${unsaid.length === 1 ? 'is' : 'are'}: emitter: { xy: [x, y], luminance: at full }`;
  }
  const lights = known.map(([, light]) => light);
  const full = sumOf(lights).Y;
  const mixed = mixOf(lights, xy, luminance === undefined ? undefined : (full * luminance) / 100);
  const steps = known.map(([channel]) => stepsOf(channel));
  const levels = inSteps(lights, mixed.levels, steps);
  const values = Object.fromEntries([
    ...known.map(([channel], i) => [channel.attribute, levelOf(channel, levels[i] as number)]),
    ...unknown.map(channel => [channel.attribute, levelOf(channel, 0)]),
  ]);
  return {
    by: 'emitters',
    values,
    isAssumed,
    unknown: unknown.map(({ attribute }) => attribute),
    bySteps: apartOf(lights, mixed.levels, levels),
    ...hadOf(mixed, full),
  };
}

function apartOf(lights: readonly Xyz[], exact: readonly number[], stepped: readonly number[]) {
  const lightOf = (levels: readonly number[]) =>
    sumOf(lights.map((one, i) => scaled(one, levels[i] as number)));
  const [wanted, had] = [lightOf(exact), lightOf(stepped)];
  if (!(had.Y > 0 && wanted.Y > 0)) return AS_MIXED;
  return { off: distanceOf(xyOf(had), xyOf(wanted)), brighter: had.Y / wanted.Y - 1 };
}

const AS_MIXED = { off: 0, brighter: 0 } as const;

/** Of the open lamp, where its profile doesn't say: that of a discharge lamp or a white LED (common practice). */
const OPEN_KELVIN = 6500;

/**
 * Each filter takes away a band of the lamp's light, and bands are mixed like emitters: a filter half in lets half of
 * its band through. What is left with all of them in is divided among the bands, so that all out is the open lamp,
 * and all in is dark.
 */
function byFilters(
  filters: readonly ColourableChannel[],
  optics: ProfileOptics | undefined,
  { xy, luminance }: ColourAsked,
): ColourMade | string {
  const known = bandsOf(filters, optics);
  if (known === undefined) {
    const names = enumerated(filters.map(({ attribute }) => attribute));
    return `doesn't say what its ${names} let through: filter: { xy: [x, y], luminance: per cent of the open lamp }`;
  }
  const { used, bands, isAssumed } = known;
  const dim = used.find((_, i) => !((bands[i] as Xyz).Y > 0));
  if (dim !== undefined) return `has a ${dim.attribute} whose filter takes no light away`;
  const mixed = mixOf(bands, xy, luminance);
  const values = Object.fromEntries(
    used.map((channel, i) => [
      channel.attribute,
      levelOf(channel, 1 - (mixed.levels[i] as number)),
    ]),
  );
  for (const other of filters) values[other.attribute] ??= levelOf(other, 0);
  const bySteps = AS_MIXED;
  return { by: 'filters', values, isAssumed, unknown: [], bySteps, ...hadOf(mixed, 100) };
}

/** The filters whose band is known, and their bands; undefined if too little is known. */
function bandsOf(
  filters: readonly ColourableChannel[],
  optics: ProfileOptics | undefined,
): { used: ColourableChannel[]; bands: Xyz[]; isAssumed: boolean } | undefined {
  const open = openLamp(optics);
  const stated = filters.filter(({ filter }) => filter !== undefined);
  const isAssumed = stated.length === 0;
  const used = isAssumed
    ? filters.filter(({ attribute }) => SRGB_FILTERS[attribute] !== undefined)
    : stated;
  if (isAssumed && used.length < 3) return undefined;
  return { used, bands: isAssumed ? srgbBands(used, open) : statedBands(used, open), isAssumed };
}

/** The light of the lamp with nothing in it. */
function openLamp(optics: ProfileOptics | undefined): Xyz {
  return xyzOf(planckian(optics?.colourTemperatureK ?? OPEN_KELVIN), 100);
}

/** A lamp and what each of its filters takes from it, to work out what comes through: the reverse of `byFilters`. */
export interface FilteredLamp {
  readonly open: Xyz;
  /** Places of the filters in `channels`, and the band of each; undefined if too little is known. */
  readonly bands: readonly (readonly [channel: number, band: Xyz])[] | undefined;
}

export function filteredLamp({ channels, optics }: Omit<Colourable, 'name'>): FilteredLamp {
  const filters = channels.filter(({ attribute }) => isFilter(attribute));
  const known = bandsOf(filters, optics);
  return {
    open: openLamp(optics),
    bands: known?.used.map((one, i) => [channels.indexOf(one), known.bands[i] as Xyz] as const),
  };
}

function statedBands(used: readonly ColourableChannel[], open: Xyz): Xyz[] {
  const taken = used.map(({ filter }) => minus(open, lightOf(filter as StatedLight)));
  const all = sumOf(taken);
  const left = minus(open, all);
  return taken.map(band => sumOf([band, scaled(left, band.Y / all.Y)]));
}

/** The primaries of sRGB, in the amounts that make up the open lamp. */
function srgbBands(used: readonly ColourableChannel[], open: Xyz): Xyz[] {
  const srgb = srgbLights();
  const primaries = used.map(({ attribute }) =>
    scaled(srgb[SRGB_FILTERS[attribute] as 'red' | 'green' | 'blue'], 1e4),
  );
  const { levels } = mixOf(primaries, xyOf(open), open.Y);
  return primaries.map((one, i) => scaled(one, levels[i] as number));
}

function byWheel({ attribute, places = {} }: ColourableChannel, { xy }: ColourAsked): ColourMade {
  const [first, ...others] = Object.entries(places).map(([name, light]) => ({
    name,
    luminance: light.luminance,
    off: distanceOf(light, xy),
  }));
  const best = others.reduce((a, b) => (b.off < (a?.off ?? 0) ? b : a), first);
  return {
    by: 'wheel',
    values: { [attribute]: best?.name ?? '' },
    off: best?.off ?? 0,
    luminance: best?.luminance ?? 0,
    isAssumed: false,
    unknown: [],
    bySteps: AS_MIXED,
  };
}

function hadOf({ luminance, off }: Mixed, full: number) {
  return { off, luminance: (100 * luminance) / full };
}

/** Raw steps from dark to full, if it begins or ends dark; otherwise as fine as possible. */
function stepsOf({ from, to, bits = 8, levels, rawAtFrom, rawAtTo }: ColourableChannel): number {
  if (from !== 0 && to !== 0) return Number.MAX_SAFE_INTEGER;
  if (rawAtFrom !== undefined && rawAtTo !== undefined) return Math.abs(rawAtTo - rawAtFrom);
  return levels === undefined ? 2 ** bits - 1 : levels[1] - levels[0];
}

/** From dark, or out (0), to full, or in (1): what is nearest to 0, and the greatest. */
function levelOf({ from, to }: ColourableChannel, share: number): number {
  const [least, most] = [Math.min(from, to), Math.max(from, to)];
  const none = Math.min(most, Math.max(least, 0));
  return Number((none + share * (most - none)).toPrecision(9));
}

function lightOf({ x, y, luminance }: StatedLight): Xyz {
  return xyzOf({ x, y }, luminance);
}

function minus(a: Xyz, b: Xyz): Xyz {
  return { X: a.X - b.X, Y: a.Y - b.Y, Z: a.Z - b.Z };
}
