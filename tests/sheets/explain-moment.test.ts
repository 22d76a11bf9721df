import { describe, expect, test } from 'vitest';
import { explainMoment, type MomentExplanation } from '../../src/sheets/explain-moment.js';
import { type Place, Rig } from '../engine/harness.js';
import { KEPT } from '../engine/keep-out-show.js';

const ROOM = `lampwright: 1
name: Why
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { label: Ines, trackers: [1] }, tobias: { label: Tobias, trackers: [2] } }
zones: { stove: { circle: { centre: [2, 6], radius: 2 } } }
profiles: { hazer: { hazard: atmospheric, channels: [{ attribute: Haze1 }] } }
fixtures:
  lamp: { profile: dimmer, universe: 1, address: 1, position: [2, 6, 1], base: { Dimmer: 7 }, safe: { Dimmer: 20 } }
  spare: { profile: dimmer, universe: 1, address: 2, position: [6, 3, 1], base: { Dimmer: 10 } }
  haze: { profile: hazer, universe: 1, address: 31, base: { Haze1: 12 }, safe: { Haze1: 0 } }
  head: { profile: moving-head, universe: 2, address: 1, position: [5, 0, 5], base: { aim: [5, 4, 0] }, safe: { aim: [5, 4, 0], Dimmer: 0 } }
signals: { facing: { heading: { of: ines, towards: lamp } } }
conditions: { turned: { signal: facing, on: 90, off: 80 } }
operator: { port: 9011 }
watchdog: { trackerSilent: { after: 0.2, fade: 0.5 }, feedSilent: { after: 0.3, fade: 0.4 }, rearm: 0.2, return: 1, move: 0.2 }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: ["1-2"] } }
mappings:
  - { name: glow, zone: stove, fixtures: [lamp], set: { Dimmer: 80 } }
  - { name: back, when: turned, fixtures: [lamp], set: { Dimmer: 30 } }
  - { name: spot, follow: tobias, fixtures: [head], set: { Dimmer: 50 } }
`;
const BOTH = { 1: [2, 6], 2: [9, 1] } as const satisfies Record<string, Place>;

function rowsOf({ attributes }: MomentExplanation, fixture: string, attribute = 'Dimmer') {
  const found = attributes.find(one => one.fixture === fixture && one.attribute === attribute);
  return found?.rows ?? [];
}
const whyOf = (moment: MomentExplanation, fixture: string, who: string, attribute?: string) =>
  rowsOf(moment, fixture, attribute).find(row => row.who === who)?.why;

/** Why everything is as it is after so long. */
function momentAfter(rig: Rig, seconds: number, places: Record<string, Place>): MomentExplanation {
  rig.view.askWhy();
  return explainMoment(rig.run(seconds, places).view);
}

test('a head that is dark for a keep-out is so for that', () => {
  const rig = new Rig(KEPT).run(4, { 1: [5, 5, 1.2] });
  const moment = momentAfter(rig, 4, { 1: [5, 0.4, 1.2] });
  expect(whyOf(moment, 'back', 'safety')).toMatch(
    /: dark, as its beam would touch the keep-out audience/,
  );
});

describe('who is lost, and who comes back', () => {
  test('is said beside what they ask for', () => {
    const rig = new Rig(ROOM);
    expect(whyOf(momentAfter(rig, 2, BOTH), 'lamp', 'glow: Ines')).toBe('the highest');
    expect(momentAfter(rig, 0.4, { 2: [9, 1] }).performers[0]).toMatchObject({
      ...{ name: 'ines', label: 'Ines', phase: 'losing', cause: 'tracker-silent' },
      at: [expect.closeTo(2, 2), expect.closeTo(6, 2), expect.any(Number)],
    });
    const lost = momentAfter(rig, 1.6, { 2: [9, 1] });
    expect(whyOf(lost, 'lamp', 'glow: Ines')).toBe('the highest; Ines is lost (tracker silent)');
    // Of whom nothing is trusted any more it is the safe value, and no longer between it and what they asked.
    expect(rowsOf(lost, 'lamp').at(-1)).toMatchObject({ who: 'sent', value: 20 });
    const back = momentAfter(rig, 0.6, BOTH);
    expect(back.performers[0]).toMatchObject({ phase: 'returning', cause: null });
    expect(whyOf(back, 'lamp', 'glow: Ines')).toBe('the highest; Ines is coming back');
    rig.order({ kind: 'stop', performer: 'ines', cause: 'command' });
    expect(whyOf(momentAfter(rig, 0.5, BOTH), 'lamp', 'glow: Ines')).toContain('Ines is stopped');
  });

  test('a head says where it is on its way', () => {
    const rig = new Rig(ROOM);
    const never = momentAfter(rig, 1, { 1: [2, 6] });
    expect(never.performers[1]).toMatchObject({ at: null, phase: 'waiting', trust: 0 });
    expect(whyOf(never, 'head', 'spot')).toBe(
      'the head is in its safe look; Tobias was never heard',
    );
    expect(whyOf(momentAfter(rig, 3, BOTH), 'head', 'aim', 'Tilt')).toBe('on Tobias');
    const fading = momentAfter(rig, 0.5, { 1: [2, 6] });
    expect(whyOf(fading, 'head', 'safety')).toBe(
      'between live and safe: going dark; Tobias is lost (tracker silent)',
    );
  });
});

