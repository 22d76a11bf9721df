import type { Bank } from './bank.js';
import { placesAhead } from './bank-predict.js';
import { SLOT, type Track } from './track.js';

/**
 * Each report moves the prediction by a step, and light that follows it jerks 10 to 120 times a second. So the
 * correction by a report is undone at first, and applied within `blendS`: the light goes on from where it was, and
 * the estimate is unchanged. A track that begins anew is not blended: that is a jump.
 */

/** Most light is this far ahead of a report's arrival, s. */
const USUAL_AHEAD_S = 0.1;
/** Half a tick at 40 Hz: the average wait of a report until it first shows in the light, s. */
const SHOWN_AFTER_S = 0.0125;

/** Before a report changes the track, whose state is of time `stateS`: notes where the light is going. */
export function holdAim(track: Track, stateS: number, arrivalS: number): void {
  const { numbers, options } = track;
  const sinceS = Math.max(0, arrivalS - (numbers[SLOT.arrivedS] as number));
  const left = Math.exp(-sinceS / options.blendS);
  for (const slot of SLOTS) numbers[slot] = left * (numbers[slot] as number);
  add(track, stateS, arrivalS, 1);
}

/** After it: the way from there to where the track is now is to be made up. */
export function releaseAim(track: Track, stateS: number, arrivalS: number): void {
  add(track, stateS, arrivalS, -1);
}

/** The share of the corrections still to be made up at a time. */
export function leftOf({ numbers, options }: Readonly<Track>, nowS: number): number {
  const sinceS = Math.max(0, nowS - (numbers[SLOT.arrivedS] as number));
  return Math.exp(-(sinceS + SHOWN_AFTER_S) / options.blendS);
}

export function forgetCorrections({ numbers }: Track): void {
  for (const slot of SLOTS) numbers[slot] = 0;
}

const SLOTS = [SLOT.correctionX, SLOT.correctionY, SLOT.correctionZ] as const;

function add(
  { numbers, floor, height }: Track,
  stateS: number,
  arrivalS: number,
  sign: 1 | -1,
): void {
  const aheadS = Math.min(1, Math.max(0, arrivalS + USUAL_AHEAD_S - stateS));
  addBank(numbers, SLOT.correctionX, floor, aheadS, sign);
  addBank(numbers, SLOT.correctionZ, height, aheadS, sign);
}

function addBank(
  numbers: Float64Array,
  slot: number,
  bank: Bank,
  aheadS: number,
  sign: 1 | -1,
): void {
  placesAhead(bank, aheadS);
  for (let d = 0; d < bank.axes; d++) {
    numbers[slot + d] = (numbers[slot + d] as number) + sign * (bank.outMean[2 * d] as number);
  }
}
