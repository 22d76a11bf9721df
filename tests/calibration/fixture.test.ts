import { describe, expect, test } from 'vitest';
import type { AimSample, Pose } from '../../src/calibration/aim-model.js';
import { type FixtureFit, fitFixture, poseValues } from '../../src/calibration/fixture.js';
import type { FixtureOptions } from '../../src/calibration/fixture-options.js';
import { fixturePicture } from '../../src/calibration/fixture-report.js';
import type { Radians } from '../../src/stage/units.js';
import { distance, vec3 } from '../../src/stage/vector.js';
import { aims, deg, EIGHT, EXACT, FIVE, NOISE, type Place, poseAt, STAGE } from './aims-support.js';

const TRUTH = poseAt([1.2, 0.9, 5.3], [2, -1, 12]);
const OPTIONS: FixtureOptions = {
  noise: NOISE,
  now: poseAt([1, 1, 5.2], [0, 0, 0]),
  keepPosition: false,
  trim: false,
  bounds: STAGE,
};

function fitOf(samples: readonly AimSample[], changes: Partial<FixtureOptions> = {}): FixtureFit {
  const result = fitFixture(samples, { ...OPTIONS, ...changes });
  if (!result.ok) throw new Error(result.findings.map(one => one.what).join(' '));
  return result.fit;
}

function codesOf(samples: readonly AimSample[], changes: Partial<FixtureOptions> = {}): string[] {
  const result = fitFixture(samples, { ...OPTIONS, ...changes });
  return (result.ok ? result.fit : result).findings.map(one => one.code);
}

function changedAt(samples: readonly AimSample[], at: number, change: Partial<AimSample>) {
  return samples.map((sample, i) => (i === at ? { ...sample, ...change } : sample));
}

describe('where a head hangs', () => {
  test('with its errors, its region, and what is off today', () => {
    const fit = fitOf(aims(TRUTH, FIVE, NOISE, 8));
    expect(fit.findings).toEqual([]);
    expect(distance(fit.pose.position, TRUTH.position)).toBeLessThan(0.3);
    expect(fit.freedom).toBe(4);
    expect(fit.samples).toHaveLength(5);
    expect(fit.nowRmsM).toBeGreaterThan(5 * fit.rmsM);
    const [longest = 0, , shortest = 0] = fit.region.halfAxesM;
    expect(longest).toBeGreaterThan(shortest);
    for (const [error] of [fit.positionErrors, fit.turnErrors]) expect(error).toBeGreaterThan(0);
    expect(fit.worst.missM).toBeGreaterThan(fit.typicalM);
  });

  test('as values of a show file', () => {
    const fit = fitOf(aims(poseAt([1.25, 0.75, 5.5], [2, -1, 175]), EIGHT, EXACT));
    expect(poseValues(fit.pose)).toEqual({
      position: [1.25, 0.75, 5.5],
      orientation: { x: 2, y: -1, z: 175 },
      tiltTrim: 0,
    });
  });

  test('another sample helps as much as is said', () => {
    const samples = aims(TRUTH, FIVE, EXACT);
    const before = fitOf(samples);
    const [wish, second] = before.wishes;
    if (wish === undefined || second === undefined) throw new Error('no wish');
    expect(wish.typicalM).toBeLessThan(before.typicalM);
    expect(wish.typicalM).toBeLessThanOrEqual(second.typicalM);
    const more = [...FIVE, [wish.x, wish.y, wish.z] as Place];
    const after = fitOf(aims(TRUTH, more, EXACT));
    // Looked at on a finer grid than the wish.
    expect(after.typicalM / wish.typicalM).toBeGreaterThan(0.95);
    expect(after.typicalM / wish.typicalM).toBeLessThan(1.05);
  });

  test('drawn: every sample, the head, and where another helps', () => {
    const samples = aims(TRUTH, FIVE, NOISE, 8);
    const svg = fixturePicture('A < B', 'head', fitOf(samples), samples, STAGE);
    expect(svg).toMatch(/^<svg xmlns="http:\/\/www\.w3\.org\/2000\/svg"/);
    expect(svg).toContain('A &lt; B: where head hangs');
    for (const { label } of samples) expect(svg).toContain(label);
    expect(svg).not.toMatch(/NaN|Infinity|undefined/);
  });
});

