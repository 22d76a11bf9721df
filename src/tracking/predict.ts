import { momentsAhead } from './bank-predict.js';
import { leftOf } from './blend.js';
import { unexplainedM } from './noise.js';
import type { Estimate } from './sighting.js';
import { hasStarted, SLOT, TRACKER, type Track } from './track.js';

/** Chi-square with 2 degrees of freedom at 90 %: -2 ln 0.1 = 4.6052. */
const CHI_SQUARE_90 = -2 * Math.log(0.1);
/** Trackers silent for longer say nothing about recent reports, s. */
const HEARD_WITHIN_S = 1;

/**
 * The estimate at a time, without changing the track. A time before the state's own gives the state. The variance is
 * that of the mixture; plus what recent reports were off beyond the declared noise; along the movement, plus that of
 * the reports' own time; plus what filtering can't reveal.
 * @param nowS the time of asking, monotonic seconds: the light makes up for corrections little by little
 * @returns whether there is any estimate
 */
export function predict(track: Track, atS: number, out: Estimate, nowS = atS): boolean {
  if (!hasStarted(track)) return false;
  const { numbers, options, floor, height } = track;
  const aheadS = Math.max(0, atS - (numbers[SLOT.timeS] as number));
  const timing = options.timingS ** 2;
  const hidden = options.hiddenBiasM ** 2;
  const variance = momentsAhead(floor, aheadS);
  const left = leftOf(track, nowS);
  out.x = (floor.outMean[0] as number) + left * (numbers[SLOT.correctionX] as number);
  out.vx = floor.outMean[1] as number;
  out.y = (floor.outMean[2] as number) + left * (numbers[SLOT.correctionY] as number);
  out.vy = floor.outMean[3] as number;
  const own = variance + hidden + (numbers[SLOT.mountingM2] as number);
  const speed2 = out.vx * out.vx + out.vy * out.vy;
  const across = own + (options.unexplainedShare * leastUnexplainedM(track)) ** 2;
  out.sigmaAlongM = Math.sqrt(across + timing * speed2);
  out.sigmaAcrossM = Math.sqrt(across);
  out.sigmaHorizontalM = Math.sqrt(own + (timing * speed2) / 2);
  const varianceZ = momentsAhead(height, aheadS);
  out.z = (height.outMean[0] as number) + left * (numbers[SLOT.correctionZ] as number);
  out.vz = height.outMean[1] as number;
  out.sigmaVerticalM = Math.sqrt(varianceZ + timing * out.vz * out.vz + hidden);
  out.ageS = atS - (numbers[SLOT.acceptedS] as number);
  return true;
}

/** For the best of the trackers that are heard. */
function leastUnexplainedM(track: Readonly<Track>): number {
  const { trackers, trackerCount, numbers } = track;
  let least = Number.POSITIVE_INFINITY;
  for (let k = 0; k < trackerCount; k++) {
    const lastS = trackers[k * TRACKER.count + TRACKER.lastS] as number;
    const silentS = (numbers[SLOT.timeS] as number) - lastS;
    if (silentS < HEARD_WITHIN_S) least = Math.min(least, unexplainedM(track, k));
  }
  return least === Number.POSITIVE_INFINITY ? 0 : least;
}

/** The direction of movement, of length 1; along x for who stands. */
function headingOf({ vx, vy }: Readonly<Estimate>): readonly [x: number, y: number] {
  const speed = Math.hypot(vx, vy);
  return speed > 0 ? [vx / speed, vy / speed] : [1, 0];
}

/**
 * Whether a place is within the region that holds the true place in 90 cases of 100: an ellipse, longer in the
 * direction of movement.
 */
export function isInRegion90(e: Readonly<Estimate>, x: number, y: number): boolean {
  const dx = x - e.x;
  const dy = y - e.y;
  const [ux, uy] = headingOf(e);
  const along = (dx * ux + dy * uy) / e.sigmaAlongM;
  const across = (dy * ux - dx * uy) / e.sigmaAcrossM;
  return along * along + across * across <= CHI_SQUARE_90;
}

/** Half the extent of that region along x and y, metres: [x, y]. */
export function reach90(e: Readonly<Estimate>): readonly [number, number] {
  const [ux, uy] = headingOf(e);
  const scale = Math.sqrt(CHI_SQUARE_90);
  return [
    scale * Math.hypot(e.sigmaAlongM * ux, e.sigmaAcrossM * uy),
    scale * Math.hypot(e.sigmaAlongM * uy, e.sigmaAcrossM * ux),
  ];
}
