import { scaled, sumOf, xyzOf } from '../../colour/chromaticity.js';
import { type Rgb, rgbOf, type ShownColour, shownColour } from '../../colour/shown.js';
import { isEmitter, isFilter } from '../../fixtures/attributes.js';
import type { Channel, Profile, ProfileOptics } from '../../fixtures/profile.js';
import { own } from '../../stage/own.js';
import { valueName } from '../problems/value-text.js';
import { type FilteredLamp, filteredLamp } from './colours.js';

/** sRGB colours assumed for emitters about which the profile says nothing: by their names, from memory. */
const EMITTERS: Readonly<Record<string, Rgb>> = {
  R: [1, 0, 0],
  G: [0, 1, 0],
  B: [0, 0, 1],
  C: [0, 1, 1],
  M: [1, 0, 1],
  Y: [1, 1, 0],
  RY: [1, 0.3, 0],
  GY: [0.4, 1, 0],
  GC: [0, 1, 0.3],
  BC: [0, 0.2, 1],
  BM: [0.1, 0, 1],
  RM: [1, 0, 0.2],
  W: [1, 1, 1],
  WW: [1, 0.6, 0.25],
  CW: [0.85, 0.95, 1],
  UV: [0.15, 0, 1],
  Red: [1, 0, 0],
  Green: [0, 1, 0],
  Blue: [0, 0, 1],
};

/** What makes the light, before a wheel. */
interface Source {
  readonly light: Rgb;
  /** With all emitters at full, or all filters out; and whether they are. */
  readonly open: Rgb;
  readonly isOpen: boolean;
}

/**
 * The colour of a fixture at these physical values; undefined if it has no colour of its own, or gives no light.
 * Emitters add up; filters leave what they don't take from the lamp; a wheel then lets its colour through, red, green
 * and blue separately, which is near enough for a picture.
 */
export function lightColour(
  { channels, optics }: Pick<Profile, 'channels' | 'optics'>,
  values: ArrayLike<number>,
): ShownColour | undefined {
  const valueAt = (channel: number) => values[channel] ?? channels[channel]?.default ?? 0;
  const source = sourceOf(channels, optics, valueAt);
  const wheel = ofWheel(channels, valueAt);
  if (wheel === undefined) return source && shownColour(source.light);
  const { light, open, isOpen } = source ?? openSource(rgbOf(lampOf(channels, optics).open));
  const through = wheel.light.map(
    (part, i) => ((light[i] as number) * Math.max(0, part)) / Math.max(LEAST, open[i] as number),
  );
  const shown = shownColour(through as unknown as Rgb);
  // With nothing else in the way it has the name of its place.
  return shown && isOpen ? { ...shown, word: wheel.name } : shown;
}

/** A filter lets nothing through that the lamp doesn't have. */
const LEAST = 1e-6;

function sourceOf(
  channels: readonly Channel[],
  optics: ProfileOptics,
  valueAt: (channel: number) => number,
): Source | undefined {
  const shares = channels.map((one, c) => shareOf(one, valueAt(c)));
  const share = (one: Channel) => shares[channels.indexOf(one)] ?? 0;
  const emitters = channels.filter(({ attribute }) => isEmitter(attribute));
  if (emitters.length > 0) {
    return {
      light: ofEmitters(emitters, share),
      open: ofEmitters(emitters, () => 1),
      isOpen: emitters.every(one => share(one) === 1),
    };
  }
  const filters = channels.filter(({ attribute }) => isFilter(attribute));
  if (filters.length === 0) return undefined;
  const lamp = lampOf(channels, optics);
  const open = rgbOf(lamp.open);
  const left = lamp.bands?.map(([c, band]) => scaled(band, 1 - (shares[c] as number)));
  return {
    // For filters about which too little is known, by their names.
    light: left === undefined ? byNames(filters, share, open) : rgbOf(sumOf(left)),
    open,
    isOpen: filters.every(one => share(one) === 0),
  };
}

/** Kept for each profile, by its channels: pictures ask at each moment of a scene. */
const lamps = new WeakMap<readonly Channel[], FilteredLamp>();

function lampOf(channels: readonly Channel[], optics: ProfileOptics): FilteredLamp {
  const known = lamps.get(channels) ?? filteredLamp({ channels, optics });
  lamps.set(channels, known);
  return known;
}

function openSource(open: Rgb): Source {
  return { light: open, open, isOpen: true };
}

function byNames(filters: readonly Channel[], share: (one: Channel) => number, open: Rgb): Rgb {
  return filters.reduce<Rgb>(([r, g, b], one) => {
    const [red, green, blue] = emitterOf(one.attribute);
    const left = (part: number) => 1 - share(one) * (1 - part);
    return [r * left(red), g * left(green), b * left(blue)];
  }, open);
}

function ofEmitters(emitters: readonly Channel[], share: (one: Channel) => number): Rgb {
  // Stated luminances are used if all are stated; otherwise all are taken from their names.
  const stated = emitters.flatMap(one =>
    one.emitter === undefined ? [] : [xyzOf(one.emitter, share(one) * one.emitter.luminance)],
  );
  if (stated.length === emitters.length) return rgbOf(sumOf(stated));
  return emitters.reduce<Rgb>(
    ([r, g, b], one) => {
      const [red, green, blue] = emitterOf(one.attribute);
      return [r + share(one) * red, g + share(one) * green, b + share(one) * blue];
    },
    [0, 0, 0],
  );
}

function ofWheel(
  channels: readonly Channel[],
  valueAt: (channel: number) => number,
): { readonly name: string; readonly light: Rgb } | undefined {
  for (const [c, channel] of channels.entries()) {
    if (!/^Color\d$/.test(channel.attribute)) continue;
    const name = valueName(channel, valueAt(c));
    const place = name === undefined ? undefined : own(channel.places ?? {}, name);
    if (name === undefined || place === undefined || !(place.luminance > 0)) continue;
    return { name, light: rgbOf(xyzOf(place, place.luminance)) };
  }
  return undefined;
}

function emitterOf(attribute: string): Rgb {
  return EMITTERS[attribute.replace(/^Color(Add|Sub|RGB)_/, '')] ?? [1, 1, 1];
}

function shareOf({ from, to }: Channel, value: number): number {
  const most = Math.max(Math.abs(from), Math.abs(to));
  return most > 0 ? Math.min(1, Math.max(0, value / most)) : 0;
}