describe('aims that do not tell where a head hangs', () => {
  const line: readonly Place[] = [
    [0, 4, 0],
    [3, 4.05, 0],
    [5, 3.95, 0],
    [7, 4, 0],
    [10, 4, 0],
  ];
  const near: readonly Place[] = [
    [5, 4, 0],
    [5.3, 4, 0],
    [5, 4.3, 0],
    [5.3, 4.3, 0],
    [5.15, 4.5, 0],
  ];
  const same: readonly Place[] = [
    [1, 1, 0],
    [1.05, 1, 0],
    [9, 1, 0],
    [9, 7, 0],
    [9, 7.1, 0],
  ];
  const few = FIVE.slice(0, 3);
  const aimed = (places: readonly Place[]) => aims(TRUTH, places, NOISE, 2);
  const reversed = aims(TRUTH, EIGHT, NOISE, 2).map(one => ({ ...one, pan: -one.pan as Radians }));
  const off: Pose = poseAt([1.2, 0.9, 5.3], [2, -1, 12], 2);

  test.each<[string, readonly string[], readonly AimSample[], Partial<FixtureOptions>]>([
    ['none', ['few-samples'], [], {}],
    ['three', ['few-samples'], aimed(few), {}],
    [
      'three with the position kept',
      [],
      aims({ ...TRUTH, position: vec3(1, 1, 5.2) }, few, NOISE, 2),
      { keepPosition: true },
    ],
    ['one with the position kept', ['few-samples'], aimed(few.slice(0, 1)), { keepPosition: true }],
    [
      'a position that is not there to be kept',
      ['no-position'],
      aimed(few),
      { keepPosition: true, now: undefined },
    ],
    ['three places, five times', ['few-places'], aimed(same), {}],
    ['in one line', ['points-in-line'], aimed(line), {}],
    ['all in one spot', ['narrow'], aims(poseAt([5, 4, 9], [0, 0, 0]), near, NOISE, 2), {}],
    [
      'one wrong by 3 degrees',
      ['sample-disagrees'],
      changedAt(aimed(EIGHT), 2, { pan: ((aimed(EIGHT)[2]?.pan ?? 0) + deg(3)) as Radians }),
      {},
    ],
    [
      'one wrong point of five',
      ['sample-disagrees'],
      changedAt(aimed(FIVE), 3, { point: vec3(1.5, 7.5, 0) }),
      {},
    ],
    ['a pan that turns the other way', ['pan-reversed'], reversed, {}],
    [
      'a tilt whose zero is off',
      ['trim'],
      aims(off, EIGHT, { reading: deg(0.05), pointM: 0.01 }, 2),
      { noise: { reading: deg(0.05), pointM: 0.01 } },
    ],
    [
      'the same, solved',
      [],
      aims(off, EIGHT, { reading: deg(0.05), pointM: 0.01 }, 2),
      { noise: { reading: deg(0.05), pointM: 0.01 }, trim: true },
    ],
    [
      'five times as scattered as said',
      ['scattered'],
      aims(TRUTH, EIGHT, { reading: deg(1), pointM: 0.15 }, 4),
      {},
    ],
  ])('%s: %j', (_, codes, samples, changes) => {
    expect(codesOf(samples, changes)).toEqual(codes);
  });

  describe('four on the floor', () => {
    const head = poseAt([1.3, 4.3, 6.5], [2, 1, 40]);
    const near: readonly Place[] = [
      [2, 6.8, 0],
      [1.4, 6.6, 0],
      [7.2, 5.5, 0],
      [2.6, 7.4, 0],
    ];
    const samples = aims(head, near, EXACT);

    test('may have two places that fit: both are named, and none is proposed', () => {
      const fit = fitOf(samples, { now: undefined, noise: { reading: deg(0.4), pointM: 0.06 } });
      expect(fit.findings.map(one => [one.level, one.code])).toEqual([['error', 'ambiguous']]);
      expect(fit.findings[0]?.what).toMatch(/^two places explain the aims: \(.*\) and \(.*\)\.$/);
      expect(fit.findings[0]?.what).toContain('(1.3, 4.3, 6.5)');
    });

    test('the one near that of the show is taken, and that is said', () => {
      for (const now of [poseAt([1, 4, 6], [0, 0, 0]), head]) {
        const fit = fitOf(samples, { now, noise: { reading: deg(0.4), pointM: 0.06 } });
        expect(fit.findings[0]).toMatchObject({ level: 'warning', code: 'ambiguous' });
        expect(distance(fit.pose.position, head.position)).toBeLessThan(0.01);
      }
    });

    test('in one corner leave the aim open', () => {
      const corner: readonly Place[] = [
        [0, 0, 0],
        [1.5, 0, 0],
        [0, 1.5, 0],
        [1.5, 1.5, 0.5],
      ];
      const noise = { reading: deg(0.4), pointM: 0.06 };
      const finding = fitOf(aims(head, corner, EXACT), { now: head, noise }).findings.at(-1);
      expect(finding?.code).toBe('weak');
      expect(finding?.what).toMatch(/over the stage it may be off by \d/);
    });
  });

  test('aims that no place explains', () => {
    const wild = FIVE.map(([x, y, z], i) => ({
      label: `${i}`,
      pan: deg(i % 2 === 0 ? 170 * i : -130 * i) as Radians,
      tilt: deg(i % 2 === 0 ? 3 : 120) as Radians,
      point: vec3(x, y, z),
    }));
    expect(codesOf(wild, { now: undefined }).join()).toMatch(/no-pose|scattered/);
    expect(fitFixture(wild, OPTIONS)).not.toMatchObject({ ok: true, fit: { findings: [] } });
  });

  test('the wrong sample is named, with how far it is off', () => {
    const samples = changedAt(aimed(FIVE), 3, { point: vec3(1.5, 7.5, 0) });
    const finding = fitOf(samples).findings[0];
    expect(finding?.what).toMatch(
      /^the others agree without the sample of sample 4, whose beam they put (0\.\d\d|1\.\d\d) m/,
    );
    const without = samples.filter((_, i) => i !== 3);
    expect(codesOf(without)).toEqual([]);
  });

  test('samples that scatter widen the errors', () => {
    const noise = { reading: deg(1), pointM: 0.15 };
    const said = fitOf(aims(TRUTH, EIGHT, noise, 4));
    const known = fitOf(aims(TRUTH, EIGHT, noise, 4), { noise });
    expect(said.positionErrors[0]).toBeGreaterThan(0.5 * (known.positionErrors[0] ?? 0));
  });

  test('whatever the numbers, it never throws and never proposes what is not finite', () => {
    const angles = [0, 1, -2, 90, 540];
    for (let seed = 0; seed < 15; seed++) {
      const samples = aims(
        TRUTH,
        FIVE,
        { reading: deg(angles[seed % 5] ?? 0), pointM: seed % 7 },
        seed,
      );
      const result = fitFixture(samples, OPTIONS);
      if (!result.ok) continue;
      const { position, orientation } = poseValues(result.fit.pose);
      for (const value of [...position, ...Object.values(orientation)]) {
        expect(Number.isFinite(value)).toBe(true);
      }
    }
  });
});
