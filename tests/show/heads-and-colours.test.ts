import { expect, test } from 'vitest';
import { parseShow, saidIn } from '../../src/show/parse.js';
import { warningsOf } from '../../src/show/warnings/warnings.js';

const SHOW = `lampwright: 1
name: Heads and colours
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs: { tracking: { listen: 127.0.0.1, port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ada: { trackers: [1] }, bea: { trackers: [2] }, cy: { trackers: [3] } }
groups: { company: [ada, bea, cy], heads: [h1, h2] }
zones: { pool: { circle: { centre: [5, 4], radius: 2 } } }
keepOut: { house: { polygon: [[-3, -14], [13, -14], [13, -2], [-3, -2]], height: [0, 2.4] } }
palettes: { colours: { amber: { kelvin: 2200 }, sea: { xy: [0.24, 0.25] } }, points: { table: [6, 5, 0.8] }, beams: { tight: 12 } }
profiles:
  spot:
    optics: { beamAngle: 20, fieldAngle: 24 }
    channels:
      - { attribute: Pan, bits: 16, range: [-270, 270] }
      - { attribute: Tilt, bits: 16, range: [-135, 135] }
      - { attribute: Dimmer, bits: 16 }
      - { attribute: Zoom, range: [7, 45], default: 20 }
      - { attribute: ColorAdd_R, default: 100, emitter: { xy: [0.69, 0.305], luminance: 22 } }
      - { attribute: ColorAdd_G, default: 100, emitter: { xy: [0.19, 0.71], luminance: 48 } }
      - { attribute: ColorAdd_B, default: 100, emitter: { xy: [0.15, 0.04], luminance: 7 } }
  narrow:
    optics: { beamAngle: 4, fieldAngle: 5 }
    channels: [{ attribute: Pan, range: [-20, 20] }, { attribute: Tilt, range: [-20, 20] }, { attribute: Dimmer }]
  batten: { channels: [{ attribute: Dimmer, slots: [1], copies: [[2], [3]] }] }
fixtures:
  h1: { profile: spot, universe: 1, address: 1, position: [2, -1, 6], safe: { target: table, Dimmer: 0 } }
  h2: { profile: spot, universe: 1, address: 21, position: [8, -1, 6], base: { beam: tight, colour: amber, Dimmer: 5 } }
  down: { profile: narrow, universe: 1, address: 41, position: [5, 4, 6], base: { Dimmer: 5 } }
  bar: { profile: batten, universe: 1, address: 60, cells: { from: [2, 3, 5], to: [5, 3, 5] } }
  lamp: { profile: dimmer, universe: 1, address: 100, position: [4, 4, 1], safe: { Dimmer: 20 } }
mappings:
  - { follow: { share: company }, fixtures: [heads], beam: { diameter: 2, cover: 4 }, set: { colour: sea, Dimmer: 70 } }
  - { zone: pool, fixtures: [bar, lamp, down], set: { Dimmer: 60 } }
outputs: { rig: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`;

const RULE = '{ share: company }';
const HEADS = '{ share: company }, fixtures: [heads]';
const HOUSE = '{ polygon: [[-3, -14], [13, -14], [13, -2], [-3, -2]], height: [0, 2.4] }';
const SEA = '{ xy: [0.24, 0.25] }';
const CELLS = '{ from: [2, 3, 5], to: [5, 3, 5] }';
const ROOM = '{ diameter: 2, cover: 4 }';

type Change = readonly [from: string, to: string];

/** Errors, or else warnings, of the show with these changes. */
function told(...changes: readonly Change[]): string[] {
  let text = SHOW;
  for (const [from, to] of changes) {
    expect(text).toContain(from);
    text = text.replace(from, to);
  }
  const read = parseShow(text, 'a.show.yaml');
  const all = read.ok ? warningsOf(read.show, saidIn(text), undefined) : read.problems;
  return all.map(({ code, message }) => `${code}: ${message}`);
}

