import type { RefusedClass } from './hazard.js';

/**
 * Names that reveal a machine which must not be driven from here, whatever class it claims. Names are read word by
 * word, so that "firelight", "uplift" and "butterfly" pass. The list catches mistakes, not intent.
 */
export interface NameVerdict {
  readonly hazard: RefusedClass;
  /** The word or words, as they stand in the list. */
  readonly word: string;
  /** The word may also occur in the name of a lamp: `hazard: ordinary` says so. */
  readonly mayBeLamp: boolean;
}

/** No lamp has such a name. Two words stand side by side in the name. */
// biome-ignore format: words
const MACHINES: Readonly<Record<RefusedClass, readonly string[]>> = {
  flying: [
    'flybar', 'fly bar', 'flybars', 'flyline', 'fly line', 'flylines', 'fly wire', 'flywire', 'flywires',
    'fly system', 'flysystem', 'flying rig', 'flying system', 'flying harness', 'performer flying',
  ],
  rigging: [
    'hoist', 'hoists', 'chainhoist', 'chainhoists', 'winch', 'winches', 'chain motor', 'chain motors',
    'truss motor', 'truss motors', 'rigging motor', 'rigging point', 'counterweight', 'counterweights',
  ],
  lift: [
    'stage lift', 'scissor lift', 'scissorlift', 'lift platform', 'lift motor', 'elevator motor', 'trap motor',
  ],
  scenery: [
    'scenery motor', 'scenery drive', 'moving scenery', 'revolve motor', 'revolve drive', 'turntable motor',
    'wagon motor', 'wagon drive', 'tracking wagon', 'curtain motor', 'tab motor',
  ],
  pyrotechnics: [
    'pyro', 'pyros', 'pyrotechnic', 'pyrotechnics', 'firework', 'fireworks', 'gerb', 'gerbs', 'squib',
    'squibs', 'detonator', 'detonators', 'firing system', 'flash pot', 'flashpot', 'flash pots', 'flashpots',
  ],
  flame: [
    'flamethrower', 'flame thrower', 'flamejet', 'flame jet', 'flame jets', 'flame projector',
    'flame projectors', 'flame cannon', 'flame machine', 'flame unit', 'flame bar', 'flamebar', 'gas flame',
    'propane', 'fire cannon',
  ],
};

/** A lamp may have such a name; without one of the words below beside it, it is taken for the machine. */
const DOUBTFUL: Readonly<Record<RefusedClass, readonly string[]>> = {
  flying: ['flying', 'flyer', 'flyers'],
  rigging: ['rigging'],
  lift: [
    'lift',
    'lifts',
    'elevator',
    'elevators',
    'trapdoor',
    'trapdoors',
    'trap door',
    'stage trap',
  ],
  scenery: ['scenery', 'revolve', 'turntable'],
  pyrotechnics: ['explosion', 'sparks'],
  flame: ['flame', 'flames'],
};

/** Words that say that a thing gives light and no more. */
// biome-ignore format: words
const LAMPS: ReadonlySet<string> = new Set([
  'light', 'lights', 'lighting', 'lamp', 'lamps', 'lantern', 'lanterns', 'bulb', 'bulbs', 'led', 'leds',
  'glow', 'flicker', 'candle', 'candles', 'silk', 'wash', 'spot', 'spots', 'par', 'pars', 'profile', 'fresnel',
  'flood', 'floods', 'special', 'cyc', 'practical', 'practicals', 'sconce', 'dimmer', 'head', 'beam', 'uplight',
  'downlight', 'backlight', 'sidelight', 'frontlight', 'worklight', 'shin', 'batten', 'strip', 'pixel', 'tape',
]);

/** @returns what is wrong with a name, or undefined */
export function nameVerdict(name: string): NameVerdict | undefined {
  const words = wordsOf(name);
  const pairs = words.slice(1).map((word, i) => `${words[i]} ${word}`);
  const machine = find(MACHINES, [...words, ...pairs]);
  if (machine !== undefined) return { ...machine, mayBeLamp: false };
  if (words.some(word => LAMPS.has(word))) return undefined;
  const doubtful = find(DOUBTFUL, [...words, ...pairs]);
  return doubtful === undefined ? undefined : { ...doubtful, mayBeLamp: true };
}

/** "ChainHoist2_left" -> chain, hoist, left */
function wordsOf(name: string): string[] {
  return name
    .normalize('NFKD')
    .replace(/(\p{Ll})(\p{Lu})/gu, '$1 $2')
    .toLowerCase()
    .split(/[^a-z]+/)
    .filter(word => word !== '');
}

function find(
  lists: Readonly<Record<RefusedClass, readonly string[]>>,
  words: readonly string[],
): { hazard: RefusedClass; word: string } | undefined {
  for (const [hazard, list] of Object.entries(lists) as [RefusedClass, readonly string[]][]) {
    const word = words.find(one => list.includes(one));
    if (word !== undefined) return { hazard, word };
  }
  return undefined;
}

/** Whether the name of a value of a channel (of a shutter, mostly) says that it flashes. */
export function isFlashing(name: string): boolean {
  return wordsOf(name).some(word => FLASHING.some(one => word.startsWith(one)));
}

const FLASHING = ['strob', 'puls', 'flash', 'blink', 'lightning', 'random', 'burst'];
