import { describe, expect, test } from 'vitest';
import { snapshot } from '../../../src/engine/snapshot.js';
import { Rig, TICK_HZ } from '../harness.js';
import { SOLO } from '../shows.js';

/** A head 5 m up over (5, 1), with everything that can be held. */
const RICH = SOLO.replace(
  'zones:',
  `profiles:
  rich:
    optics: { beamRadius: 0.05 }
    channels:
      - { attribute: Pan, bits: 16, range: [-270, 270] }
      - { attribute: Tilt, bits: 16, range: [-135, 135] }
      - { attribute: Dimmer, bits: 16 }
      - { attribute: Zoom, bits: 16, range: [5, 60], default: 20 }
      - { attribute: Iris, bits: 16, default: 100 }
      - { attribute: Focus1, bits: 16 }
zones:`,
).replace('profile: moving-head', 'profile: rich');

const following = (options: string, dimmer = 40) =>
  RICH.replace(
    'follow: ines, fixtures: [head], set: { Dimmer: 75 }',
    `follow: ines, fixtures: [head], ${options}, set: { Dimmer: ${dimmer} }`,
  );

const aimOf = (rig: Rig) => {
  const aim = snapshot(rig.view).fixtures.find(one => one.name === 'head')?.aim;
  if (aim === undefined) throw new Error('the head follows nobody');
  return aim;
};

/** Throws from (5, 1, 5) to a point 1.6 m up: 3.4 m down and so far upstage. */
const upstageFor = (throwM: number) => 1 + Math.sqrt(throwM ** 2 - 3.4 ** 2);
const at = (throwM: number) => ({ 1: [5, upstageFor(throwM), 1.6] as const });

describe('beam size', () => {
  test('zoom holds it as the throw changes', () => {
    const rig = new Rig(following('beam: { diameter: 2 }')).run(4, at(4));
    // 2 m less the 10 cm that the beam begins with: 2 atan(0.95 / 4) = 26.72 degrees.
    expect(rig.level('head', 'Zoom')).toBeCloseTo(26.72, 1);
    expect(aimOf(rig).beamM).toBeCloseTo(2, 2);
    rig.run(3, t => at(Math.min(7, 4 + t))).run(3, at(7));
    expect(aimOf(rig).throwM).toBeCloseTo(7, 1);
    expect(rig.level('head', 'Zoom')).toBeCloseTo(2 * (Math.atan(0.95 / 7) / Math.PI) * 180, 1);
    expect(aimOf(rig).beamM).toBeCloseTo(2, 2);
  });

  test('no faster than the zoom can go, where its profile says so', () => {
    const slow = following('beam: { diameter: 2 }').replace(
      'optics: { beamRadius: 0.05 }',
      'optics: { beamRadius: 0.05 }\n    motion: { zoom: { speed: 2 } }',
    );
    const rig = new Rig(slow).run(8, at(6));
    let [last, most] = [rig.level('head', 'Zoom'), 0];
    // 2 m/s towards the head ask for some 7 degrees a second.
    const come = (t: number) => at(Math.max(4, 6 - 2 * t));
    rig.run(3, come, one => {
      const now = one.level('head', 'Zoom');
      most = Math.max(most, Math.abs(now - last) * TICK_HZ);
      last = now;
    });
    // And the step of 16 bits over 55 degrees.
    expect(most).toBeGreaterThan(1.9);
    expect(most).toBeLessThan(2 + (55 / 65535) * TICK_HZ);
    rig.run(4, at(4));
    expect(rig.level('head', 'Zoom')).toBeCloseTo(26.72, 1);
  });

  test('iris holds it, per cent of the open beam', () => {
    const rig = new Rig(following('beam: { diameter: 1, by: iris }')).run(4, at(6));
    // Open, 20 degrees are 0.1 + 12 tan(10 degrees) = 2.216 m across at 6 m.
    expect(rig.level('head', 'Iris')).toBeCloseTo(100 / 2.216, 0);
    expect(rig.level('head', 'Zoom')).toBeCloseTo(20, 1);
    expect(aimOf(rig).beamM).toBeCloseTo(1, 2);
  });

  test('left alone, nothing is touched', () => {
    const rig = new Rig(RICH).run(4, at(6));
    expect(rig.level('head', 'Zoom')).toBeCloseTo(20, 1);
    expect(rig.level('head', 'Iris')).toBe(100);
    expect(aimOf(rig)).toMatchObject({ beamM: undefined, intensityFactor: undefined });
  });
});

