import { expect, test } from 'vitest';
import { valuesText } from '../../src/sheets/cue-sheets.js';
import { explainMoment } from '../../src/sheets/explain-moment.js';
import { safetySheet } from '../../src/sheets/safety-sheet.js';
import { stand } from '../../src/sheets/stand.js';
import { parseShow } from '../../src/show/parse.js';
import { warningsOf } from '../../src/show/warnings/warnings.js';
import { vec3 } from '../../src/stage/vector.js';
import { Rig } from '../engine/harness.js';
import { changed } from './base.js';
import { showOf } from './show-of.js';

const PALETTES = `palettes:
  points:
    table: [4, 3, 0.8]
    chair: { label: The chair, at: [1, 3.5, 0.5] }
  beams:
    tight: 12
    pin: { label: A pin, angle: 4 }
profiles:
  spot:
    channels:
      - { attribute: Pan, bits: 16, range: [-270, 270] }
      - { attribute: Tilt, bits: 16, range: [-135, 135] }
      - { attribute: Dimmer }
      - { attribute: Zoom, bits: 16, range: [10, 40], default: 20 }
      - { attribute: Iris, bits: 16, range: [100, 0], default: 100 }
  profiler:
    optics: { beamAngle: 20 }
    channels: [{ attribute: Dimmer }, { attribute: Iris, range: [0, 100], default: 100 }]
  nailed: { channels: [{ attribute: Dimmer }] }
fixtures:
  lantern: { profile: dimmer, universe: 1, address: 301, position: [2, 2, 1], label: The lantern }
  far: { profile: dimmer, universe: 1, address: 302 }
  spot: { profile: spot, universe: 1, address: 101, position: [5, 0.5, 4], orientation: { x: 20, y: 0, z: 30 } }
  lens: { profile: profiler, universe: 1, address: 121 }
  par: { profile: nailed, universe: 1, address: 131 }
`;
const BASE = changed('fixtures:\n', PALETTES);

/** With one more mapping, and other lines of the spot. */
const show = (mapping: string, spot = '') =>
  changed(
    'orientation: { x: 20',
    `${spot}orientation: { x: 20`,
    changed('mappings:\n', `mappings:\n${mapping === '' ? '' : `  - ${mapping}\n`}`, BASE),
  );
const set = (fixtures: string, words: string) =>
  show(`{ zone: stove, fixtures: [${fixtures}], set: { ${words} } }`);

function problems(text: string): string[] {
  const result = parseShow(text, 'a.show.yaml');
  return result.ok ? [] : result.problems.map(({ code, message }) => `${code}: ${message}`);
}

const warnings = (text: string) =>
  warningsOf(showOf(text), () => true, undefined).flatMap(({ code, message, path }) =>
    /^(beam|target|position)-/.test(code) ? [`${code} at ${path.join('.')}: ${message}`] : [],
  );

test('a head aims at points and fixtures from where it hangs, by mapping, base, safe and cue', () => {
  const rig = new Rig(
    show(
      '{ name: at-it, zone: stove, fixtures: [spot, head], set: { target: table, beam: tight, Dimmer: 50 } }',
      'base: { target: lantern, Dimmer: 30 }, safe: { target: chair, Dimmer: 10 }, ',
    ).replace('  - follow: ines\n    fixtures: [head]\n    set: { Dimmer: 80 }\n', ''),
  );
  // Nobody was ever heard: the safe look.
  rig.run(1, {});
  expect(rig.beamMisses('spot', [1, 3.5, 0.5])).toBeLessThan(0.01);
  rig.run(8, t => ({ '1': [5, 1 + 0.002 * Math.sin(t)] }));
  expect(rig.beamMisses('spot', [2, 2, 1])).toBeLessThan(0.01);
  expect(rig.level('spot')).toBeCloseTo(30, 0);
  rig.run(8, t => ({ '1': [2, 3 + 0.002 * Math.sin(t)] }));
  for (const head of ['spot', 'head']) {
    expect(rig.beamMisses(head, [4, 3, 0.8])).toBeLessThan(0.05);
    expect(rig.level(head)).toBeCloseTo(50, 0);
    expect(rig.level(head, 'Zoom')).toBeCloseTo(12, 0);
  }
  rig.run(8, {});
  expect(rig.beamMisses('spot', [1, 3.5, 0.5])).toBeLessThan(0.01);

  const cues = new Rig(
    `${show('{ name: a, fixtures: [glow], set: { Dimmer: 5 } }')}cues: { one: { mappings: [a], base: { spot: { target: table, Dimmer: 20, beam: pin } } }, two: { mappings: [a], base: { spot: { target: lantern, Dimmer: 20, beam: 30 } } } }\n`,
  );
  cues.run(6, t => ({ '1': [5, 1 + 0.002 * Math.sin(t)] }));
  expect(cues.beamMisses('spot', [4, 3, 0.8])).toBeLessThan(0.01);
  cues.order({ kind: 'cue', to: { name: 'two' }, cause: 'command' });
  cues.run(8, t => ({ '1': [5, 1 + 0.002 * Math.sin(t)] }));
  expect(cues.beamMisses('spot', [2, 2, 1])).toBeLessThan(0.01);
  expect(cues.level('spot', 'Zoom')).toBeCloseTo(30, 1);
  expect(cues.level('spot', 'Iris')).toBeCloseTo(100, 1);
});

/** Across a cone of this full angle, one metre away: D = 2 tan(angle / 2). */
const across = (deg: number) => 2 * Math.tan((deg * Math.PI) / 360);

