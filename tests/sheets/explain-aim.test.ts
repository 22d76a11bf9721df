import { describe, expect, test } from 'vitest';
import { explainAim } from '../../src/sheets/explain-aim.js';
import type { Show } from '../../src/show/model/model.js';
import { parseShow } from '../../src/show/parse.js';
import { vec3 } from '../../src/stage/vector.js';

const SHOW = `
lampwright: 1
name: Aims
stage: { x: [0, 10], y: [0, 8] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
  ines: { trackers: [1] }
profiles:
  spot:
    optics: { luminousFlux: 10000 }
    motion: { pan: { speed: 90 }, tilt: { speed: 90, acceleration: 360 } }
    channels:
      - { attribute: Pan, bits: 16, range: [-270, 270], slots: [2, 1] }
      - { attribute: Tilt, range: [-127.5, 127.5], slots: [3] }
      - { attribute: Dimmer, slots: [4] }
      - { attribute: Zoom, range: [10, 50], default: 30 }
  beam:
    optics: { beamAngle: 10 }
    channels:
      - { attribute: Pan, range: [0, 255] }
      - { attribute: Tilt, range: [0, 255] }
fixtures:
  spot: { profile: spot, universe: 7, address: 101, position: [5, 4, 6] }
  low: { profile: beam, universe: 7, address: 201, position: [5, 4, 6] }
mappings:
  - { follow: ines, fixtures: [spot], set: { Zoom: 25 } }
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [7] }
`;

function show(text = SHOW): Show {
  const result = parseShow(text, 'aims.show.yaml');
  if (!result.ok) throw new Error(result.problems.map(problem => problem.message).join('\n'));
  return result.show;
}

const aimIn = (text: string) => aimOf('spot', [5, 10, 0], {}, text);
const spotBase = () => aimIn(SHOW).beam ?? { diameterM: 0 };

function aimOf(
  name: 'spot' | 'low',
  point: readonly [number, number, number],
  more = {},
  text = SHOW,
) {
  const loaded = show(text);
  const fixture = loaded.fixtures.find(one => one.name === name);
  if (fixture === undefined) throw new Error(name);
  return explainAim(loaded, fixture, {
    point: vec3(...point),
    velocity: vec3(0, 0, 0),
    from: undefined,
    zoomDeg: undefined,
    ...more,
  });
}

describe('one aim, worked by hand', () => {
  // 6 m up, 6 m upstage: throw 6 sqrt(2), tilt 45 with pan 0.
  const explained = aimOf('spot', [5, 10, 0]);

  test('angles, throw and both ways round', () => {
    expect(explained.throwM).toBeCloseTo(6 * Math.SQRT2, 9);
    expect(explained.panDeg).toBeCloseTo(0, 9);
    expect(explained.tiltDeg).toBeCloseTo(45, 9);
    expect(explained.reachable).toBe(true);
    expect(explained.solutions.map(one => [one.way, Math.round(one.panDeg)])).toEqual([
      ['front', -0],
      ['over', -180],
      ['over', 180],
    ]);
    // 180 degrees at 90 a second, without a limit of acceleration.
    expect(explained.solutions[1]?.travelS).toBeCloseTo(2, 9);
    expect(explained.why).toBe('the shortest way from where the head is');
  });

  test('slots, in the order of the profile', () => {
    // Pan 0 of -270 to 270 is half of 65535, 32768 rounded: 128 coarse in slot 102, 0 fine in slot 101.
    expect(explained.slots[0]).toEqual({
      attribute: 'Pan',
      raw: 32768,
      universe: 7,
      addresses: [102, 101],
      levels: [128, 0],
    });
    // Tilt in steps of a degree from -127.5: 172.5 is between two, and rounds up.
    expect(explained.slots[1]).toMatchObject({ raw: 173, addresses: [103], levels: [173] });
  });

  test('what rounding costs at the point', () => {
    // Half a degree of tilt over 8.485 m: 74 mm; pan's part is a thousandth of it.
    expect(explained.roundingM).toBeCloseTo(0.074, 3);
  });

  test('beam and light', () => {
    // As it follows: 25 degrees; 2 * 8.485 * tan(12.5 degrees).
    expect(explained.beam).toEqual({
      angleDeg: 25,
      source: 'follow',
      diameterM: expect.closeTo(3.762, 3),
    });
    // 10 000 lm in 25 degrees are 67 143 cd (standards of photometry); 72 m2; at 45 degrees on the floor.
    expect(explained.light?.intensityCd).toBeCloseTo(67_143, 0);
    expect(explained.light?.facingLx).toBeCloseTo(67_143 / 72, 1);
    expect(explained.light?.levelLx).toBeCloseTo(67_143 / 72 / Math.SQRT2, 1);
  });

  test('how far the pole is', () => {
    expect(explained.pole.offAxisM).toBeCloseTo(6, 9);
    // sqrt(5) * 1.4 / (0.9 * pi / 2), by speed alone.
    expect(explained.pole.regionM).toBeCloseTo((Math.sqrt(5) * 1.4) / (0.45 * Math.PI), 9);
  });
});

