import { limitedInterval } from './advance.js';
import type { Estimate } from './sighting.js';
import { hasStarted, SLOT, type Track } from './track.js';
import { momentsAhead } from './update.js';

/** Chi-square with 2 degrees of freedom at 90 % is 4.6052 = -2 ln 0.1. */
const RADIUS_90 = Math.sqrt(-2 * Math.log(0.1));

/**
 * The estimate at a time, without changing what the track remembers. A time before the state's own
 * gives the state. Variance: of the mixture, plus that of the report's own time at the present speed,
 * plus what no filtering shows.
 * @returns whether there is any estimate
 */
export function predict(track: Track, atS: number, out: Estimate): boolean {
  if (!hasStarted(track)) return false;
  const { numbers, options, floor, height } = track;
  const aheadS = limitedInterval(atS - (numbers[SLOT.timeS] as number));
  const timing = options.timingS ** 2;
  const hidden = options.hiddenBiasM ** 2;
  const worn = numbers[SLOT.wornVariance] as number;
  const variance = momentsAhead(floor, aheadS);
  out.x = floor.outMean[0] as number;
  out.vx = floor.outMean[1] as number;
  out.y = floor.outMean[2] as number;
  out.vy = floor.outMean[3] as number;
  out.sigmaHorizontalM = Math.sqrt(
    variance + timing * (out.vx * out.vx + out.vy * out.vy) + hidden + worn,
  );
  out.radius90M = RADIUS_90 * out.sigmaHorizontalM;
  const varianceZ = momentsAhead(height, aheadS);
  out.z = height.outMean[0] as number;
  out.vz = height.outMean[1] as number;
  out.sigmaVerticalM = Math.sqrt(varianceZ + timing * out.vz * out.vz + hidden);
  out.ageS = atS - (numbers[SLOT.acceptedS] as number);
  return true;
}
