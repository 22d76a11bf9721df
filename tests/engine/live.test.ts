import { describe, expect, test } from 'vitest';
import { snapshot } from '../../src/engine/snapshot.js';
import { position, Rig } from './harness.js';
import { HOUSE, SOLO } from './shows.js';

const STOVE = [2, 6] as const;
const CENTRE = [5, 4] as const;
const WINDOW = [8.2, 7] as const;

/** Solo with a head that can't turn far. */
const SHORT_REACH = SOLO.replace(
  'zones:',
  `profiles:
  short: { channels: [{ attribute: Pan, range: [-30, 30] }, { attribute: Tilt, range: [0, 40] }, { attribute: Dimmer }] }
zones:`,
).replace('profile: moving-head', 'profile: short');

describe('a position in a zone', () => {
  test('raises the practical over the fade, and leaving lowers it over the other', () => {
    const rig = new Rig(SOLO).run(4, { 1: CENTRE });
    expect(rig.phase('ines')).toBe('live');
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);

    // A tracker is carried there at 2 m/s; then the level rises to full and stays.
    walk(rig, CENTRE, STOVE);
    rig.run(1.5, { 1: STOVE });
    expect(rig.level('stove-glow')).toBeCloseTo(85, 0);

    walk(rig, STOVE, CENTRE);
    // Fading out from full takes 1 s: soon after leaving it is on its way, later at its base.
    rig.run(1.5, { 1: CENTRE });
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);
    expect(rig.eventsOf('zone').map(event => event.inside)).toEqual([true, false]);
  });

  test('changes no faster than the fade times', () => {
    const rig = new Rig(SOLO).run(4, { 1: CENTRE });
    let before = rig.light('stove-glow').values[0] as number;
    let rose = 0;
    let fell = 0;
    const measure = () => {
      const now = rig.light('stove-glow').values[0] as number;
      rose = Math.max(rose, now - before);
      fell = Math.max(fell, before - now);
      before = now;
    };
    walk(rig, CENTRE, STOVE, measure);
    rig.run(1, { 1: STOVE }, measure);
    walk(rig, STOVE, CENTRE, measure);
    rig.run(2, { 1: CENTRE }, measure);
    // 85 per cent in 0.5 s up and 1 s down, at 40 ticks a second.
    expect(rose).toBeGreaterThan(0);
    expect(rose).toBeLessThanOrEqual(85 / 0.5 / 40 + 1e-9);
    expect(fell).toBeLessThanOrEqual(85 / 1 / 40 + 1e-9);
  });
});

describe('a curve that asks for light where nobody is', () => {
  test('lights from the start, and goes down as somebody comes in', () => {
    const inverse = SOLO.replace(
      'set: { Dimmer: 85 },',
      'set: { Dimmer: 85 }, curve: [[0, 1], [1, 0]],',
    );
    const rig = new Rig(inverse).run(5, { 1: CENTRE });
    expect(rig.level('stove-glow')).toBeCloseTo(85, 0);
    walk(rig, CENTRE, STOVE);
    rig.run(2, { 1: STOVE });
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);
    walk(rig, STOVE, CENTRE);
    rig.run(2, { 1: CENTRE });
    expect(rig.level('stove-glow')).toBeCloseTo(85, 0);
  });
});

