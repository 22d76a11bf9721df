import { describe, expect, test } from 'vitest';
import { explainHeads } from '../../src/sheets/explain-heads.js';
import { explainMoment } from '../../src/sheets/explain-moment.js';
import { type Place, Rig } from '../engine/harness.js';

/** A head upstage whose beam would go into the audience downstage, one that tilts by 30 degrees only, one in front. */
const ROOM = (follow: string, more = '') => `lampwright: 1
name: Heads
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { label: Ines, trackers: [1] }, tobias: { label: Tobias, trackers: [2] }, gull: { label: The Gull, trackers: [3] } }
groups: { company: [ines, tobias, gull] }
zones: { table: { label: the table, circle: { centre: [5, 5], radius: 1 } } }
keepOut: { audience: { polygon: [[-3, -9], [13, -9], [13, -0.5], [-3, -0.5]], height: [-1, 1.4], fixtures: [back] } }
profiles:
  spot:
    optics: { fieldAngle: 12 }
    channels: [{ attribute: Pan, bits: 16, range: [-270, 270] }, { attribute: Tilt, bits: 16, range: [-135, 135] }, { attribute: Dimmer, bits: 16 }]
  short: { optics: { fieldAngle: 12 }, channels: [{ attribute: Pan, bits: 16, range: [-270, 270] }, { attribute: Tilt, bits: 16, range: [-30, 30] }, { attribute: Dimmer, bits: 16 }] }
fixtures:
  back: { profile: spot, universe: 1, address: 1, position: [5, 8, 5], safe: { aim: [5, 4, 0], Dimmer: 0 } }
  stub: { profile: short, universe: 1, address: 21, position: [1, 4, 6], safe: { Dimmer: 0 } }
  front: { profile: spot, universe: 1, address: 41, position: [5, -3, 6], safe: { aim: [5, 4, 0], Dimmer: 0 } }
  lantern: { label: the lantern, profile: dimmer, universe: 1, address: 61, position: [9, 5, 1] }
mappings:
  - { ${follow}, set: { Dimmer: 80 } }
${more}watchdog: { trackerSilent: { after: 0.4, fade: 1 }, feedSilent: { after: 0.6, fade: 1 }, rearm: 0.5, return: 0.6, turn: 0.3 }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`;

const sway = (places: Readonly<Record<string, Place>>) => (t: number) =>
  Object.fromEntries(
    Object.entries(places).map(([id, [x, y]]) => [id, [x + 0.01 * Math.sin(9 * t), y, 1.2] as const]), // biome-ignore format: one row
  );

const headsOf = ({ view }: Rig) => {
  const heads = explainHeads(view);
  return (name: string) => {
    const head = heads.find(one => one.fixture === name);
    if (head === undefined) throw new Error(`${name} chooses nobody`);
    return head;
  };
};
const pin = (rig: Rig, fixture: string, performer: string | undefined) =>
  rig.order({ kind: 'pin', fixture, performer, cause: 'command' });

describe('heads that share', () => {
  const POOL = ROOM('follow: { share: company, hold: 0 }, fixtures: [back, stub, front]');

  test('say of each whom they cannot light whether it is reach, or which keep-out', () => {
    const rig = new Rig(POOL).run(4, sway({ 1: [6, 0.4], 2: [1.5, 5] }));
    const head = headsOf(rig);
    expect(head('back').candidates).toMatchObject([
      { performer: 'ines', tracked: true, cost: null, outOfReach: false, keepOut: 'audience' },
      { performer: 'tobias', tracked: true, cost: expect.any(Number), keepOut: null },
      { performer: 'gull', tracked: false, cost: null, outOfReach: false, keepOut: null },
    ]);
    expect(head('stub').candidates[0]).toMatchObject({
      cost: null,
      outOfReach: true,
      keepOut: null,
    });
    expect(head('front').performer).toBe('ines');
    expect(head('back').why).toMatch(/cost Tobias \d\.\d\d; into the keep-out audience: Ines$/);
    expect(head('stub').why).toMatch(/cost Tobias \d\.\d\d; out of reach: Ines$/);
    // One of the two has Tobias; the other is on nobody, and says why.
    const spare = ['back', 'stub'].filter(one => head(one).performer === null);
    expect(spare).toHaveLength(1);
    expect(head(spare[0] ?? '').why).toMatch(
      /^the other heads are on everybody that it can light; cost/,
    );
  });

  test('a pin is called so, and waits for who is lost', () => {
    const rig = new Rig(POOL).run(4, sway({ 1: [6, 2], 2: [1.5, 5] }));
    pin(rig, 'front', 'tobias');
    rig.run(3, sway({ 1: [6, 2], 2: [1.5, 5] }));
    expect(headsOf(rig)('front')).toMatchObject({ performer: 'tobias', pinnedTo: 'tobias' });
    expect(headsOf(rig)('front').why).toMatch(/^pinned; cost /);
    rig.run(4, sway({ 1: [6, 2] }));
    expect(headsOf(rig)('front')).toMatchObject({ pinnedTo: 'tobias' });
    expect(headsOf(rig)('front').why).toMatch(/^pinned to Tobias, and waits for them; /);
  });
});

