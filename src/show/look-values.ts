import { type Colourable, type ColourMade, colourAsked, colourOn } from './colours.js';
import type { ShowFile } from './schema.js';
import type { ColourFile } from './schema-palettes.js';

export type PalettesFile = ShowFile['palettes'];

/** The words of a look, those of a mapping's `set` included. */
export type LookWords = Readonly<Record<string, unknown>>;

/**
 * The attributes that a look sets on a fixture, its `colour` as the attributes that it comes to there. What can't be
 * had, or is none of the palette, the checks have told.
 */
export function valuesOfLook(
  look: LookWords,
  profile: Colourable,
  palettes: PalettesFile,
): Readonly<Record<string, number | string>> {
  const made = colourOfLook(look, profile, palettes);
  const values: Record<string, number | string> =
    typeof made === 'object' ? { ...made.values } : {};
  for (const [word, value] of Object.entries(look)) {
    if (word === COLOUR) continue;
    if (typeof value === 'number' || typeof value === 'string') values[word] = value;
  }
  return values;
}

export const COLOUR = 'colour';

/** How a fixture makes the colour of a look, or why it can't; undefined where the look names none that there is. */
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