describe('illuminance', () => {
  const held = following('compensate: { reference: 6, least: 0.3 }');

  test('follows the inverse square of the throw', () => {
    const rig = new Rig(held).run(4, at(6));
    expect(rig.level('head')).toBeCloseTo(40, 0);
    rig.run(3, t => at(6 - Math.min(2, t))).run(3, at(4));
    // (4 / 6)^2
    expect(rig.level('head')).toBeCloseTo(40 * (4 / 6) ** 2, 0);
    expect(aimOf(rig).intensityFactor).toBeCloseTo((4 / 6) ** 2, 2);
  });

  test('within its bounds, and never beyond full', () => {
    expect(
      new Rig(following('compensate: { reference: 12, least: 0.3 }')).run(4, at(4)).level('head'),
    ).toBeCloseTo(12, 0);
    expect(
      new Rig(following('compensate: { reference: 3 }')).run(4, at(7)).level('head'),
    ).toBeCloseTo(80, 0);
    expect(new Rig(following('compensate: { reference: 3 }', 75)).run(4, at(7)).level('head')).toBe(
      100,
    );
  });

  test('does not keep a lost performer in the light', () => {
    const rig = new Rig(held).run(4, at(6)).run(5);
    expect(rig.level('head')).toBe(0);
  });
});

test('focus goes by the distance, evenly in 1 / metres', () => {
  const rig = new Rig(following('focus: [[4, 80], [8, 40]]')).run(4, at(6));
  expect(rig.level('head', 'Focus1')).toBeCloseTo(80 - (2 / 3) * 40, 0);
});

describe('where on the performer', () => {
  // 1.7 m tall, the tracker at 1.35 m.
  const part = (name: string) =>
    following(`part: ${name}`).replace(
      'ines: { trackers: [1] }',
      'ines: { trackers: [1], height: 1.7, wornAt: 1.35 }',
    );

  test.each([
    ['head', 0.935 * 1.7],
    ['chest', 0.72 * 1.7],
    ['floor', 0],
  ])('%s', (name, z) => {
    const rig = new Rig(part(name)).run(5, { 1: [4, 5, 1.35] });
    expect(rig.beamMisses('head', [4, 5, z])).toBeLessThan(0.02);
  });

  test('on a platform the parts are as much higher', () => {
    const rig = new Rig(part('floor')).run(5, { 1: [4, 5, 1.95] });
    expect(rig.beamMisses('head', [4, 5, 0.6])).toBeLessThan(0.02);
  });

  test('ahead of the movement by as far as they go in that time', () => {
    const walk = (t: number) => ({ 1: [2 + t, 5, 1.35] as const });
    const rig = new Rig(following('ahead: 0.5')).run(4, walk(0)).run(4, walk);
    const { x, vx } = rig.view.performers[0]?.estimate ?? { x: 0, vx: 0 };
    expect(vx).toBeGreaterThan(0.7);
    expect(rig.beamMisses('head', [x + 0.5 * vx, 5, 1.35])).toBeLessThan(0.03);
    // A metre at most.
    const far = new Rig(following('ahead: 5')).run(4, walk(0)).run(4, walk);
    const one = far.view.performers[0]?.estimate ?? { x: 0, vx: 0 };
    expect(far.beamMisses('head', [one.x + 1, 5, 1.35])).toBeLessThan(0.03);
  });
});

test('a head that is late is sent where the performer will be by then', () => {
  const late = RICH.replace('position: [5, 1, 5]', 'position: [5, 1, 5], lag: 0.2');
  const walk = (t: number) => ({ 1: [2 + t, 5, 1.6] as const });
  const rig = new Rig(late).run(4, walk(0)).run(4, walk);
  const { x, vx } = rig.view.performers[0]?.estimate ?? { x: 0, vx: 0 };
  const lead = rig.light('head').follows?.estimate;
  // The velocity dies out: less than 0.2 s of it, and more than half.
  expect((lead?.x ?? 0) - x).toBeGreaterThan(0.1 * vx);
  expect((lead?.x ?? 0) - x).toBeLessThan(0.2 * vx);
  expect(rig.beamMisses('head', [lead?.x ?? 0, 5, 1.6])).toBeLessThan(0.02);
  expect(aimOf(rig)).toMatchObject({ performer: 'ines', lagS: 0.2, stage: 'live', turning: false });
  expect(aimOf(rig).behindDeg).toBeLessThan(0.01);
});
