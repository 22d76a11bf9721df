import { describe, expect, test } from 'vitest';
import { fitFrame } from '../../src/calibration/frame.js';
import type { FrameFit, FrameOptions, Marker } from '../../src/calibration/frame-data.js';
import { frameValues, placementOf } from '../../src/calibration/frame-report.js';
import { minus, type Placement, placed } from '../../src/calibration/rigid.js';
import { averageStanding } from '../../src/calibration/standing.js';
import { seededNormal } from '../../src/rehearsal/sensors/random.js';
import { IDENTITY, rotateBack, rotationFromTurns } from '../../src/stage/rotation.js';
import type { Degrees, Radians } from '../../src/stage/units.js';
import { toDegrees, toRadians } from '../../src/stage/units.js';
import { type Vec3, vec3 } from '../../src/stage/vector.js';

const deg = (value: number) => toRadians(value as Degrees);
const NOW: Placement = { origin: vec3(0, 0, 0), rotation: IDENTITY, scale: 1 };
const OPTIONS: FrameOptions = {
  now: NOW,
  fitScale: false,
  level: false,
  toleranceM: 0.15,
  bounds: { min: vec3(0, 0, -0.5), max: vec3(10, 8, 3) },
};
const TRUE: Placement = {
  origin: vec3(-0.6, 1.3, 0.1),
  rotation: rotationFromTurns(deg(0.8), deg(-0.5), deg(32)),
  scale: 1,
};
const PLACES = {
  origin: vec3(0, 0, 0),
  alongX: vec3(9, 0, 0),
  alongY: vec3(0, 7, 0),
  corner: vec3(8, 6.5, 0),
};

/** Where a stage point is in the tracking frame. */
function tracked(stage: Readonly<Vec3>, { origin, rotation, scale }: Placement = TRUE): Vec3 {
  const back = rotateBack(rotation, minus(stage, origin), vec3(0, 0, 0));
  return vec3(back.x / scale, back.y / scale, back.z / scale);
}

function markersOf(
  places: Readonly<Record<string, Vec3>>,
  change: (tracking: Vec3, name: string) => Vec3 = one => one,
  check: readonly string[] = [],
  frame = TRUE,
): Marker[] {
  return Object.entries(places).map(([name, stage]) => ({
    name,
    stage,
    tracking: change(tracked(stage, frame), name),
    errorM: 0,
    use: check.includes(name) ? 'check' : 'fit',
  }));
}

function fitOf(markers: readonly Marker[], changes: Partial<FrameOptions> = {}): FrameFit {
  const result = fitFrame(markers, { ...OPTIONS, ...changes });
  if (!result.ok) throw new Error(result.findings.map(one => one.code).join(', '));
  return result.fit;
}

function codesOf(markers: readonly Marker[], changes: Partial<FrameOptions> = {}): string[] {
  const result = fitFrame(markers, { ...OPTIONS, ...changes });
  return (result.ok ? result.fit : result).findings.map(one => one.code);
}

const shifted = (at: Vec3, dx: number, dy = 0, dz = 0) => vec3(at.x + dx, at.y + dy, at.z + dz);
const mirroredZ = (at: Vec3) => vec3(at.x, at.y, -at.z);
const ALL = { ...PLACES, high: vec3(5, 4, 1.5) };

describe('the frame of a stage', () => {
  test('from exact markers: exact, and the values of a show file say the same', () => {
    const { placement, rmsM, tilt, scale, findings } = fitOf(markersOf(ALL, one => one, ['high']));
    expect(findings).toEqual([]);
    expect(rmsM).toBeLessThan(1e-9);
    expect(scale.ratio).toBeCloseTo(1, 9);
    expect(toDegrees(tilt as Radians)).toBeCloseTo(Math.hypot(0.8, 0.5), 2);
    const values = frameValues(placement, false);
    expect(values).toEqual({
      origin: [-0.6, 1.3, 0.1],
      turn: { x: 0.8, y: -0.5, z: 32 },
      scale: 1,
    });
    const again = placementOf(values);
    for (const marker of markersOf(ALL)) {
      const off = minus(placed(again, marker.tracking), marker.stage);
      expect(Math.hypot(off.x, off.y, off.z)).toBeLessThan(1e-9);
    }
  });

  test('tells how far off the show is today', () => {
    const { markers } = fitOf(markersOf(PLACES));
    const origin = markers.find(one => one.name === 'origin');
    const at = tracked(PLACES.origin);
    expect(origin?.nowOffM).toBeCloseTo(Math.hypot(at.x, at.y, at.z), 12);
  });

  test('a scale in the show is kept, and only --scale fits another', () => {
    const stretched = { ...TRUE, scale: 1.02 };
    const markers = markersOf(ALL, one => one, ['high'], stretched);
    expect(codesOf(markers)).toContain('scale');
    expect(fitOf(markers, { fitScale: true }).placement.scale).toBeCloseTo(1.02, 9);
    expect(codesOf(markers, { fitScale: true })).toEqual([]);
    expect(codesOf(markers, { now: { ...NOW, scale: 1.02 } })).toEqual([]);
  });
});

