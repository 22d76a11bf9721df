import { aimAt, compileHead, type Head, panTilt } from '../fixtures/kinematics.js';
import type { Radians } from '../stage/units.js';
import { type Bounds, type Vec3, vec3 } from '../stage/vector.js';
import {
  type AimNoise,
  type AimSample,
  type AimTerm,
  aimTerm,
  type Free,
  headOfPose,
  type Pose,
} from './aim-model.js';
import type { SolvedPose } from './pose.js';
import { Symmetric } from './symmetric.js';

/** 90 % of the chi-square distribution of 3 degrees of freedom (Abramowitz and Stegun, table 26.8). */
export const CHI_SQUARE_3_90 = 6.2514;

export interface AimPlace {
  readonly x: number;
  readonly y: number;
  readonly z: number;
  /** Expected distance between the beam and the place, across the beam, metres (root mean square). */
  readonly missM: number;
}

export interface AimMap {
  readonly places: readonly AimPlace[];
  /** Size of the cell that each place stands for. */
  readonly cell: { readonly widthM: number; readonly depthM: number };
}

export interface SampleResult {
  readonly label: string;
  /** How far the beam passes from the point, along pan and along tilt, metres. */
  readonly panM: number;
  readonly tiltM: number;
  readonly missM: number;
  /** Studentised residual: over its own standard deviation, both directions together. */
  readonly score: number;
  /** Probability of a residual at least this large if the sample is as good as the others, 0 to 1. */
  readonly likelihood: number;
}

export interface Wish {
  readonly x: number;
  readonly y: number;
  readonly z: number;
  /** Expected aim error over the stage with such a sample, metres (root mean square). */
  readonly typicalM: number;
}

/** Height above the floor at which the aim is judged: a chest, metres. */
const AIM_HEIGHT_M = 1.2;
/** Cells along the longer side of the stage. */
const CELLS = 14;
/** Places along the longer side that are tried for another sample. */
const CANDIDATES = 7;

/** Expected aim error over the stage. */
export function aimMap({ pose, covariance }: SolvedPose, free: Free, bounds: Bounds): AimMap {
  const aim = aimer(pose);
  const { at, cell } = grid(bounds, CELLS);
  const places = at.map(([x, y]) => {
    const place = vec3(x, y, AIM_HEIGHT_M);
    const missM = covariance === undefined ? Infinity : expectedMiss(aim(place, free), covariance);
    return { ...place, missM };
  });
  return { places, cell };
}

/** The middles of nearly square cells over the stage. */
function grid({ min, max }: Bounds, cellsAlong: number) {
  const [width, depth] = [max.x - min.x, max.y - min.y];
  const cellM = Math.max(width, depth) / cellsAlong;
  const columns = Math.max(1, Math.round(width / cellM));
  const rows = Math.max(1, Math.round(depth / cellM));
  const cell = { widthM: width / columns, depthM: depth / rows };
  const at = Array.from({ length: rows * columns }, (_, i): readonly [number, number] => [
    min.x + ((i % columns) + 0.5) * cell.widthM,
    min.y + (Math.floor(i / columns) + 0.5) * cell.depthM,
  ]);
  return { at, cell };
}

const NO_NOISE: AimNoise = { reading: 1, pointM: 1 };

/** Gives the term of an aim that fits the pose exactly. */
function aimer(pose: Pose): (place: Readonly<Vec3>, free: Free, noise?: AimNoise) => AimTerm {
  const head: Head = headOfPose(pose);
  const turning = compileHead({
    position: pose.position,
    rotation: pose.rotation,
    panRange: [-Math.PI as Radians, Math.PI as Radians],
    tiltRange: [-Math.PI as Radians, Math.PI as Radians],
  });
  const aimed = panTilt();
  return (place, free, noise = NO_NOISE) => {
    aimAt(turning, place.x, place.y, place.z, 0, 0, aimed);
    const sample = { pan: aimed.pan, tilt: (aimed.tilt - pose.tiltTrim) as Radians, point: place };
    return aimTerm(pose, head, sample, noise, free);
  };
}

/** Expected miss, metres: distance times the deviation of the beam in both directions, `d sqrt(sum J C J')`. */
function expectedMiss({ jacobian, distanceM }: AimTerm, covariance: Symmetric): number {
  return distanceM * Math.sqrt(covariance.form(jacobian[0]) + covariance.form(jacobian[1]));
}