describe('a head that follows', () => {
  test('meets the performer with its beam wherever they stand', () => {
    const rig = new Rig(SOLO).run(4, { 1: CENTRE });
    let at: readonly [number, number] = CENTRE;
    for (const next of [STOVE, WINDOW, [1, 1], [9, 2]] as const) {
      walk(rig, at, next);
      rig.run(1.5, { 1: next });
      // 16 bits over 540 degrees are 0.008 degrees: 1 mm at 8 m; the rest is the filter settling.
      expect(rig.beamMisses('head', [next[0], next[1], 1.6])).toBeLessThan(0.02);
      expect(rig.level('head')).toBeCloseTo(75, 1);
      at = next;
    }
  });

  test('aims at the offset from the performer', () => {
    const rig = new Rig(SOLO.replace('follow: ines,', 'follow: ines, offset: [0.5, -0.25, -0.6],'));
    rig.run(5, { 1: [4, 5, 1.6] });
    expect(rig.beamMisses('head', [4.5, 4.75, 1])).toBeLessThan(0.02);
  });

  test('is ahead of a walking performer by the latencies', () => {
    const late = SOLO.replace(
      'watchdog:',
      'tracking: { sensorLatency: 0.2, outputLatency: 0.1 }\nwatchdog:',
    );
    const aheadOf = (yaml: string) => {
      const rig = new Rig(yaml).run(4, { 1: [2, 4] });
      // 1 m/s to stage left; the report of each tick is 0.2 s old and the light 0.1 s away.
      rig.run(4, t => ({ 1: [2 + t, 4] }));
      const reportedX = 2 + 4 - 1 / 40;
      return (rig.view.performers[0]?.estimate.x ?? 0) - reportedX;
    };
    const neededM = 1 / 40 + 0.3;
    // The velocity dies out: the longest-lived, a walk's, in 1 / (1 / 4 s + 0.15 s/m² (1 m/s)²) = 2.5 s, so 1 m/s
    // carries 2.5 (1 - exp(-0.325 / 2.5)) = 0.305 m, less the lag of a filter that takes reports to scatter by 0.15 m.
    const usual = aheadOf(late);
    expect(usual).toBeGreaterThan(0.5 * neededM);
    expect(usual).toBeLessThan(0.305);
    // Told that the sensor is clean, it lags less.
    const clean = aheadOf(late.replace('tracking: {', 'tracking: { noise: 0.03,'));
    expect(clean).toBeGreaterThan(usual);
    expect(clean).toBeLessThan(0.305);
  });

  test('the snapshot says how far ahead the light is, and what of', () => {
    const yaml = SOLO.replace(
      'watchdog:',
      'tracking: { sensorLatency: 0.18, outputLatency: 0.05 }\nwatchdog:',
    );
    const rig = new Rig(yaml).run(2, { 1: [2, 4] });
    const { performers } = snapshot(rig.view);
    const { sensorS, waitS, outputS, totalS } = performers[0]?.horizon ?? {};
    expect(sensorS).toBeCloseTo(0.18, 9);
    expect(waitS).toBeCloseTo(1 / 40, 9);
    expect(outputS).toBe(0.05);
    expect(totalS).toBeCloseTo(0.18 + 1 / 40 + 0.05, 9);
  });

  test('says that a point is out of its reach, and that it is back, once each', () => {
    const rig = new Rig(SHORT_REACH).run(4, { 1: [5, 3] });
    expect(rig.eventsOf('reach')).toEqual([]);
    walk(rig, [5, 3], [5, 7.5]);
    rig.run(1, { 1: [5, 7.5] });
    expect(rig.eventsOf('reach').map(event => event.reachable)).toEqual([false]);
    walk(rig, [5, 7.5], [5, 3]);
    rig.run(1, { 1: [5, 3] });
    expect(rig.eventsOf('reach').map(event => event.reachable)).toEqual([false, true]);
  });

  test('says that a point is out of its reach from the first look at it', () => {
    const rig = new Rig(SHORT_REACH).run(4, { 1: [5, 7.5] });
    const reach = rig.eventsOf('reach');
    expect(reach.map(event => event.reachable)).toEqual([false]);
    expect(reach[0]?.missedByDeg).toBeGreaterThan(1);
  });
});

describe('several performers on one fixture', () => {
  test('the highest intensity wins (HTP)', () => {
    const rig = new Rig(HOUSE).run(5, { 1: STOVE, 2: WINDOW });
    // Ines asks 60 of the wash, Tobias 90.
    expect(rig.level('window-wash')).toBeCloseTo(90, 0);
    walk(rig, WINDOW, CENTRE, undefined, '2', { 1: STOVE });
    rig.run(3, { 1: STOVE, 2: CENTRE });
    expect(rig.level('window-wash')).toBeCloseTo(60, 0);
  });

  test('of all else the latest wins (LTP), and gives way again', () => {
    const rig = new Rig(HOUSE).run(5, { 1: CENTRE, 2: CENTRE });
    expect(rig.level('head', 'ColorAdd_R')).toBeCloseTo(50, 0);
    walk(rig, CENTRE, WINDOW, undefined, '2', { 1: CENTRE });
    rig.run(2, { 1: CENTRE, 2: WINDOW });
    expect(rig.level('head', 'ColorAdd_R')).toBeCloseTo(0, 0);
    walk(rig, WINDOW, CENTRE, undefined, '2', { 1: CENTRE });
    rig.run(3, { 1: CENTRE, 2: CENTRE });
    expect(rig.level('head', 'ColorAdd_R')).toBeCloseTo(50, 0);
  });

  test('whoever is reported by none of the trackers of the show changes nothing', () => {
    const rig = new Rig(HOUSE).run(4, { 1: CENTRE });
    const before = rig.level('window-wash');
    rig.run(2, { 1: CENTRE, 99: WINDOW });
    expect(rig.level('window-wash')).toBe(before);
    expect(rig.view.counters.drops['unknown-tracker']).toBe(80);
  });
});

