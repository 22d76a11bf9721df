import type { AnchorOptions, ObstacleOptions, RangingOptions } from '../../planning/options.js';
import { pathInM } from '../../planning/solid.js';
import { BODY } from '../../planning/view.js';
import { distance, type Vec3, vec3 } from '../../stage/vector.js';
import type { Sighting } from '../../tracking/sighting.js';
import { type Random, seededSource } from './random.js';
import { type SensorOptions, turnTowards } from './sensor.js';
import { type Truth, truthAt } from './truth.js';

/** The anchors of a stage, and the body that wears the tracker between them. */
export interface AnchorSensorOptions {
  readonly anchors: readonly AnchorOptions[];
  readonly obstacles: readonly ObstacleOptions[];
  readonly ranging: RangingOptions;
  /** Height of the body, and of the tracker on it, metres. */
  readonly heightM: number;
  readonly wornAtM: number;
}

/**
 * What a body or a wall does to one radio path (common practice for ultra-wideband ranging near bodies): the
 * direct path is lost for half a second or so at a time. A longer path is measured instead, some decimetres
 * and now and then metres too long, or nothing at all.
 */
export const HIDDEN = {
  /** Mean time until a hidden path is lost, and until a lost path is found again while hidden or in view, seconds. */
  lostAfterS: 0.25,
  backAfterS: 0.6,
  backInViewS: 0.15,
  /** Mean excess of the path that is measured instead, metres (exponential), new with each loss. */
  excessM: 0.6,
  /** Share of the losses in which nothing is measured at all. */
  silentShare: 0.3,
  /** Noise of a range through the body, as a multiple of the usual noise. */
  noise: 2,
} as const;

/** Fewer ranges than this give no position worth sending. */
export const FEWEST_RANGES = 3;
/** A geometry that makes an error larger than this many times gives no position worth sending either. */
const WORST_DILUTION = 20;

interface Path {
  /** The wandering part of its error, metres. */
  bias: number;
  lost: boolean;
  silent: boolean;
  excessM: number;
}

/**
 * Reports of tracker 0 along a true path, computed from ranges (or arrival times) to the anchors of a show. Each
 * path has noise of `ranging.errorM`, of which `colouredShare` wanders. Paths through obstacles or the wearer's own
 * body (the tracker is on the back) are lost in bursts (HIDDEN). So errors last, and depend on where people are and
 * which way they face: the tracker's filter assumes none of that. With the height known, x and y are the least
 * squares solution to first order about the true place: d = (H'H)^-1 H' e. H has the directions from the anchors
 * across the floor, less their mean if only differences of arrival are known. Fewer than three measured paths give
 * no report.
 *
 * @param options rate, colour, memory and time jitter are used, and the noise for the height
 */
export function simulateAnchorSensor(
  truth: Truth,
  options: SensorOptions,
  around: AnchorSensorOptions,
  seed: number,
): Sighting[] {
  const random = seededSource(seed);
  const sightings: Sighting[] = [];
  const { ranging, anchors } = around;
  const first = truth.timesS[0] as number;
  const last = truth.timesS.at(-1) as number;
  const step = 1 / options.rateHz;
  const keep = Math.exp(-step / options.noiseMemoryS);
  const wander = ranging.errorM * Math.sqrt(options.colouredShare);
  const white = ranging.errorM * Math.sqrt(1 - options.colouredShare);
  const paths = anchors.map(
    (): Path => ({ bias: wander * random.normal(), lost: false, silent: false, excessM: 0 }),
  );
  const [here, before] = [vec3(0, 0, 0), vec3(0, 0, 0)];
  let facing = 2 * Math.PI * random.uniform();
  let hint = 0;
  for (let n = 0; ; n++) {
    const dueS = first + n * step;
    if (dueS > last) return sightings;
    const timeS = dueS + (n === 0 ? 0 : options.timeJitter * step * (random.uniform() - 0.5));
    hint = truthAt(truth, timeS, hint, here);
    truthAt(truth, timeS - 0.2, hint, before);
    facing = turnTowards(facing, here.x - before.x, here.y - before.y, step);
    const sums = new LeastSquares(ranging.by === 'time-difference');
    anchors.forEach(({ position }, i) => {
      const path = paths[i] as Path;
      const hidden = isHidden(here, position, facing, around);
      move(path, hidden, step, random);
      path.bias = keep * path.bias + wander * Math.sqrt(1 - keep * keep) * random.normal();
      const noise = white * (hidden ? HIDDEN.noise : 1) * random.normal();
      if (path.lost && path.silent) return;
      const lengthM = distance(here, position);
      const error = path.bias + noise + (path.lost ? path.excessM : 0);
      sums.add((here.x - position.x) / lengthM, (here.y - position.y) / lengthM, error);
    });
    const error = sums.solve();
    const up = options.noiseM * random.normal();
    if (error === undefined) continue;
    const [x, y, z] = [here.x + error[0], here.y + error[1], here.z + up];
    sightings.push({ tracker: 0, timeS, arrivalS: timeS, x, y, z, quality: 1 });
  }
}