test('the show itself is in order', () => {
  expect(told()).toEqual([]);
});

// biome-ignore format: a line a case
test.each([
  // Once each.
  [RULE, '{ share: [ada, ada] }', 'named-twice: "ada" is in this list twice; name each once.'],
  ['fixtures: [bar, lamp, down]', 'fixtures: [bar, lamp, bar, down]', 'named-twice: "bar" is in this list twice; name each once.'],
  [HOUSE, HOUSE.replace(' }', ', fixtures: [h1, h1] }'), 'named-twice: "h1" is in this list twice; name each once.'],
  [RULE, '{ middle: [company, ada] }', 'follow-rule: "ada" is in group "company", which middle also names; name each performer once.'],
  // Rules with nothing to choose.
  [RULE, '{ nearest: [ada], to: ada }', `follow-rule: nobody is left to choose from: "ada" can't be the nearest to "ada".`],
  [RULE, '{ nearest: [ada], to: lamp }', 'choice-of-one: nearest has only one performer, "ada". Write follow: ada, or name the others.'],
  [RULE, '{ middle: [ada] }', 'choice-of-one: middle has only one performer, "ada". Write follow: ada, or name the others.'],
  [RULE, '{ middle: company }', ''],
  [RULE, '{ middle: any }', ''],
  [RULE, '{ middle: [ada, bea], change: lit }', 'follow-rule: middle never changes whom a head is on, so it has no `change`.'],
  [RULE, '{ first: company, in: pool, hold: 5 }', 'follow-rule: first never changes its choice, so it has no `hold`.'],
  [RULE, '{ order: [ada] }', `follow-rule: 2 heads can't follow 1 performer in order: it needs one head for each performer.`],
  [HEADS, '{ share: company, change: cross }, fixtures: [h1]', 'follow-rule: one head has nobody to cross over to: change is dark or lit here.'],
  // Limits that leave no room.
  // Figures in another unit.
  [ROOM, `${ROOM}, compensate: { reference: 800 }`, 'reference-far: `reference` is 800 m, but from its heads the stage is 3.16 m to 13.7 m away: the light is always turned down. Did you mean centimetres? That would be 8.'],
  [ROOM, `${ROOM}, compensate: { reference: 0.8 }`, 'reference-far: `reference` is 0.8 m, but from its heads the stage is 3.16 m to 13.7 m away: the light is always turned up.'],
  [ROOM, `${ROOM}, offset: [0, 0, 120]`, 'offset-far: `offset` moves the aim 120 m away from the performer. It is in metres; these look like centimetres: divide by 100.'],
  ['position: [8, -1, 6], ', 'position: [2, -1, 6], ', 'position-twice: heads "h1" and "h2" hang at the same place, [2, -1, 6]: one of the positions is wrong.'],
  [ROOM, '{ diameter: 2, cover: 2 }', 'optics-impossible: the beam could never open: `cover` is its largest diameter, and 2 m is not more than its `diameter`, 2 m.'],
  [ROOM, '{ diameter: 9, cover: 12 }', ''],
  [ROOM, '{ diameter: 0.1, cover: 0.2 }', 'beam-room: fixtures "h1" and "h2": a beam of 0.2 m at most is asked for, but it is at least this wide everywhere on the stage: 0.387 m.'],
  ['range: [7, 45], default: 20', 'range: [7, 11], default: 10', `beam-room: fixtures "h1" and "h2": \`cover\` can't open the beam, which is at most this wide anywhere on the stage: 2.64 m.`, [ROOM, '{ diameter: 2.64, cover: 4 }']],
  [ROOM, '{ diameter: 2, cover: 60 }', 'beam-room: fixtures "h1" and "h2": `cover` up to 60 m is asked for, but the beam is at most this wide anywhere on the stage: 11.3 m.'],
  [RULE, '{ middle: [ada, bea] }', 'beam-room: fixtures "h1" and "h2": `cover` up to 60 m is asked for, but the beam is at most this wide anywhere on the stage: 11.3 m; if the performers are farther apart, one of them is outside it.', [ROOM, '{ diameter: 2, cover: 60 }']],
  ['range: [7, 45], default: 20', 'range: [7, 11], default: 10', 'beam-room: fixtures "h1" and "h2": a beam of 3 m is asked for, but it is at most this wide anywhere on the stage: 2.64 m.', [ROOM, '{ diameter: 3, cover: 4 }']],
  // Figures that are near each other read apart.
  ['range: [7, 45], default: 20', 'range: [7, 11], default: 10', 'beam-room: fixtures "h1" and "h2": a beam of 2.69 m is asked for, but it is at most this wide anywhere on the stage: 2.64 m.', [ROOM, '{ diameter: 2.69, cover: 4 }']],
  [ROOM, '{ diameter: 0.1, cover: 0.38 }', 'beam-room: fixtures "h1" and "h2": a beam of 0.38 m at most is asked for, but it is at least this wide everywhere on the stage: 0.387 m.'],
  [ROOM, `${ROOM}, compensate: { reference: 8, least: 1, most: 1 }`, 'optics-impossible: compensate could never act: between `least` 1 and `most` 1 the intensity never changes.'],
  // Colours that no light has.
  [SEA, '{ xy: [0.05, 0.05] }', 'colour-said: colour "sea" is impossible for light: xy [0.05, 0.05] is outside the spectrum locus of CIE 1931.'],
  ['{ kelvin: 2200 }', '{ kelvin: 1700, duv: 0.05 }', 'colour-said: colour "amber" is impossible for light: duv 0.05 is too far from 1700 K.'],
  [SEA, `${SEA}, never: { kelvin: 3000 }`, 'palette-unused: no look uses colour "never".'],
  ['tight: 12', 'tight: 12, wide: 40', 'palette-unused: no look uses beam "wide".'],
  ['table: [6, 5, 0.8]', 'table: [6, 5, 0.8], chair: [1, 1, 0]', 'palette-unused: no look uses point "chair".'],
  // Keep-outs that keep nothing out.
  [HOUSE, '{ point: [5, -5, 1], radius: 1, height: [0, 1] }', 'keep-out-shape: keep-out "house" is a sphere round its point and has no height; leave it out.'],
  [HOUSE, HOUSE.replace(' }', ', fixtures: [lamp] }'), 'keep-out-head: fixture "lamp" has no Pan and Tilt: a keep-out is for moving heads.'],
  [HOUSE, HOUSE.replace(' }', ', fixtures: [bar] }'), 'keep-out-head: none of "bar" has Pan and Tilt: a keep-out is for moving heads.'],
  [HOUSE, HOUSE.replace(' }', ', fixtures: [down] }'), 'keep-out-idle: nothing can shine into keep-out "house": no Pan and Tilt of "down" can reach it.'],
  [HOUSE, '{ circle: { centre: [200, 300], radius: 1 } }', 'position-far: keep-out "house" is 348 m from the stage, outside any building. This looks like centimetres or millimetres: divide by 100 or 1000.'],
  ['position: [8, -1, 6], ', '', 'keep-out-head: fixture "h2" has no position, so nobody knows where its beam goes; add position: [x, y, z].', [HOUSE, HOUSE.replace(' }', ', fixtures: [h2] }')]],
  // Cells.
  [CELLS, '{ from: [2, 3, 5], to: [2, 3, 5] }', 'cells: the first and the last cell of fixture "bar" are at the same place: cells: { from: [x, y, z], to: [x, y, z] }, or {} if no place is needed.'],
  [CELLS, '{ to: [2, 3, 5] }', 'cells: fixture "bar" says where its last cell is but not its first: cells: { from: [x, y, z], to: [x, y, z] }, or {} if no place is needed.'],
  ['groups: {', 'groups: { bar: [lamp],', 'group-name: group "bar" has the name of a fixture, which is the group of its cells; give it another name.'],
  // What the name is, that stands where another kind is needed.
  [RULE, 'company', 'unknown-name: there is no performer "company". "company" is a group, but one performer is needed here. Heads that choose among them: follow: { share: company }.'],
  [RULE, '[ada, bea]', 'bad-value: mappings[0].follow should be text, or a block of keys, and is a list of 2. Such as { share: [mara, ilja] }.'],
  [RULE, '{ nearest: company, to: pool }', 'unknown-name: there is no performer, fixture or point "pool". "pool" is a zone: give one fixture, one performer, a point of the palette or a place, [x, y, z] in metres.'],
  [RULE, '{ nearest: company, to: table }', ''],
  [RULE, '{ nearest: company, to: chair }', '', ['table: [6, 5, 0.8]', 'table: [6, 5, 0.8], chair: { label: Chair, at: [1, 1, 0] }']],
  [RULE, '{ nearest: company, to: tabel }', 'unknown-name: there is no performer, fixture or point "tabel". Did you mean "table"?'],
  [RULE, '{ nearest: company, to: tight }', 'unknown-name: there is no performer, fixture or point "tight". "tight" is a beam of palettes: give one fixture, one performer, a point of the palette or a place, [x, y, z] in metres.'],
  [RULE, '{ nearest: company, to: ada }', 'name-shared: "ada" is the name of a performer and of a point, so `to` could mean either; rename one of them.', ['table: [6, 5, 0.8]', 'table: [6, 5, 0.8], ada: [1, 1, 0]']],
  [RULE, '{ nearest: company, to: lmap }', 'unknown-name: there is no performer, fixture or point "lmap". Did you mean "lamp"?'],
  [RULE, '{ nearest: company, to: [1, 2] }', 'bad-value: mappings[0].follow.to should be text, or a list of 3 numbers, and is a list of 2.'],
  ['colour: sea', 'colour: tight', 'unknown-name: there is no colour "tight". "tight" is a beam of palettes.'],
  ['colour: sea', 'colour: { kelvin: 3000 }', 'bad-value: mappings[0].set.colour should be the name of a colour of palettes, and is a block of keys. palettes: { colours: { amber: { kelvin: 2200 } } }, and then colour: amber.'],
  ['colour: sea', 'color: sea', 'unknown-attribute: "color" is not a key of a look. Did you mean "colour"? It is given to fixtures "h1" and "h2".'],
  ['target: table', 'target: [1, 2, 3]', 'bad-value: fixtures.h1.safe.target should be the name of a point of palettes, or of a fixture, and is a list of 3. palettes: { points: { table: [6, 5, 0.8] } }, and then target: table.'],
  ['target: table', 'target: pool', 'unknown-name: there is no point or fixture "pool". "pool" is a zone: add a point to palettes for the place in it that is meant.'],
  [SEA, 'blue', 'wrong-type: palettes.colours.sea should be a block of keys, and is "blue". Such as { kelvin: 3200 }.'],
  ['kelvin: 2200', 'kelvin: 2200K', 'wrong-type: palettes.colours.amber.kelvin should be a number, and is "2200K". Numbers are written without their unit: 2200.'],
  ['table: [6, 5, 0.8]', 'table: [6, 5]', 'bad-value: palettes.points.table should be a list of 3 numbers, or a block of keys, and is a list of 2.'],
  [CELLS, '3', 'wrong-type: fixtures.bar.cells should be a block of keys, and is 3. Such as { from: [2, 3, 5], to: [5, 3, 5] }.'],
] as const)('%s -> %s: %s', (from, to, what, more?: Change) => {
  const lines = told([from, to], ...(more === undefined ? [] : [more]));
  if (what === '') expect(lines).toEqual([]);
  else expect(lines).toContain(what);
});
