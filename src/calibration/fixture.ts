import { turnsFromRotation } from '../stage/rotation.js';
import { type Radians, toDegrees } from '../stage/units.js';
import { type AimSample, type Free, freedomOf, type Pose } from './aim-model.js';
import { type Finding, hasError, metres } from './finding.js';
import type { FixtureOptions } from './fixture-options.js';
import { type SolvedPose, solvePose, termsOf } from './pose.js';
import { chosenEnd, degenerate, diagnosePose, isScattered, reversedFault } from './pose-faults.js';
import {
  type AimMap,
  type AimPlace,
  aimMap,
  positionRegion,
  type SampleResult,
  sampleResults,
  typicalMiss,
  type Wish,
  wishes,
} from './pose-quality.js';

export interface FixtureFit {
  readonly pose: Pose;
  readonly samples: readonly SampleResult[];
  /** Distance between beam and point at the samples, root mean square, metres; with the present show. */
  readonly rmsM: number;
  readonly nowRmsM: number | undefined;
  readonly chiSquare: number;
  readonly freedom: number;
  /** Standard errors: x, y, z in metres; the turns about the stage axes and the trim in radians. */
  readonly positionErrors: readonly number[];
  readonly turnErrors: readonly number[];
  readonly trimError: number;
  /** 90 % region of the position, metres; empty if the position is kept. */
  readonly region: {
    readonly halfAxesM: readonly number[];
    readonly directions: readonly (readonly number[])[];
  };
  /** Expected aim error over the stage, metres: in each cell, typical (root mean square) and worst. */
  readonly map: AimMap;
  readonly typicalM: number;
  readonly worst: AimPlace;
  readonly wishes: readonly Wish[];
  readonly findings: readonly Finding[];
}

export type FixtureResult =
  | { readonly ok: true; readonly fit: FixtureFit }
  | { readonly ok: false; readonly findings: readonly Finding[] };

/** Solves where a head hangs from its aims (docs/concepts/calibration.md), and judges the result. */
export function fitFixture(samples: readonly AimSample[], options: FixtureOptions): FixtureResult {
  const { noise, now, bounds } = options;
  const free: Free = { position: !options.keepPosition, trim: options.trim };
  if (options.keepPosition && now === undefined) {
    return {
      ok: false,
      findings: [
        {
          level: 'error',
          code: 'no-position',
          what: 'the show has no position of this fixture to keep.',
          act: 'Give the fixture a `position`, or leave out --keep-position.',
        },
      ],
    };
  }
  const impossible = degenerate(samples, free);
  if (impossible !== undefined) return { ok: false, findings: [impossible] };
  const ends = solvePose(samples, { noise, free, now, bounds });
  const best = chosenEnd(ends, options);
  if (best === undefined) {
    const reversed = reversedFault(samples, Number.POSITIVE_INFINITY, free, options);
    return {
      ok: false,
      findings: [
        reversed ?? {
          level: 'error',
          code: 'no-pose',
          what: 'no place above the floor explains these aims.',
          act: 'Make sure that each line has the pan, the tilt and the point of the same aim, and that the ranges of Pan and Tilt in the profile are those of the fixture.',
        },
      ],
    };
  }
  const faults = diagnosePose(samples, best, ends, free, options);
  const solved = widened(best, samples, free);
  const results = sampleResults(best, samples);
  const map = aimMap(solved, free, bounds);
  const worst = map.places.reduce((a, b) => (b.missM > a.missM ? b : a));
  const typicalM = typicalMiss(map.places);
  const weak = hasError(faults) ? [] : weakness(typicalM, worst);
  const at = free.position ? 3 : 0;
  const error = (i: number) =>
    solved.covariance === undefined
      ? Number.POSITIVE_INFINITY
      : Math.sqrt(Math.max(0, solved.covariance.at(i, i)));
  return {
    ok: true,
    fit: {
      pose: best.pose,
      samples: results,
      rmsM: rmsOf(results.map(one => one.missM)),
      nowRmsM: now === undefined ? undefined : missToday(now, samples, options),
      chiSquare: best.chiSquare,
      freedom: freedomOf(samples, free),
      positionErrors: free.position ? [error(0), error(1), error(2)] : [0, 0, 0],
      turnErrors: [error(at), error(at + 1), error(at + 2)],
      trimError: free.trim ? error(at + 3) : 0,
      region:
        free.position && solved.covariance !== undefined
          ? positionRegion(solved.covariance)
          : { halfAxesM: [], directions: [] },
      map,
      typicalM,
      worst,
      wishes: wishes(solved, free, noise, bounds, 2),
      findings: [...faults, ...weak],
    },
  };
}

/** The result is refused if the typical expected aim error is above this, metres; a worst one above `POOR_M` gives a warning. */
const USELESS_M = 1;
const POOR_M = 0.3;

function weakness(typicalM: number, worst: AimPlace): Finding[] {
  if (!(worst.missM > POOR_M)) return [];
  const useless = !(typicalM < USELESS_M);
  return [
    {
      level: useless ? 'error' : 'warning',
      code: 'weak',
      what: `the samples fit, but they don't fix the aim well enough: over the stage it may be off by ${metres(typicalM)}, at (${worst.x.toFixed(1)}, ${worst.y.toFixed(1)}) by ${metres(worst.missM)}.`,
      act: 'Take samples farther apart, over the whole stage and at two heights; see below where another one helps most.',
    },
  ];
}

/**
 * Widens the covariance if the samples scatter more than their noise allows. By chance alone that happens
 * to one set in a hundred.
 */
function widened(best: SolvedPose, samples: readonly AimSample[], free: Free): SolvedPose {
  const { covariance } = best;
  const freedom = freedomOf(samples, free);
  if (covariance === undefined || freedom <= 0) return best;
  const factor = scatterFactor(best.chiSquare, freedom);
  if (factor === 1) return best;
  const wide = covariance.copy();
  for (let i = 0; i < wide.size; i++) {
    for (let j = 0; j <= i; j++) wide.set(i, j, factor * covariance.at(i, j));
  }
  return { ...best, covariance: wide };
}

function scatterFactor(chiSquare: number, freedom: number): number {
  return isScattered(chiSquare, freedom) ? chiSquare / freedom : 1;
}

function missToday(now: Pose, samples: readonly AimSample[], options: FixtureOptions): number {
  const terms = termsOf(now, samples, options.noise, { position: true, trim: false });
  return rmsOf(
    // The chord between beam and target: right also where the beam points away.
    terms.map(({ facing, distanceM }) => 2 * distanceM * Math.sqrt(Math.max(0, (1 - facing) / 2))),
  );
}

function rmsOf(values: readonly number[]): number {
  return Math.sqrt(values.reduce((sum, value) => sum + value ** 2, 0) / values.length);
}

/** The pose as written in a show file: metres to the millimetre, degrees to the hundredth. */
export interface PoseValues {
  readonly position: readonly [number, number, number];
  readonly orientation: { readonly x: number; readonly y: number; readonly z: number };
  readonly tiltTrim: number;
}

export function poseValues({ position, rotation, tiltTrim }: Pose): PoseValues {
  const turns = turnsFromRotation(rotation);
  const degrees = (angle: number) => rounded(toDegrees(angle as Radians), 2);
  return {
    position: [rounded(position.x, 3), rounded(position.y, 3), rounded(position.z, 3)],
    orientation: { x: degrees(turns.x), y: degrees(turns.y), z: degrees(turns.z) },
    tiltTrim: degrees(tiltTrim),
  };
}

function rounded(value: number, digits: number): number {
  return Number(value.toFixed(digits)) + 0;
}