test('the nearest is said with how far each is, and why it stays on another', () => {
  const rig = new Rig(
    ROOM('follow: { nearest: company, to: lantern, hold: 3 }, fixtures: [front]'),
  ).run(4, sway({ 1: [7, 5], 2: [5, 5] }));
  expect(headsOf(rig)('front').why).toBe('nearest to the lantern: Ines 2.0 m, Tobias 4.0 m');
  // Two metres at once are no walk: he comes there in a second.
  rig.run(1, t => sway({ 1: [7, 5], 2: [5 + 2.3 * t, 5] })(t));
  rig.run(3, sway({ 1: [7, 5], 2: [7.3, 5] }));
  expect(headsOf(rig)('front').why).toMatch(
    /^nearest to the lantern: Tobias 1\.7 m, Ines 2\.0 m; somebody else has to be nearer by half a metre$/,
  );
  const pointed = new Rig(
    `${ROOM('follow: { nearest: company, to: chair }, fixtures: [front]')}palettes: { points: { chair: { label: the chair, at: [5, 4, 0.5] } } }\n`,
  ).run(4, sway({ 1: [5, 5], 2: [8, 4] }));
  expect(headsOf(pointed)('front').why).toBe('nearest to the chair: Ines 1.0 m, Tobias 3.0 m');
  const held = new Rig(
    ROOM('follow: { nearest: company, to: lantern, hold: 60 }, fixtures: [front]'),
  ).run(4, sway({ 1: [5, 5] }));
  held.run(2, sway({ 1: [5, 5], 2: [8, 5] }));
  expect(headsOf(held)('front').why).toMatch(
    /Tobias 1\.0 m, Ines 4\.0 m; it stays for another 5\d\.\d s$/,
  );
  held.run(4, {});
  expect(headsOf(held)('front').why).toMatch(/nobody is tracked$/);
});

test('the first is said with how long each has been there', () => {
  const rig = new Rig(ROOM('follow: { first: company, in: table }, fixtures: [front]'));
  rig.run(4, sway({ 1: [2, 2], 2: [8, 2] }));
  expect(headsOf(rig)('front')).toMatchObject({ performer: null, why: 'nobody is in the table' });
  rig.run(6, t => sway({ 1: [2 + Math.min(3, t), 2 + Math.min(3, t)], 2: [8, 2] })(t));
  expect(headsOf(rig)('front').why).toMatch(/^first in the table: Ines for \d\.\d s$/);
});

test('a colour that goes from one to another says both, of a mapping and of a cue', () => {
  const show = ROOM(
    'name: aim, follow: ines, fixtures: [front]',
    `  - { name: warm, by: deep, fixtures: [strip], from: { colour: sea }, set: { colour: ember } }
  - { name: up, by: deep, fixtures: [strip], from: { colour: sea }, set: { Dimmer: 60, colour: sea } }
signals: { deep: { along: { line: [[0, 4], [10, 4]], of: ines }, range: [0, 10] } }
palettes: { colours: { sea: { srgb: [26, 0, 230] }, ember: { srgb: [255, 0, 0] } } }
cues:
  day: { mappings: [warm], base: { strip: { colour: sea } } }
  night: { mappings: [aim], base: { strip: { colour: ember } }, fade: 4 }
`,
  ).replace('  lantern:', '  strip: { profile: rgb, universe: 1, address: 71 }\n  lantern:');
  const rig = new Rig(show);
  rig.view.askWhy();
  rig.run(4, sway({ 1: [5, 4] }));
  const rowOf = (who: string) =>
    explainMoment(rig.view)
      .attributes.find(one => one.fixture === 'strip' && one.attribute === 'ColorAdd_R')
      ?.rows.find(row => row.who === who);
  expect(rowOf('warm')?.why).toBe('the latest; colour from sea to ember');
  expect(rowOf('base')?.why).toBe('while no mapping acts; colour sea');
  rig.order({ kind: 'cue', to: 'next', cause: 'command' });
  rig.run(2, sway({ 1: [5, 4] }));
  expect(rowOf('base')?.why).toBe('while no mapping acts; colour from sea to ember');
  rig.run(3, sway({ 1: [5, 4] }));
  expect(rowOf('base')?.why).toBe('while no mapping acts; colour ember');
});
