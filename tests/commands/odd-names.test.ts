import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { main } from '../../src/commands/cli.js';
import { captured } from './captured.js';

/** All that can be called so is called like what every object has. */
const SHOW = `lampwright: 1
name: constructor
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs: { constructor: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { constructor: { trackers: [1] }, toString: { trackers: [2] } }
groups: { valueOf: [constructor, toString], isPrototypeOf: [hasOwnProperty, toLocaleString] }
zones: { constructor: { circle: { centre: [2, 6], radius: 1.2 } }, toString: { circle: { around: toString, radius: 1 } } }
exits: { constructor: { polygon: [[9, 0], [10, 0], [10, 1], [9, 1]] } }
keepOut: { constructor: { polygon: [[-3, -9], [13, -9], [13, -1], [-3, -1]], height: [-1, 1.4], fixtures: [isPrototypeOf] } }
palettes:
  colours: { constructor: { srgb: [255, 0, 0] }, toString: { srgb: [0, 0, 255] } }
  points: { constructor: [5, 5, 1] }
  beams: { constructor: 12 }
profiles:
  constructor:
    optics: { fieldAngle: 12 }
    channels: [{ attribute: Pan, bits: 16, range: [-270, 270] }, { attribute: Tilt, bits: 16, range: [-135, 135] }, { attribute: Dimmer }, { attribute: Color1, values: { constructor: [0, 9], toString: [10, 19] }, default: constructor }]
fixtures:
  hasOwnProperty: { profile: constructor, universe: 1, address: 1, position: [2, 8, 6], safe: { target: constructor } }
  toLocaleString: { profile: constructor, universe: 1, address: 21, position: [8, 8, 6], safe: { target: constructor } }
  propertyIsEnumerable: { profile: rgb, universe: 1, address: 41, position: [5, 7, 1], safe: { colour: toString } }
signals: { constructor: { distance: [constructor, propertyIsEnumerable], range: [5, 1] }, toString: { product: [constructor, constructor] } }
conditions: { constructor: { signal: toString, on: 0.5 }, toString: { not: constructor } }
mappings:
  - { name: constructor, follow: { share: valueOf }, fixtures: [isPrototypeOf], set: { Dimmer: 80, Color1: toString } }
  - { name: toString, follow: { nearest: valueOf, to: propertyIsEnumerable }, fixtures: [hasOwnProperty], set: { Dimmer: 80 } }
  - { name: valueOf, follow: { first: valueOf, in: constructor }, fixtures: [toLocaleString], set: { Dimmer: 80 } }
  - { name: hasOwnProperty, zone: constructor, performers: [valueOf], fixtures: [propertyIsEnumerable], set: { colour: constructor, Dimmer: 60 } }
  - { name: isPrototypeOf, by: toString, when: toString, fixtures: [propertyIsEnumerable], from: { colour: toString }, set: { colour: constructor } }
cues:
  constructor: { mappings: [constructor, hasOwnProperty], base: { propertyIsEnumerable: { colour: toString } } }
  toString: { mappings: [toString, valueOf, isPrototypeOf], fire: constructor, off: [constructor] }
receivers: { constructor: { address: 127.0.0.1, port: 9020, interface: 127.0.0.1 } }
actions: [{ cue: toString, send: constructor, address: /toString }]
operator: { port: 9011 }
outputs: { constructor: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`;
const SCENE = `lampwright: 1
scene: constructor
length: 12
performers:
  constructor: { path: [{ at: 0, place: [3, 5] }, { at: 6, place: constructor }, { at: 12, place: [5, 5] }] }
  toString: { path: [{ at: 0, place: [5, 5] }, { at: 12, place: constructor }] }
cues: [{ at: 8, cue: toString }]
orders: [{ at: 9, pin: [hasOwnProperty, toString] }]
`;
/** Where a name of something that there is not is one that every object has. */
const MISNAMED = SHOW.replace('fixtures: [isPrototypeOf] } }', 'fixtures: [constructor] } }')
  .replace('to: propertyIsEnumerable }', 'to: valueOf }')
  .replace('first: valueOf, in: constructor', 'first: valueOf, in: hasOwnProperty')
  .replace('from: { colour: toString }', 'from: { colour: valueOf }')
  .replace('base: { propertyIsEnumerable:', 'base: { valueOf:')
  .replace('fire: constructor', 'fire: hasOwnProperty')
  .replace('toLocaleString: { profile: constructor', 'toLocaleString: { profile: hasOwnProperty');

const folder = mkdtempSync(join(tmpdir(), 'lampwright-odd-names-'));
const said = captured();
const file = join(folder, 'odd.show.yaml');
writeFileSync(file, SHOW);
const scene = join(folder, 'odd.scene.yaml');
writeFileSync(scene, SCENE);
afterAll(() => rmSync(folder, { recursive: true }));

test.each([
  ['check', file],
  ['check', file, '--json'],
  ['explain', file, '--at', 'constructor 3 5', '--at', 'toString constructor'],
  ['explain', file, '--at', 'constructor 3 5', '--pin', 'hasOwnProperty toString', '--json'],
  ['explain', file, '--at', 'constructor 3 5', '--cue', 'toString', '--fixture', 'isPrototypeOf'],
  ['explain', file, '--at', 'toString 5 5', '--lost', 'toString'],
  ['rehearse', file, scene, '--html', join(folder, 'rehearsal.html')],
  ['rehearse', file, scene, '--json'],
  ['safety', file],
  ['safety', file, '--json'],
  ['sheet', file, '--html', join(folder, 'sheet.html')],
  ['sheet', file, '--json'],
])('%j', async (...args) => {
  said.clear();
  expect([await main([...args]), said.err]).toEqual([
    0,
    expect.not.stringMatching(/native code|undefined/),
  ]);
  expect(said.out).not.toMatch(/native code|undefined|\[object/);
});

test('a name of nothing is an unknown name, though every object has it', async () => {
  const misnamed = join(folder, 'misnamed.show.yaml');
  writeFileSync(misnamed, MISNAMED);
  expect(await main(['check', misnamed, '--json'])).toBe(1);
  expect(said.out).not.toContain('native code');
  const { errors } = JSON.parse(said.out) as { errors: { code: string; message: string }[] };
  const messages = errors.map(({ message }) => message).join('\n');
  for (const missing of [
    'there is no fixture "constructor". "constructor" is a performer.',
    'there is no performer, fixture or point "valueOf"',
    'there is no zone "hasOwnProperty"',
    'there is no colour "valueOf"',
    '"valueOf" is a group of performers, but fixtures are needed here',
    'there is no condition "hasOwnProperty"',
    'there is no profile "hasOwnProperty"',
  ]) {
    expect(messages).toContain(missing);
  }
  // And of none of these anything else is said, as of something that is there.
  expect(errors).toHaveLength(7);
});