test('angles are in degrees; a signal whose value is unknown lies between two', () => {
  const rig = new Rig(ROOM);
  const unknown = momentAfter(rig, 0.5, {}).signals[0];
  expect(unknown).toEqual({
    name: 'facing',
    value: null,
    least: 0,
    greatest: expect.closeTo(180, 9),
  });
  // She walks along +x, and the lamp is behind her.
  const moment = explainMoment(rig.run(3, t => ({ 1: [3 + t, 6] })).view);
  expect(moment.signals[0]?.value).toBeGreaterThan(175);
  expect(moment.conditions[0]).toMatchObject({ name: 'turned', truth: 'yes' });
});

test('a hazardous output says that its enable is not held', () => {
  const rig = new Rig(ROOM);
  expect(whyOf(momentAfter(rig, 1, BOTH), 'haze', 'enable', 'Haze1')).toBe(
    'not enabled: the safe value',
  );
});

test('what is highlighted is said last but for the enables; what nobody touches is not said', () => {
  const rig = new Rig(ROOM);
  expect(rowsOf(momentAfter(rig, 1, BOTH), 'spare')).toEqual([]);
  rig.order({ kind: 'highlight', fixture: 'spare', whileTracked: true, cause: 'command' });
  expect(
    rowsOf(momentAfter(rig, 1, BOTH), 'spare').map(({ who, value, why }) => [who, value, why]),
  ).toEqual([
    ['base', 10, 'while no mapping acts'],
    ['highlight', 100, 'shown while somebody focuses, overriding all else'],
    ['sent', 100, '1/2 at 255'],
  ]);
});

const MERGED = `lampwright: 1
name: Why it is merged so
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { label: Ines, trackers: [1] }, tobias: { label: Tobias, trackers: [2] } }
zones: { stove: { circle: { centre: [2, 6], radius: 2 } } }
fixtures:
  plain: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 30 } }
  merged: { profile: dimmer, universe: 1, address: 2, safe: { Dimmer: 30 } }
  hidden: { profile: dimmer, universe: 1, address: 3, safe: { Dimmer: 30 } }
  windy: { profile: dimmer, universe: 1, address: 4, safe: { Dimmer: 15 } }
signals: { wind: { osc: { address: /sound/wind }, range: [0, 1] } }
mappings:
  - { name: room, zone: stove, fixtures: [plain, merged, hidden], set: { Dimmer: 18 } }
  - { name: hush, fixtures: [merged], set: { Dimmer: 100 }, mix: scale }
  - { name: over, fixtures: [hidden], set: { Dimmer: 60 }, priority: 1 }
  - { name: gust, by: wind, fixtures: [windy], set: { Dimmer: 90 } }
watchdog: { trackerSilent: { after: 0.2, fade: 0.5 }, feedSilent: { after: 9, fade: 0.4 }, return: 1 }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`;

test('who asks for as much, what is more, and what is not heard are called so', () => {
  const there = { 1: [2, 6], 2: [2.2, 6] } as const;
  const rig = new Rig(MERGED);
  const both = momentAfter(rig, 4, there);
  expect(whyOf(both, 'merged', 'room: Tobias')).toBe('another asks for as much');
  expect(whyOf(both, 'hidden', 'room: Ines')).toBe('another overrides it');
  expect(whyOf(both, 'hidden', 'room: Tobias')).toBe('another overrides it');
  // Never heard, it is no loss of anybody.
  expect(whyOf(both, 'windy', 'gust')).toMatch(/; wind is not heard$/);
  expect(whyOf(both, 'windy', 'merged')).toBe('the safe value: wind is not heard');
  const one = momentAfter(rig, 3, { 1: [2, 6] });
  expect(whyOf(one, 'plain', 'room: Ines')).toBe('the safe value is more');
  expect(whyOf(one, 'merged', 'merged')).toBe(
    'the safe value: by the least trust of those above; Tobias is lost (tracker silent)',
  );
  // Lost elsewhere, Tobias asks for nothing and is in none of the rows above.
  const away = new Rig(MERGED);
  momentAfter(away, 4, { 1: [2, 6], 2: [9, 1] });
  expect(whyOf(momentAfter(away, 3, { 1: [2, 6] }), 'merged', 'merged')).toBe(
    'the safe value: Tobias is lost (tracker silent)',
  );
});
