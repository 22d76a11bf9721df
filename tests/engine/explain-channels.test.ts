import { expect, test } from 'vitest';
import type { ChannelWhy } from '../../src/engine/light/explain.js';
import { type Place, Rig } from './harness.js';

const ROOM = `lampwright: 1
name: Why
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] } }
zones:
  stove: { circle: { centre: [2, 6], radius: 2 } }
  table: { circle: { centre: [3, 6], radius: 2 } }
  far: { circle: { centre: [6, 1], radius: 1 } }
profiles:
  hazer: { hazard: atmospheric, channels: [{ attribute: Haze1 }] }
fixtures:
  lamp: { profile: dimmer, universe: 1, address: 1, position: [2, 6, 1], base: { Dimmer: 7 }, safe: { Dimmer: 20 } }
  spare: { profile: dimmer, universe: 1, address: 2, position: [6, 3, 1], base: { Dimmer: 10 }, safe: { Dimmer: 10 } }
  haze: { profile: hazer, universe: 1, address: 31, base: { Haze1: 12 }, safe: { Haze1: 0 } }
  head: { profile: moving-head, universe: 2, address: 1, position: [5, 0, 5], base: { aim: [5, 4, 0] }, safe: { aim: [5, 4, 0], Dimmer: 0 } }
signals:
  taken: { count: { zone: table, of: ines }, range: [0, 1] }
operator: { port: 9011 }
watchdog:
  trackerSilent: { after: 0.2, fade: 0.5 }
  feedSilent: { after: 0.3, fade: 0.4 }
  rearm: 0.2
  return: 0.3
  move: 0.2
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: ["1-2"] }
mappings:
`;

/** Why a channel is as it is, in the last tick of so long with the two where they are said to be. */
function whyAfter(
  mappings: string,
  seconds: number,
  places: Record<string, Place>,
  rig = roomWith(mappings),
) {
  rig.view.askWhy();
  rig.run(seconds, places);
  return (fixture: string, attribute = 'Dimmer') => {
    const index = rig.show.fixtures.findIndex(({ name }) => name === fixture);
    const channels = rig.show.fixtures[index]?.profile.channels ?? [];
    const channel = channels.findIndex(one => one.attribute === attribute);
    return rig.view.why.find(one => one.fixture === index && one.channel === channel);
  };
}

const roomWith = (mappings: string) => new Rig(`${ROOM}${mappings}`);
const BOTH = { 1: [2, 6], 2: [9, 1] } as const satisfies Record<string, Place>;
/** Name, place and result of each wish, in their order. */
const placesOf = (why: ChannelWhy | undefined) =>
  why?.wishes.map(({ mapping, place, result }) => [mapping, place, Number(result.toFixed(6))]);

const HIGHEST = `
  - { name: a, zone: stove, fixtures: [lamp], set: { Dimmer: 80 } }
  - { name: b, zone: table, fixtures: [lamp], set: { Dimmer: 60 } }
  - { name: c, by: taken, fixtures: [lamp], set: { Dimmer: 80 } }
  - { name: d, zone: far, fixtures: [lamp], set: { Dimmer: 90 } }
  - { name: e, follow: tobias, fixtures: [head], set: { Dimmer: 50 } }
`;

test('of intensities the highest shows, and all who ask for as much; who asks nothing is idle', () => {
  const why = whyAfter(HIGHEST, 2, BOTH);
  expect(why('lamp')).toMatchObject({
    ...{ base: 7, safe: 20, idle: [3] },
    ...{ merged: 80, aimed: 80, guarded: 80, steered: 80, crossed: 80, highlighted: 80, out: 80 },
    fade: { live: 1, stage: undefined, turning: false },
  });
  expect(why('lamp')?.wishes).toEqual([
    { mapping: 0, performer: 0, level: 1, trust: 1, asks: 80, result: 80, place: 'won' },
    { mapping: 1, performer: 0, level: 1, trust: 1, asks: 60, result: 60, place: 'lower' },
    { mapping: 2, performer: undefined, level: 1, trust: 1, asks: 80, result: 80, place: 'won' },
  ]);
  expect(why('head')).toMatchObject({ merged: 50, out: 50, fade: { live: 1, stage: 'live' } });
  // Where the beam goes is no mapping's value: what became of the base is.
  expect(why('head', 'Tilt')).toMatchObject({ wishes: [], idle: [] });
  expect(why('head', 'Tilt')?.aimed).not.toBeCloseTo(why('head', 'Tilt')?.base ?? 0, 1);
});

test('what nothing touches and nothing changes is not explained', () => {
  const why = whyAfter(HIGHEST, 2, BOTH);
  expect(why('spare')).toBeUndefined();
  // Its base is not what goes out: the enable is not held.
  expect(why('haze', 'Haze1')).toMatchObject({ wishes: [], merged: 12, highlighted: 12, out: 0 });
});

test('a loss is on its way from live to safe, by the share of who is lost', () => {
  const rig = roomWith(HIGHEST);
  rig.run(2, BOTH);
  const why = whyAfter('', 0.4, { 2: [9, 1] }, rig);
  const wish = why('lamp')?.wishes[0];
  // Lost 0.2 s after the last report, and safe 0.5 s later.
  expect(wish?.trust).toBeGreaterThan(0.5);
  expect(wish?.trust).toBeLessThan(0.7);
  expect(wish?.result).toBeCloseTo(20 + 60 * (wish?.trust ?? 0), 9);
  expect(wish?.asks).toBe(80);
  const head = whyAfter('', 0.5, { 1: [2, 6] }, rig)('head');
  expect(head).toMatchObject({ merged: 50, fade: { stage: 'fading' } });
  expect(head?.guarded).toBeLessThan(50);
  expect(head?.out).toBe(head?.guarded);
});

test('between priorities the last that changes anything is on top, down to the first that covers all', () => {
  const why = whyAfter(
    `
  - { name: low, by: taken, fixtures: [lamp], set: { Dimmer: 30 }, priority: -1 }
  - { name: covers, by: taken, fixtures: [lamp], set: { Dimmer: 40 }, mix: latest }
  - { name: half, by: taken, fixtures: [lamp], from: { Dimmer: 50 }, set: { Dimmer: 50 }, mix: scale, priority: 1 }
  - { name: more, by: taken, fixtures: [lamp], set: { Dimmer: 15 }, mix: add, priority: 2 }
  - { name: none, by: taken, fixtures: [lamp], set: { Dimmer: 0 }, mix: add, priority: 3 }
`,
    2,
    BOTH,
  );
  expect(placesOf(why('lamp'))).toEqual([
    [0, 'below', 30],
    [1, 'part', 40],
    [2, 'part', 20],
    [3, 'won', 35],
    [4, 'lower', 35],
  ]);
});

test('who highlights has the last word but for the enables', () => {
  const rig = roomWith(HIGHEST);
  rig.order({ kind: 'highlight', fixture: 'spare', whileTracked: true, cause: 'command' });
  expect(whyAfter('', 1, BOTH, rig)('spare')).toMatchObject({
    ...{ base: 10, merged: 10, aimed: 10, guarded: 10, steered: 10, crossed: 10 },
    ...{ highlighted: 100, out: 100 },
  });
});