describe('what is asked', () => {
  test('where the head comes from decides', () => {
    const { panDeg } = aimOf('spot', [5, 10, 0], { from: { panDeg: 170, tiltDeg: -40 } });
    expect(panDeg).toBeCloseTo(180, 9);
  });

  test('what comes next may decide too', () => {
    // Nearer to 180, but on the move towards the end of pan.
    const more = { from: { panDeg: 100, tiltDeg: 0 }, velocity: vec3(-1, 0, 0) };
    const { panDeg, why, solutions } = aimOf('spot', [5, 10, 0], more);
    expect(panDeg).toBeCloseTo(0, 9);
    expect(solutions[0]?.costS).toBeLessThan(solutions[1]?.costS ?? 0);
    expect(why).toBe('farther to go than the next, but with more room before pan comes to its end');
  });

  test('zoom as asked', () => {
    expect(aimOf('spot', [5, 10, 0], { zoomDeg: 40 }).beam).toMatchObject({
      angleDeg: 40,
      source: 'asked',
    });
  });
});

describe('an iris, and a shutter', () => {
  const base = spotBase();
  const withIris = (iris: string, follow = '{ Zoom: 25 }') =>
    aimIn(
      SHOW.replace(
        'default: 30 }',
        'default: 30 }\n      - { attribute: Iris, range: [0, 100], default: 100 }\n      - { attribute: Shutter1, values: { closed: [0, 9], open: [10, 19] }, default: open }',
      )
        .replace('position: [5, 4, 6] }\n  low', `position: [5, 4, 6], base: ${iris} }\n  low`)
        .replace('set: { Zoom: 25 }', follow.includes('beam') ? follow : `set: ${follow}`),
    );

  test('open, it is the beam of the Zoom', () => {
    expect(withIris('{}')).toMatchObject({ beam: base, shut: null });
  });

  test('an iris makes it narrower, and leaves the middle as bright', () => {
    const half = withIris('{ Iris: 50 }');
    expect(half.beam).toMatchObject({ irisPercent: 50 });
    expect(half.beam?.diameterM).toBeCloseTo((base.diameterM ?? 0) / 2, 9);
    expect(half.light?.intensityCd).toBeCloseTo(67_143, 0);
    // 2 m of 3.762.
    const held = withIris('{ Iris: 0 }', 'beam: { diameter: 2, by: iris }, set: { Zoom: 25 }');
    expect(held.beam).toMatchObject({
      diameterM: expect.closeTo(2, 9),
      irisPercent: expect.closeTo(53.16, 2),
    });
    expect(held.shut).toBeNull();
  });

  test('closed, there is no light to tell', () => {
    const shut = withIris('{ Shutter1: closed }');
    expect(shut).toMatchObject({ shut: 'its Shutter1 is closed (its base value)', light: null });
    expect(withIris('{ Iris: 0 }').shut).toBe('its Iris is at 0 (its base value)');
    expect(withIris('{ Shutter1: closed }', '{ Zoom: 25, Shutter1: open }').shut).toBeNull();
    const followed = withIris('{}', '{ Zoom: 25, Shutter1: closed }');
    expect(followed.shut).toBe('its Shutter1 is closed (as following)');
  });
});

describe('out of the ordinary', () => {
  test('out of reach', () => {
    // Pan 0 to 255 and tilt 0 to 255: up and to the front is beyond both.
    const { reachable, missedByDeg, why, solutions } = aimOf('low', [8, 4.001, 6.5]);
    expect(reachable).toBe(false);
    expect(missedByDeg).toBeGreaterThan(0);
    expect(solutions).toEqual([]);
    expect(why).toContain('out of reach');
  });

  test('the head itself has no direction', () => {
    const { reachable, why, throwM } = aimOf('low', [5, 4, 6]);
    expect(reachable).toBe(false);
    expect(throwM).toBe(0);
    expect(why).toContain('no direction');
  });

  test('without a Zoom the profile says the beam, and without a flux there is no light to tell', () => {
    const explained = aimOf('low', [5, 9, 1]);
    expect(explained.beam).toMatchObject({ angleDeg: 10, source: 'profile' });
    expect(explained.light).toBeNull();
  });
});

describe('a point that a keep-out is in the way of', () => {
  const kept = (radius: number) =>
    SHOW.replace(
      'profiles:',
      `keepOut: { camera: { point: [5, 8, 3], radius: ${radius}, fixtures: [spot] } }\nprofiles:`,
    );

  test('is one where no light comes out', () => {
    // The camera is in the middle of the way from the head to the point; half of the beam is 12.5 degrees.
    expect(aimIn(kept(0.1)).shut).toBe(
      'its beam is in keep-out "camera", or within a degree of it',
    );
    const beside = aimOf('spot', [5, 4, 0], {}, kept(0.1));
    expect(beside.shut).toBeNull();
    // Seen from the head the camera is 53 degrees off the way straight down.
    const wide = aimOf('spot', [5, 4, 0], { zoomDeg: 120 }, kept(0.1));
    expect(wide.shut).toContain('keep-out "camera"');
  });
});

test('straight below a head both ways round are one', () => {
  expect(aimOf('spot', [5, 4, 0])).toMatchObject({
    solutions: [{ tiltDeg: 0, way: 'front' }],
    why: 'on the pan axis every pan will do: pan stays where it is',
  });
});