/** Whether an obstacle or the wearer's own body (the tracker is on the back) is in the way. */
export function isHidden(
  at: Readonly<Vec3>,
  anchor: Readonly<Vec3>,
  facing: number,
  { obstacles, heightM, wornAtM }: AnchorSensorOptions,
): boolean {
  if (obstacles.some(({ solid }) => pathInM(solid, at, anchor) > 0)) return true;
  const floorM = at.z - wornAtM;
  const shouldersM = floorM + BODY.shoulders * heightM;
  const radiusM = at.z > shouldersM ? BODY.headRadiusM : BODY.trunkRadiusM;
  const axis = { x: at.x + radiusM * Math.cos(facing), y: at.y + radiusM * Math.sin(facing) };
  const trunk = { radiusM: BODY.trunkRadiusM, fromM: floorM, toM: shouldersM };
  const head = { radiusM: BODY.headRadiusM, fromM: shouldersM, toM: floorM + heightM };
  return [trunk, head].some(
    part => pathInM({ kind: 'cylinder', ...axis, ...part }, at, anchor) > BODY.stopsM,
  );
}

/** A two-state Markov chain in continuous time, sampled once a step. */
function move(path: Path, hidden: boolean, stepS: number, random: Random): void {
  const happens = (meanS: number) => random.uniform() < -Math.expm1(-stepS / meanS);
  if (path.lost) {
    if (happens(hidden ? HIDDEN.backAfterS : HIDDEN.backInViewS)) path.lost = false;
    return;
  }
  if (!hidden || !happens(HIDDEN.lostAfterS)) return;
  path.lost = true;
  path.silent = random.uniform() < HIDDEN.silentShare;
  path.excessM = -HIDDEN.excessM * Math.log(1 - random.uniform());
}

/** Sums of directions and errors; the error of the place is solved from them. */
class LeastSquares {
  private n = 0;
  private readonly sums = { x: 0, y: 0, e: 0, xx: 0, xy: 0, yy: 0, xe: 0, ye: 0 };

  constructor(private readonly differences: boolean) {}

  add(x: number, y: number, error: number): void {
    const { sums } = this;
    this.n++;
    sums.x += x;
    sums.y += y;
    sums.e += error;
    sums.xx += x * x;
    sums.xy += x * y;
    sums.yy += y * y;
    sums.xe += x * error;
    sums.ye += y * error;
  }

  solve(): readonly [x: number, y: number] | undefined {
    const { n, sums } = this;
    if (n < FEWEST_RANGES) return undefined;
    const share = this.differences ? 1 / n : 0;
    const xx = sums.xx - share * sums.x * sums.x;
    const xy = sums.xy - share * sums.x * sums.y;
    const yy = sums.yy - share * sums.y * sums.y;
    const xe = sums.xe - share * sums.x * sums.e;
    const ye = sums.ye - share * sums.y * sums.e;
    const determinant = xx * yy - xy * xy;
    if (!((xx + yy) / determinant < WORST_DILUTION ** 2 && determinant > 0)) return undefined;
    return [(yy * xe - xy * ye) / determinant, (xx * ye - xy * xe) / determinant];
  }
}