describe('where a feed lies on the stage', () => {
  test('origin and turn place it', () => {
    // Turned a quarter anticlockwise: x of the feed is upstage, y of the feed is stage right.
    const turned = SOLO.replace('port: 9010', 'port: 9010\n    origin: [4, 2, 0.5]\n    turn: 90');
    const rig = new Rig(turned);
    rig.run(5, { 1: [3, 1, 1] });
    expect(firstPlace(rig, 6)).toEqual([3, 5, 1.5]);
    expect(rig.beamMisses('head', [3, 5, 1.5])).toBeLessThan(0.02);
  });

  test('tilted and scaled: about x first, then y, then z', () => {
    const tilted = SOLO.replace(
      'port: 9010',
      'port: 9010\n    origin: [3, 3, 1]\n    turn: { x: 90, z: 90 }\n    scale: 1.1',
    );
    // [2, 1, 1] turned about x: [2, -1, 1]; then about z: [1, 2, 1]; in metres of the stage: [1.1, 2.2, 1.1].
    const rig = new Rig(tilted).run(5, { 1: [2, 1, 1] });
    expect(firstPlace(rig, 4)).toEqual([4.1, 5.2, 2.1]);
  });

  test('unit and axes read it: millimetres, y up and z to the audience', () => {
    const other = SOLO.replace('position" }]', 'position", unit: mm, axes: [x, -z, y] }]');
    const rig = new Rig(other).run(5, { 1: [3000, 1700, -5000] });
    expect(firstPlace(rig, 4)).toEqual([3, 5, 1.7]);
  });

  test('two trackers of one performer make one estimate', () => {
    const two = SOLO.replace('trackers: [1]', 'trackers: [1, left]');
    const rig = new Rig(two).run(5, { 1: [3, 5], left: [3.1, 5] });
    expect(rig.view.performers[0]?.estimate.x).toBeGreaterThan(3);
    expect(rig.view.performers[0]?.estimate.x).toBeLessThan(3.1);
    // One of them falls silent: the performer is tracked all the same.
    rig.run(2, { left: [3.1, 5] });
    expect(rig.phase('ines')).toBe('live');
  });

  test('positions in one bundle all count', () => {
    const rig = new Rig(HOUSE);
    for (let i = 0; i < 200; i++) {
      rig.send({
        timeTag: 'immediately',
        elements: [position('1', CENTRE), position('2', WINDOW)],
      });
      rig.tick();
    }
    expect(rig.phase('ines')).toBe('live');
    expect(rig.phase('tobias')).toBe('live');
  });
});

/** Where the first performer is, metres to so many decimals. */
function firstPlace(rig: Rig, decimals: number): number[] {
  const { x, y, z } = rig.view.performers[0]?.estimate ?? { x: 0, y: 0, z: 0 };
  return [x, y, z].map(value => Math.round(value * 10 ** decimals) / 10 ** decimals);
}

/** Carries a tracker along a straight line at 2 m/s. */
function walk(
  rig: Rig,
  from: readonly [number, number],
  to: readonly [number, number],
  after: () => void = () => {},
  tracker = '1',
  others: Record<string, readonly [number, number]> = {},
): void {
  const seconds = Math.hypot(to[0] - from[0], to[1] - from[1]) / 2;
  rig.run(
    seconds,
    t => {
      const share = t / seconds;
      const at = [
        from[0] + share * (to[0] - from[0]),
        from[1] + share * (to[1] - from[1]),
      ] as const;
      return { ...others, [tracker]: at };
    },
    after,
  );
}
