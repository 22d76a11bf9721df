import { sumOf, xyzOf } from '../colour/chromaticity.js';
import { type Rgb, rgbOf, type ShownColour, shownColour } from '../colour/shown.js';
import { isEmitter, isFilter } from '../fixtures/attributes.js';
import type { Channel, Profile } from '../fixtures/profile.js';
import { own } from '../stage/own.js';
import { valueName } from './value-text.js';

/** What emitters are like of which the profile says nothing, as sRGB lights: by their names, from memory. */
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

/** The colour that a fixture gives at these physical values; undefined where it has none of its own, or gives no light. */
export function lightColour(
  { channels }: Pick<Profile, 'channels'>,
  values: ArrayLike<number>,
): ShownColour | undefined {
  const valueAt = (channel: number) => values[channel] ?? channels[channel]?.default ?? 0;
  const emitters = channels.flatMap((one, c) =>
    isEmitter(one.attribute) ? [[one, shareOf(one, valueAt(c))] as const] : [],
  );
  if (emitters.length > 0) return shownColour(ofEmitters(emitters));
  const filters = channels.flatMap((one, c) =>
    isFilter(one.attribute) ? [[one, shareOf(one, valueAt(c))] as const] : [],
  );
  if (filters.length > 0) {
    const light = filters.reduce<Rgb>(
      ([r, g, b], [{ attribute }, share]) => {
        const [red, green, blue] = emitterOf(attribute);
        const left = (part: number) => 1 - share * (1 - part);
        return [r * left(red), g * left(green), b * left(blue)];
      },
      [1, 1, 1],
    );
    return shownColour(light);
  }
  return ofWheel(channels, valueAt);
}

function ofEmitters(emitters: readonly (readonly [Channel, number])[]): Rgb {
  // Luminances that are stated count with each other; where one is not, all are taken by their names.
  const stated = emitters.flatMap(([{ emitter }, share]) =>
    emitter === undefined ? [] : [xyzOf(emitter, share * emitter.luminance)],
  );
  if (stated.length === emitters.length) return rgbOf(sumOf(stated));
  return emitters.reduce<Rgb>(
    ([r, g, b], [{ attribute }, share]) => {
      const [red, green, blue] = emitterOf(attribute);
      return [r + share * red, g + share * green, b + share * blue];
    },
    [0, 0, 0],
  );
}

function ofWheel(
  channels: readonly Channel[],
  valueAt: (channel: number) => number,
): ShownColour | undefined {
  for (const [c, channel] of channels.entries()) {
    if (!/^Color\d$/.test(channel.attribute)) continue;
    const name = valueName(channel, valueAt(c));
    const place = name === undefined ? undefined : own(channel.places ?? {}, name);
    if (name === undefined || place === undefined) continue;
    const shown = shownColour(rgbOf(xyzOf(place, place.luminance)));
    if (shown !== undefined) return { ...shown, word: name };
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