describe('markers that can not be right', () => {
  const named = (name: string, dx: number) => (at: Vec3, one: string) =>
    one === name ? shifted(at, dx) : at;
  const swapped = (a: keyof typeof ALL, b: keyof typeof ALL) => (at: Vec3, name: string) =>
    name === a ? tracked(ALL[b]) : name === b ? tracked(ALL[a]) : at;
  const line = { a: vec3(0, 0, 0), b: vec3(4, 0.05, 0), c: vec3(9, 0, 0) };
  const heap = { a: vec3(0, 0, 0), b: vec3(0.2, 0, 0), c: vec3(0, 0.2, 0) };
  const triangle = { origin: vec3(0, 0, 0), alongX: vec3(6, 0, 0), alongY: vec3(0, 6, 0) };

  test.each<[string, readonly string[], readonly Marker[], Partial<FrameOptions>]>([
    ['two', ['few-markers'], markersOf({ a: vec3(0, 0, 0), b: vec3(5, 0, 0) }), {}],
    ['one line', ['markers-in-line'], markersOf(line), {}],
    ['one heap', ['markers-close'], markersOf(heap), {}],
    [
      'feet',
      ['unit'],
      markersOf(PLACES, ({ x, y, z }) => vec3(x / 0.3048, y / 0.3048, z / 0.3048)),
      {},
    ],
    [
      'millimetres',
      ['unit'],
      markersOf(PLACES, ({ x, y, z }) => vec3(1000 * x, 1000 * y, 1000 * z)),
      {},
    ],
    [
      'a tenth short',
      ['scale-far'],
      markersOf(PLACES, ({ x, y, z }) => vec3(0.9 * x, 0.9 * y, 0.9 * z)),
      {},
    ],
    [
      'two swapped of four',
      ['markers-swapped'],
      markersOf(PLACES, swapped('origin', 'alongX')),
      {},
    ],
    [
      'two swapped of a right triangle',
      ['markers-swapped'],
      markersOf(triangle, (at, name) =>
        name === 'alongX'
          ? tracked(triangle.alongY)
          : name === 'alongY'
            ? tracked(triangle.alongX)
            : at,
      ),
      {},
    ],
    [
      'two swapped, with a check',
      ['markers-swapped'],
      markersOf(ALL, swapped('alongX', 'corner'), ['high']),
      {},
    ],
    [
      'a left-handed feed',
      ['mirrored'],
      markersOf({ ...PLACES, high: vec3(5, 4, 2.5), low: vec3(1, 6, 2) }, mirroredZ),
      {},
    ],
    [
      'a left-handed feed over a floor',
      ['upside-down'],
      markersOf(PLACES, mirroredZ, [], {
        ...TRUE,
        rotation: rotationFromTurns(deg(180), deg(0), deg(20)),
      }),
      {},
    ],
    [
      'one of five off',
      ['marker-disagrees'],
      markersOf({ ...PLACES, more: vec3(5, 3, 0) }, named('more', 0.6)),
      {},
    ],
    [
      'two of five off',
      ['markers-disagree'],
      markersOf({ ...PLACES, more: vec3(5, 3, 0) }, (at, one) =>
        one === 'more' || one === 'corner' ? shifted(at, 0.5, one === 'more' ? 0.7 : -0.4) : at,
      ),
      {},
    ],
    ['the check', ['check-disagrees'], markersOf(ALL, named('high', 0.4), ['high']), {}],
    [
      'a steep floor',
      ['axes', 'no-check'],
      markersOf(ALL, one => one, [], {
        ...TRUE,
        rotation: rotationFromTurns(deg(90), deg(0), deg(0)),
      }),
      {},
    ],
    [
      'a raked floor',
      ['tilt', 'no-check'],
      markersOf(ALL, one => one, [], {
        ...TRUE,
        rotation: rotationFromTurns(deg(4), deg(0), deg(10)),
      }),
      {},
    ],
  ])('%s: %j', (_, codes, markers, options) => {
    expect(codesOf(markers, options)).toEqual(codes);
  });

  test('each says what is so and what to do', () => {
    const result = fitFrame(markersOf(PLACES, swapped('origin', 'alongX')), OPTIONS);
    const [finding] = result.ok ? result.fit.findings : result.findings;
    expect(finding).toMatchObject({
      level: 'error',
      what: expect.stringMatching(
        /^the markers fit within 0\.00 m if "origin" and "alongX" change places/,
      ),
      act: expect.stringMatching(/correct the names/),
    });
  });

  test('a line is enough for a level frame', () => {
    const level = { ...TRUE, rotation: rotationFromTurns(deg(0), deg(0), deg(-70)) };
    const { placement } = fitOf(
      markersOf(line, one => one, [], level),
      { level: true },
    );
    expect(frameValues(placement, true)).toEqual({ origin: [-0.6, 1.3, 0.1], turn: -70, scale: 1 });
  });

  test('ever so noisy markers never throw, and never give what is not finite', () => {
    for (let seed = 1; seed <= 200; seed++) {
      const normal = seededNormal(seed);
      const noisy = markersOf(ALL, at => shifted(at, 4 * normal(), 4 * normal(), 4 * normal()));
      const result = fitFrame(noisy, OPTIONS);
      if (!result.ok) continue;
      for (const value of [...result.fit.placement.rotation, result.fit.rmsM]) {
        expect(Number.isFinite(value)).toBe(true);
      }
    }
  });
});

