import { describe, expect, test } from 'vitest';
import { type Place, Rig, TICK_HZ } from '../harness.js';
import { HOUSE, SOLO } from '../shows.js';

const STOVE = [2, 6] as const;
const WINDOW = [8.2, 7] as const;
const CENTRE = [5, 4] as const;

/** 180 degrees a second where the profile says nothing, and the step of 16 bits over 540 degrees. */
const MOST_PER_TICK = 180 / TICK_HZ + 540 / 65535;

interface Seen {
  readonly pan: number;
  readonly tilt: number;
  readonly dimmer: number;
}

/** What goes out of a head, tick by tick. */
function watched(rig: Rig, name: string) {
  const seen: Seen[] = [];
  const look = () => {
    seen.push({
      pan: rig.level(name, 'Pan'),
      tilt: rig.level(name, 'Tilt'),
      dimmer: rig.level(name),
    });
  };
  /** Largest step of pan and of tilt from one tick to the next, and of those while it gives light. */
  const steps = () => {
    let [any, lit] = [0, 0];
    for (let i = 1; i < seen.length; i++) {
      const [before, now] = [seen[i - 1] as Seen, seen[i] as Seen];
      const step = Math.max(Math.abs(now.pan - before.pan), Math.abs(now.tilt - before.tilt));
      any = Math.max(any, step);
      if (before.dimmer > 0 || now.dimmer > 0) lit = Math.max(lit, step);
    }
    return { any, lit };
  };
  return { seen, look, steps };
}

describe('speed', () => {
  test('no head is sent faster than it can go: to its performer, after them, and to the safe look', () => {
    const rig = new Rig(SOLO);
    const { look, steps } = watched(rig, 'head');
    rig.run(3, { 1: [1, 7] }, look).run(4, t => ({ 1: [1 + 2 * t, 7 - 1.5 * t] }), look);
    rig.run(6, {}, look);
    expect(steps().any).toBeLessThanOrEqual(MOST_PER_TICK);
    expect(steps().any).toBeGreaterThan(2);
  });

  test('a slow head is waited for: its light comes up when it is there', () => {
    const slow = SOLO.replace(
      'zones:',
      `profiles:
  slow:
    motion: { pan: { speed: 20, acceleration: 40 }, tilt: { speed: 20, acceleration: 40 } }
    channels: [{ attribute: Pan, bits: 16, range: [-270, 270] }, { attribute: Tilt, bits: 16, range: [-135, 135] }, { attribute: Dimmer }]
zones:`,
    ).replace('profile: moving-head', 'profile: slow');
    const rig = new Rig(slow);
    const { seen, look, steps } = watched(rig, 'head');
    rig.run(8, { 1: STOVE }, look);
    expect(steps().any).toBeLessThanOrEqual(20 / TICK_HZ + 540 / 65535);
    // From straight upstage to (-3, 5, -3.4): pan 31 degrees, 2 s, beyond the second that `move` gives.
    const lit = seen.findIndex(({ dimmer }) => dimmer > 0);
    expect(lit).toBeGreaterThan(0);
    expect(Math.abs((seen[lit]?.pan ?? 0) - (seen.at(-1)?.pan ?? 0))).toBeLessThan(1);
  });
});

describe('pan at its end', () => {
  // A head over the middle of the stage; somebody walks round below it.
  const above = SOLO.replace('position: [5, 1, 5]', 'position: [5, 4, 5]');
  const round = (turnDegrees: number): Place => {
    const angle = (turnDegrees * Math.PI) / 180;
    return [5 - 2.5 * Math.sin(angle), 4 + 2.5 * Math.cos(angle), 1.6];
  };

  test('the head goes dark, turns back, and comes up again on the performer', () => {
    const rig = new Rig(above).run(4, { 1: round(0) });
    const { seen, look, steps } = watched(rig, 'head');
    // 30 degrees a second, 1.3 m/s, to 330 degrees: past 270.
    rig.run(11, t => ({ 1: round(30 * t) }), look);
    const turns = rig.eventsOf('turn');
    expect(turns).toHaveLength(1);
    expect(turns[0]).toMatchObject({ fixture: 'head', performer: 'ines' });
    expect(Math.abs(turns[0]?.panDeg ?? 0)).toBeGreaterThan(270);
    // In the light it only ever went with the walk: 30 degrees a second, and the filter's noise.
    expect(steps().lit).toBeLessThan(3 * (30 / TICK_HZ));
    expect(steps().any).toBeLessThanOrEqual(MOST_PER_TICK);
    // Dark for as long as it takes, and no longer: half a second each way, and a turn of half a turn.
    const dark = seen.filter(({ dimmer }) => dimmer === 0).length / TICK_HZ;
    expect(dark).toBeGreaterThan(0.5);
    expect(dark).toBeLessThan(2.5);
    rig.run(2, { 1: round(330) });
    expect(rig.level('head')).toBeCloseTo(75, 0);
    expect(rig.beamMisses('head', [round(330)[0], round(330)[1], 1.6])).toBeLessThan(0.05);
  });

  test('a loss in the middle of a turn is a loss', () => {
    const rig = new Rig(above).run(4, { 1: round(0) });
    let t = 0;
    while (rig.eventsOf('turn').length === 0 && t < 12) {
      rig.run(1 / TICK_HZ, { 1: round(30 * t) });
      t += 1 / TICK_HZ;
    }
    rig.run(6, {});
    expect(rig.phase('ines')).toBe('safe');
    expect(rig.light('head').aim?.turning).toBe(false);
    expect(rig.level('head')).toBe(0);
    expect(rig.level('head', 'Pan')).toBeCloseTo(new Rig(above).level('head', 'Pan'), 9);
  });
});

