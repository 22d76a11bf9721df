import { describe, expect, test } from 'vitest';
import {
  HAZARD_CLASSES,
  HAZARD_TABLE,
  hazardRow,
  isHazardousRaw,
  isRefused,
  REFUSALS,
  REFUSED_CLASSES,
  worstHazard,
} from '../../src/safety/hazard.js';
import { isFlashing, nameVerdict } from '../../src/safety/hazard-words.js';

describe('hazard classes', () => {
  test('each has one row, and only the ordinary does without an enable and fades', () => {
    expect(HAZARD_TABLE.map(row => row.hazard)).toEqual([...HAZARD_CLASSES]);
    for (const hazard of HAZARD_CLASSES) {
      const row = hazardRow(hazard);
      expect(row.needsEnable).toBe(hazard !== 'ordinary');
      expect(row.drop).toBe(hazard === 'ordinary' ? 'fade' : 'at once');
      expect(row.deferTo).toContain(hazard === 'laser' ? 'laser safety officer' : 'safety staff');
    }
  });

  test('the worst of several counts, in any order', () => {
    for (const a of HAZARD_CLASSES) {
      for (const b of HAZARD_CLASSES) {
        const worse = Math.max(HAZARD_CLASSES.indexOf(a), HAZARD_CLASSES.indexOf(b));
        expect(worstHazard(a, undefined, b)).toBe(HAZARD_CLASSES[worse]);
      }
    }
    expect(worstHazard()).toBe('ordinary');
  });

  test('each class that is refused says why and who decides instead', () => {
    for (const hazard of REFUSED_CLASSES) {
      expect(isRefused(hazard)).toBe(true);
      expect(REFUSALS[hazard].why).toContain('E1.11');
      expect(REFUSALS[hazard].whoDecides).toContain("venue's safety staff");
    }
    for (const hazard of HAZARD_CLASSES) expect(isRefused(hazard)).toBe(false);
  });
});

describe('names that give a machine away', () => {
  test.each([
    ['chain-hoist-2', 'rigging'],
    ['ChainHoist', 'rigging'],
    ['truss motor left', 'rigging'],
    ['winch1', 'rigging'],
    ['FlyBar3', 'flying'],
    ['performer-flying-rig', 'flying'],
    ['scissor_lift', 'lift'],
    ['revolve-motor', 'scenery'],
    ['PYRO_front', 'pyrotechnics'],
    ['gerb-row', 'pyrotechnics'],
    ['flash-pots', 'pyrotechnics'],
    ['flame-jet-light', 'flame'],
    ['flamebar', 'flame'],
  ])('%s is refused for good', (name, hazard) => {
    expect(nameVerdict(name)).toMatchObject({ hazard, mayBeLamp: false });
  });

  test.each([
    ['flame-1', 'flame'],
    ['flames', 'flame'],
    ['lift', 'lift'],
    ['trap-door', 'lift'],
    ['flying', 'flying'],
    ['revolve', 'scenery'],
  ])('%s has to be said to be a lamp', (name, hazard) => {
    expect(nameVerdict(name)).toMatchObject({ hazard, mayBeLamp: true });
  });

  test.each([
    'firelight',
    'flame effect lamp',
    'silk-flame',
    'flame-flicker',
    'candle flame',
    'fire',
    'fireplace',
    'flamenco',
    'butterfly-gobo',
    'fly-gallery-wash',
    'uplift',
    'lift-shaft-glow',
    'facelift',
    'shoplifter-spot',
    'revolver',
    'scenery wash',
    'motorway-lamps',
    'head-left',
    'trapeze-special',
    'trap-door-light',
    'pyrex',
    'Pyramide',
    'flash',
    'rig-left',
    'harbour-lamp',
    'stove-glow',
    'hazer',
    'Flügel',
    '',
  ])('%s passes', name => {
    expect(nameVerdict(name)).toBeUndefined();
  });
});

/** As the list has to have them, by who decides: a word that is lost lets a machine through. */
// biome-ignore format: words
test.each([
  ['flying', 'flybar,fly bar,flybars,flyline,fly line,flylines,fly wire,flywire,flywires,fly system,flysystem,flying rig,flying system,flying harness,performer flying'],
  ['rigging', 'hoist,hoists,chainhoist,chainhoists,winch,winches,chain motor,chain motors,truss motor,truss motors,rigging motor,rigging point,counterweight,counterweights'],
  ['lift', 'stage lift,scissor lift,scissorlift,lift platform,lift motor,elevator motor,trap motor'],
  ['scenery', 'scenery motor,scenery drive,moving scenery,revolve motor,revolve drive,turntable motor,wagon motor,wagon drive,tracking wagon,curtain motor,tab motor'],
  ['pyrotechnics', 'pyro,pyros,pyrotechnic,pyrotechnics,firework,fireworks,gerb,gerbs,squib,squibs,detonator,detonators,firing system,flash pot,flashpot,flash pots,flashpots'],
  ['flame', 'flamethrower,flame thrower,flamejet,flame jet,flame jets,flame projector,flame projectors,flame cannon,flame machine,flame unit,flame bar,flamebar,gas flame,propane,fire cannon'],
])('whatever beside it says that it is a lamp, no word of %s passes', (hazard, words) => {
  for (const word of words.split(',')) {
    expect(nameVerdict(`${word} light`)).toEqual({ hazard, word, mayBeLamp: false });
  }
});

// biome-ignore format: words
test.each([
  ['flying', 'flying,flyer,flyers'], ['rigging', 'rigging'],
  ['lift', 'lift,lifts,elevator,elevators,trapdoor,trapdoors,trap door,stage trap'],
  ['scenery', 'scenery,revolve,turntable'], ['pyrotechnics', 'explosion,sparks'], ['flame', 'flame,flames'],
])('a word of %s that may be a lamp is asked about, and passes with any word for a lamp', (hazard, words) => {
  for (const word of words.split(',')) {
    expect(nameVerdict(`left ${word}`)).toEqual({ hazard, word, mayBeLamp: true });
  }
  const lamps =
    'light,lights,lighting,lamp,lamps,lantern,lanterns,bulb,bulbs,led,leds,glow,flicker,candle,candles,silk,wash,spot,spots,par,pars,profile,fresnel,flood,floods,special,cyc,practical,practicals,sconce,dimmer,head,beam,uplight,downlight,backlight,sidelight,frontlight,worklight,shin,batten,strip,pixel,tape';
  const [word = ''] = words.split(',');
  for (const lamp of lamps.split(',')) expect(nameVerdict(`${word} ${lamp}`)).toBeUndefined();
});

test('of ranges that are hazardous both ends count, and without any all values do', () => {
  const ranges = [
    [10, 20],
    [200, 255],
  ] as const;
  const raws = [0, 9, 10, 20, 21, 199, 200, 255];
  expect(raws.filter(raw => isHazardousRaw(ranges, raw))).toEqual([10, 20, 200, 255]);
  expect(isHazardousRaw(undefined, 0)).toBe(true);
  expect(isHazardousRaw([], 0)).toBe(false);
});

describe('names of values that flash', () => {
  test.each([
    'strobe',
    'Strobe_Slow',
    'randomStrobe',
    'pulse-in',
    'lightning',
    'flashing',
    'blink',
  ])('%s does', name => expect(isFlashing(name)).toBe(true));
  test.each(['open', 'closed', 'impulse', 'off', 'red', 'gobo-3', 'unstrobed'])(
    '%s does not',
    name => expect(isFlashing(name)).toBe(false),
  );
});