/**
 * The measure of the frame fit: 4 markers, noise of 0.05 m (standard deviation of each axis of a report),
 * 10 s at 10 Hz. White, and coloured as radio positions are: 64 % of the variance a first-order
 * Gauss-Markov process with a memory of 0.4 s (what the recordings in tests/fixtures/data/tracking show).
 */
/** The middle of the stage, and its corners. */
const WHERE = [
  [5, 4],
  [0, 0],
  [10, 0],
  [10, 8],
  [0, 8],
].map(([x = 0, y = 0]) => vec3(x, y, 0));

describe('the measure: 4 markers with 0.05 m of noise, averaged 10 s', () => {
  test.each([
    ['white', 0],
    ['coloured', 0.64],
  ])('%s: at most 0.03 m and 0.3 degrees at p95 of 400 runs', (_, share) => {
    const offsM: number[][] = WHERE.map(() => []);
    const anglesDeg: number[] = [];
    for (let seed = 1; seed <= 400; seed++) {
      const normal = seededNormal(7000 + seed);
      const keep = Math.exp(-1 / (10 * 0.4));
      const markers = Object.entries(PLACES).map(([name, stage]): Marker => {
        const bias = [0, 0, 0].map(() => Math.sqrt(share) * 0.05 * normal());
        const at = tracked(stage);
        const all = Array.from({ length: 101 }, (_, k) => {
          bias.forEach((one, i) => {
            bias[i] = keep * one + Math.sqrt(share * (1 - keep * keep)) * 0.05 * normal();
          });
          const [x = 0, y = 0, z = 0] = bias.map(
            one => one + Math.sqrt(1 - share) * 0.05 * normal(),
          );
          return { timeS: k / 10, x: at.x + x, y: at.y + y, z: at.z + z };
        });
        const result = averageStanding(all, { seconds: 10, mostDriftM: 0.15 });
        if (!result.ok) throw new Error(`refused: ${result.fault.kind}`);
        const { mean, errorM } = result.standing;
        return { name, stage, tracking: mean, errorM, use: 'fit' };
      });
      const { placement, findings } = fitOf(markers);
      expect(findings.filter(one => one.level === 'error')).toEqual([]);
      WHERE.forEach((place, i) => {
        const off = minus(placed(placement, tracked(place)), place);
        offsM[i]?.push(Math.hypot(off.x, off.y, off.z));
      });
      // The angle of the rotation that is left: tr(R'Q) = 1 + 2 cos.
      const trace = placement.rotation.reduce(
        (sum, one, i) => sum + one * TRUE.rotation[i as 0],
        0,
      );
      anglesDeg.push(toDegrees(Math.acos(Math.min(1, (trace - 1) / 2)) as Radians));
    }
    const p95 = (values: number[]) =>
      values.sort((a, b) => a - b)[Math.floor(0.95 * values.length)] ?? Number.NaN;
    const [middle, ...corners] = offsM.map(p95);
    const said = `p95: middle ${middle?.toFixed(4)} m, corners ${corners.map(one => one.toFixed(4)).join(', ')} m, ${p95(anglesDeg).toFixed(3)} degrees`;
    for (const off of [middle, ...corners]) expect(off, said).toBeLessThanOrEqual(0.03);
    expect(p95(anglesDeg), said).toBeLessThanOrEqual(0.3);
  });
});