/** Root mean square of the expected misses, metres. */
export function typicalMiss(places: readonly AimPlace[]): number {
  return Math.sqrt(places.reduce((sum, { missM }) => sum + missM ** 2, 0) / places.length);
}

/** How far each sample is off, and how likely that is. */
export function sampleResults(
  { terms, covariance }: SolvedPose,
  samples: readonly AimSample[],
): SampleResult[] {
  return terms.map((term, i) => {
    const { residual, jacobian, variance, distanceM } = term;
    // Covariance of a residual of the fit: V - J C J'.
    const spread = Symmetric.diagonal(variance);
    if (covariance !== undefined) {
      for (const [row, column] of [
        [0, 0],
        [0, 1],
        [1, 1],
      ] as const) {
        const taken = covariance.form(jacobian[row], jacobian[column]);
        spread.set(row, column, spread.at(row, column) - taken);
      }
    }
    const squared = Math.max(0, spread.inverse()?.form(residual) ?? 0);
    return {
      label: samples[i]?.label ?? '',
      panM: distanceM * residual[0],
      tiltM: distanceM * residual[1],
      missM: distanceM * Math.hypot(...residual),
      score: Math.sqrt(squared),
      // Upper tail of the chi-square distribution of 2 degrees of freedom.
      likelihood: Math.exp(-squared / 2),
    };
  });
}

/**
 * Where another sample would help most: the places of a grid over the stage, on the floor and at chest
 * height, that leave the least expected aim error over the stage.
 */
export function wishes(
  solved: SolvedPose,
  free: Free,
  noise: AimNoise,
  bounds: Bounds,
  count: number,
): Wish[] {
  const { pose, terms } = solved;
  const aim = aimer(pose);
  const { at, cell } = grid(bounds, CANDIDATES);
  const places = at.map(([x, y]) => aim(vec3(x, y, AIM_HEIGHT_M), free));
  const size = terms[0]?.jacobian[0].length ?? 0;
  const information = new Symmetric(size);
  for (const term of terms) addTo(information, term);
  const found = at
    .flatMap(([x, y]) => [0, AIM_HEIGHT_M].map(z => vec3(x, y, z)))
    .map((place): Wish => {
      const more = information.copy();
      addTo(more, aim(place, free, noise));
      const covariance = more.inverse();
      const squares =
        covariance === undefined
          ? Infinity
          : places.reduce((sum, term) => sum + expectedMiss(term, covariance) ** 2, 0);
      return { ...place, typicalM: Math.sqrt(squares / places.length) };
    })
    .filter(({ typicalM }) => Number.isFinite(typicalM))
    .sort((a, b) => a.typicalM - b.typicalM);
  const chosen: Wish[] = [];
  for (const wish of found) {
    // Two wishes side by side would be one and the same advice.
    const near = chosen.some(
      one => Math.hypot(one.x - wish.x, one.y - wish.y) < cell.widthM + cell.depthM,
    );
    if (!near) chosen.push(wish);
    if (chosen.length === count) break;
  }
  return chosen;
}

function addTo(information: Symmetric, { jacobian, variance }: AimTerm): void {
  information.addOuter(jacobian[0], 1 / variance[0]);
  information.addOuter(jacobian[1], 1 / variance[1]);
}

/** Half axes of the 90 % region of the position, the longest first, metres, and their directions in the stage frame. */
export function positionRegion(covariance: Symmetric): {
  readonly halfAxesM: readonly number[];
  readonly directions: readonly (readonly number[])[];
} {
  const { values, vectors } = covariance.part([0, 1, 2]).eigen();
  return {
    halfAxesM: values.map(value => Math.sqrt(Math.max(0, value) * CHI_SQUARE_3_90)),
    directions: vectors,
  };
}

/**
 * Quantile of the chi-square distribution by Wilson and Hilferty (1931): within 1 % for the values used
 * here.
 * @param normal the same quantile of the standard normal distribution
 */
export function chiSquareQuantile(freedom: number, normal: number): number {
  const a = 2 / (9 * freedom);
  return freedom * (1 - a + normal * Math.sqrt(a)) ** 3;
}
