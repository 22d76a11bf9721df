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
  /** Each place stands for the cell around it. */
  readonly cell: { readonly widthM: number; readonly depthM: number };
}

export interface SampleResult {
  readonly label: string;
  /** How far the beam passes from the point, along pan and along tilt, metres. */
  readonly panM: number;
  readonly tiltM: number;
  readonly missM: number;
  /** Studentised: the residual over its own standard deviation, both directions together. */
  readonly score: number;
  /** How likely a residual this large or larger is if the sample is as good as the others, 0 to 1. */
  readonly likelihood: number;
}

export interface Wish {
  readonly x: number;
  readonly y: number;
  readonly z: number;
  /** Expected aim error over the stage with such a sample, metres (root mean square). */
  readonly typicalM: number;
}

/** Where the aim is looked at: over the floor, at the height of a chest, metres. */
const AIM_HEIGHT_M = 1.2;
/** Cells along the longer side of the stage. */
const CELLS = 14;
/** Places tried for another sample along the longer side. */
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

/** The middles of about square cells over the stage. */
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

/** The term of an aim that is right by the pose, without a noise of its own. */
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

/** Distance times the deviation of the beam, in both directions: `d sqrt(sum J C J')`. */
function expectedMiss({ jacobian, distanceM }: AimTerm, covariance: Symmetric): number {
  return distanceM * Math.sqrt(covariance.form(jacobian[0]) + covariance.form(jacobian[1]));
}

/** Root mean square over places. */
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
 * Where another sample would help most: of a grid over the stage, on the floor and at the height of a
 * chest, the places after which the expected aim error over the stage is least.
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
    // Two wishes side by side would say the same twice.
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

/** Half the axes of the region that holds the position with 90 %, the longest first, metres. */
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
 * Quantile of the chi-square distribution by Wilson and Hilferty (1931): within 1 % for what is asked
 * here.
 * @param normal the same quantile of the standard normal distribution
 */
export function chiSquareQuantile(freedom: number, normal: number): number {
  const a = 2 / (9 * freedom);
  return freedom * (1 - a + normal * Math.sqrt(a)) ** 3;
}