describe('a performer walks under a head', () => {
  const above = SOLO.replace('position: [5, 1, 5]', 'position: [5, 4, 5]');

  test.each([0, 0.1, 0.3, 0.6])('past its axis at %d m, without a flip', missM => {
    const path = (t: number): Place => [2 + 1.2 * t, 4 + missM, 1.6];
    const rig = new Rig(above.replace('watchdog:', 'tracking: { noise: 0.02 }\nwatchdog:'));
    rig.run(4, { 1: path(0) });
    const { seen, look, steps } = watched(rig, 'head');
    let worstM = 0;
    rig.run(
      5,
      t => ({ 1: path(t) }),
      one => {
        look();
        const { x, y, z } = one.view.performers[0]?.estimate ?? { x: 0, y: 0, z: 0 };
        worstM = Math.max(worstM, one.beamMisses('head', [x, y, z]));
      },
    );
    expect(Math.min(...seen.map(({ dimmer }) => dimmer))).toBeCloseTo(75, 0);
    expect(steps().any).toBeLessThanOrEqual(MOST_PER_TICK);
    // A third of the reach, 0.42 m at 1.2 m/s, and as much again for a walk as the filter sees it.
    expect(worstM).toBeLessThan(0.3);
  });
});

describe('a head that zones aim', () => {
  const lit = HOUSE.replace(
    'zone: window, fixtures: [zone-head], set: { Dimmer: 50,',
    'zone: window, fixtures: [zone-head], set: { Dimmer: 60,',
  );

  test('turns from one aim to the other in the dark', () => {
    const rig = new Rig(lit).run(5, { 1: STOVE, 2: CENTRE });
    expect(rig.level('zone-head', 'Pan')).toBeCloseTo(60, 1);
    const { look, steps } = watched(rig, 'zone-head');
    // Ines stays at the stove; Tobias comes to the window: the later has it.
    rig.run(6, t => ({ 1: STOVE, 2: [5 + Math.min(3.2, t), 4 + Math.min(3, t)] }), look);
    expect(rig.level('zone-head', 'Pan')).toBeCloseTo(-60, 1);
    expect(rig.level('zone-head', 'Tilt')).toBeCloseTo(40, 1);
    expect(rig.level('zone-head')).toBeCloseTo(70, 0);
    expect(steps().any).toBeGreaterThan(2);
    expect(steps().lit).toBe(0);
  });

  test('that gives no light turns at once, and comes up when it is there', () => {
    const rig = new Rig(lit).run(5, { 1: CENTRE, 2: CENTRE });
    expect(rig.level('zone-head')).toBe(0);
    const { seen, look, steps } = watched(rig, 'zone-head');
    rig.run(5, t => ({ 1: CENTRE, 2: [5 + Math.min(3.2, t), 4 + Math.min(3, t)] }), look);
    expect(steps().lit).toBe(0);
    expect(rig.level('zone-head', 'Pan')).toBeCloseTo(-60, 1);
    expect(seen.at(-1)?.dimmer).toBeCloseTo(60, 0);
  });

  test('comes back to its base aim in the dark as well', () => {
    const rig = new Rig(lit).run(5, { 1: CENTRE, 2: WINDOW });
    const { look, steps } = watched(rig, 'zone-head');
    rig.run(6, t => ({ 1: CENTRE, 2: [8.2 - Math.min(3.2, t), 7 - Math.min(3, t)] }), look);
    expect(rig.level('zone-head')).toBe(0);
    expect(steps().lit).toBe(0);
    expect(rig.level('zone-head', 'Pan')).toBeCloseTo(rig.light('zone-head').plan.base[0] ?? 0, 1);
  });
});