test('a beam is had by Zoom, and by Iris for what is narrower', () => {
  const values = (fixture: string, beam: string) => {
    const { mappings, fixtures } = showOf(set(fixture, `beam: ${beam}`));
    const channels = fixtures.find(({ name }) => name === fixture)?.profile.channels ?? [];
    return Object.fromEntries(
      (mappings[0]?.values ?? []).map(({ channel, value }) => [
        channels[channel]?.attribute,
        value,
      ]),
    );
  };
  expect(values('spot', 'tight')).toEqual({ Zoom: 12, Iris: 100 });
  const pin = values('spot', 'pin');
  expect(pin.Zoom).toBe(10);
  expect(((pin.Iris ?? 0) / 100) * across(10)).toBeCloseTo(across(4), 8);
  // An open beam of 20 degrees.
  const lens = values('lens', '12');
  expect(((lens.Iris ?? 0) / 100) * across(20)).toBeCloseTo(across(12), 8);
  expect(values('head', 'tight')).toEqual({ Zoom: 12 });
});

test('what can not be had is told, at its place', () => {
  const says = (text: string) => problems(text).join('\n');
  expect(says(set('spot', 'target: tabel'))).toBe(
    'unknown-name: there is no point or fixture "tabel". Did you mean "table"?',
  );
  expect(says(set('spot', 'target: ines'))).toBe(
    'unknown-name: a target does not move, but "ines" is a performer. Use a mapping: { follow: ines, fixtures: [...], set: { Dimmer: 70 } }.',
  );
  expect(says(set('spot', 'target: far'))).toBe(
    'unknown-name: fixture "far" has no position, so nothing can aim at it.',
  );
  expect(says(set('spot', 'target: spot'))).toBe(
    'aim-impossible: fixture "spot" can\'t aim at itself.',
  );
  expect(says(set('par', 'target: table'))).toBe(
    'aim-impossible: fixture "par" can\'t aim at a point: its profile "nailed" has no Pan and no Tilt.',
  );
  expect(says(set('spot', 'target: table, Pan: 10'))).toBe(
    'aim-impossible: fixture "spot" is given a target and a Pan or Tilt in the same look; keep one of them.',
  );
  expect(says(set('head', 'target: table'))).toBe(
    'follow-conflict: Pan of fixture "head" comes from following "ines" and can\'t be set as well, as target does.',
  );
  expect(says(set('spot', 'beam: thight'))).toBe(
    'unknown-name: there is no beam "thight". Did you mean "tight"?',
  );
  expect(says(set('spot', 'beam: tight, Iris: 30'))).toBe(
    'beam-impossible: Iris of fixture "spot" comes from beam "tight" and can\'t be set as well.',
  );
  expect(says(set('par, glow', 'beam: tight'))).toBe(
    [
      'beam-impossible: fixture "par" can\'t have beam "tight": profile "nailed" has no Zoom or Iris.',
      'beam-impossible: fixture "glow" can\'t have beam "tight": profile "dimmer" has no Zoom or Iris.',
    ].join('\n'),
  );
  expect(says(set('head', 'beam: 60'))).toBe(
    'attribute-range: a beam of 60 degrees is too much or too little for fixture "head"; the nearest is 45 degrees.',
  );
  expect(says(changed('table: [4', 'lantern: [4', BASE))).toMatch(
    /^name-shared: "lantern" is the name of a point and of a fixture/,
  );
  expect(
    says(changed('{ x: 20', '{ x: 20', show('', 'base: { target: table, aim: [1, 1, 1] }, '))),
  ).toBe(
    'aim-impossible: fixture "spot" is given a target and an aim in the same look; keep one of them.',
  );
});

test('and so is what is only nearly had', () => {
  expect(warnings(set('head', 'beam: pin'))).toEqual([
    'beam-off at palettes.beams.pin: beam "pin" is 4 degrees wide, but the nearest that fixture "head" can make is 10.',
  ]);
  const low = changed('tight: 12', 'tight: 12', set('spot', 'target: chair')).replace(
    'range: [-135, 135]',
    'range: [-10, 10]',
  );
  expect(warnings(low)[0]).toMatch(
    /^target-off at palettes.points.chair: fixture "spot" can't aim at target "chair": Pan or Tilt ends [\d.]+ degrees before it\.$/,
  );
  expect(warnings(changed('[4, 3, 0.8]', '[4000, 3, 0.8]', BASE))).toEqual([
    expect.stringMatching(
      /^position-far at palettes.points.table: point "table" is \d+ m from the stage/,
    ),
  ]);
});

test('sheets and explanations say their names', () => {
  const text = show(
    '{ name: at-it, zone: stove, fixtures: [spot], set: { target: table, beam: tight, Dimmer: 50 } }',
    'safe: { target: chair, beam: pin }, ',
  );
  const parsed = showOf(text);
  const sheet = safetySheet(parsed).fixtures.find(({ name }) => name === 'spot');
  expect(sheet && valuesText(sheet.safe)).toMatch(
    /^Dimmer 0 %, target The chair \(Pan .*, Tilt .*\), beam A pin \(Zoom 10°, Iris 39\.9 %\)$/,
  );
  const view = stand(parsed, {
    places: new Map([[0, vec3(2, 3, 1.5)]]),
    lost: new Set(),
    off: new Set(),
    forS: 8,
    orders: [],
  });
  const rows = explainMoment(view).attributes.filter(({ fixture }) => fixture === 'spot');
  const why = (attribute: string) =>
    rows.find(one => one.attribute === attribute)?.rows.find(({ who }) => who.startsWith('at-it'))
      ?.why;
  expect(why('Pan')).toBe('the latest; target table');
  expect(why('Zoom')).toBe('the latest; beam tight');
  expect(why('Dimmer')).toBe('the highest');
});
