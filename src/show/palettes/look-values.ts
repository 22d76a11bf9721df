import { isAttribute, isColour } from '../../fixtures/attributes.js';
import type { BeamFile, ColourFile } from '../schema/palettes.js';
import type { ShowFile } from '../schema/schema.js';
import { angleOf, type Beamed, type BeamMade, beamOn } from './beams.js';
import { type Colourable, type ColourMade, colourAsked, colourOn } from './colours.js';

export type PalettesFile = ShowFile['palettes'];

/** The words of a look, those of a mapping's `set` included. */
export type LookWords = Readonly<Record<string, unknown>>;

/**
 * The attributes that a look sets on a fixture, with its `colour` and `beam` turned into attributes. The checks have
 * reported what can't be made, or is not in the palette. Its `target` depends on where the head hangs (targets.ts).
 */
export function valuesOfLook(
  look: LookWords,
  profile: Colourable & Beamed,
  palettes: PalettesFile,
): Readonly<Record<string, number | string>> {
  const values: Record<string, number | string> = {};
  for (const made of [colourOfLook(look, profile, palettes), beamOfLook(look, profile, palettes)]) {
    if (typeof made === 'object') Object.assign(values, made.values);
  }
  for (const [word, value] of Object.entries(look)) {
    if (isPaletteWord(word)) continue;
    if (typeof value === 'number' || typeof value === 'string') values[word] = value;
  }
  return values;
}

export const COLOUR = 'colour';
export const BEAM = 'beam';
export const TARGET = 'target';

/** A word of a look that refers to the palettes, not an attribute. */
export function isPaletteWord(word: string): boolean {
  return word === COLOUR || word === BEAM || word === TARGET;
}

/** How a fixture makes the colour of a look, or why it can't; undefined if the look names no colour that exists. */
export function colourOfLook(
  look: LookWords,
  profile: Colourable,
  { colours }: PalettesFile,
): ColourMade | string | undefined {
  const name = look[COLOUR];
  if (typeof name !== 'string' || !Object.hasOwn(colours, name)) return undefined;
  return made(profile, colours[name] as ColourFile);
}

/** A house has hundreds of fixtures of few kinds: each kind mixes a colour once. */
const known = new WeakMap<ColourFile, WeakMap<Colourable['channels'], ColourMade | string>>();

function made(profile: Colourable, colour: ColourFile): ColourMade | string {
  let ofProfile = known.get(colour);
  if (ofProfile === undefined) {
    ofProfile = new WeakMap();
    known.set(colour, ofProfile);
  }
  const there = ofProfile.get(profile.channels);
  if (there !== undefined) return there;
  const fresh = colourOn(profile, colourAsked(colour));
  ofProfile.set(profile.channels, fresh);
  return fresh;
}

/** How a fixture makes the beam of a look, or why it can't; undefined if the look names no beam that exists. */
export function beamOfLook(
  look: LookWords,
  profile: Beamed,
  { beams }: PalettesFile,
): BeamMade | string | undefined {
  const beam = look[BEAM];
  if (typeof beam === 'number') return beamOn(profile, beam);
  if (typeof beam !== 'string' || !Object.hasOwn(beams, beam)) return undefined;
  return beamOn(profile, angleOf(beams[beam] as BeamFile));
}

/** Those of a fixture's attributes that a word stands for: `colour`, `beam` and `target` for all that make them. */
export function meantBy<T extends string>(word: string, attributes: readonly T[]): readonly T[] {
  const isMeant = (one: string) =>
    word === COLOUR ? isAttribute(one) && isColour(one) : attributesOf(word).includes(one);
  return attributes.filter(isMeant);
}

/** The attributes that a word of a look stands for, on whatever fixture. */
export function attributesOf(word: string): readonly string[] {
  if (word === TARGET) return ['Pan', 'Tilt'];
  return word === BEAM ? ['Zoom', 'Iris'] : [word];
}
