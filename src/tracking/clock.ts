/**
 * Maps a sensor's own stamps to our monotonic clock.
 *
 * Each report gives arrival - stamp = offset + delay with delay >= 0, so the offset is the least of those
 * differences: the report that travelled fastest gives it best. It is the least of the last 4 to 8 s, in two windows,
 * so that clocks may drift; and a clock that steps back by less than the length of a network jam is followed once no
 * report in the windows is older than the step.
 * Source of the idea: the minimum-delay filter of NTP (RFC 5905, section 10, clock filter) and
 * Moon, Skelly and Towsley, INFOCOM 1999 (lower hull of one-way delays). From memory.
 *
 * A larger step is followed sooner: down by more than `stepS` at once, because delays don't become negative;
 * up when no report came within `stepS` of the least for `stepAfterS`, or steadily for `steadyAfterS`,
 * because a network can be late too.
 */
interface ClockOptions {
  /** Length of a window, s. */
  readonly windowS: number;
  /** A difference this far from the least is a step or a jam, s. */
  readonly stepS: number;
  /** Lateness that stays the same (within `steadyS`) for this long is a step, s: in a jam it falls as the jam drains. */
  readonly steadyAfterS: number;
  readonly steadyS: number;
  /** Any lateness that lasts this long is taken for a step, s. */
  readonly stepAfterS: number;
  /** From one window to the next the offset moves by less than this unless the clock has stepped, s. */
  readonly toldS: number;
}

/**
 * Common practice. Crystals of computers stay within 100 ppm, two of them within 200: 0.8 ms in a window; the
 * fastest of a hundred reports on a network that works is the same to a few milliseconds.
 */
const OPTIONS: ClockOptions = {
  windowS: 4,
  stepS: 0.25,
  steadyAfterS: 0.4,
  steadyS: 0.05,
  stepAfterS: 2,
  toldS: 0.03,
};

export interface SensorClock {
  /** Our time = stamp + offset; NaN before the first report. */
  offsetS: number;
  /** Least difference of this window and of the one before, and when this one began, s. */
  leastS: number;
  leastBeforeS: number;
  windowSinceS: number;
  /** Since when every report came later than the least by more than stepS; NaN when not. */
  lateSinceS: number;
  /** The smallest and the largest difference seen since then. */
  lateMinS: number;
  lateMaxS: number;
  /** How many steps were followed, and how far the sensor's clock went forward in the last one, s. */
  steps: number;
  steppedS: number;
}

export function createSensorClock(): SensorClock {
  return {
    offsetS: Number.NaN,
    leastS: Number.POSITIVE_INFINITY,
    leastBeforeS: Number.POSITIVE_INFINITY,
    windowSinceS: Number.NaN,
    lateSinceS: Number.NaN,
    lateMinS: Number.NaN,
    lateMaxS: Number.NaN,
    steps: 0,
    steppedS: 0,
  };
}

/**
 * Our time of a report that the sensor stamped `stampS` and that reached us at `arrivalS` (both in
 * seconds, each on its own clock). Never later than its arrival.
 */
export function toOurTime(clock: SensorClock, stampS: number, arrivalS: number): number {
  const { stepS } = OPTIONS;
  const difference = arrivalS - stampS;
  if (Number.isNaN(clock.offsetS)) {
    begin(clock, difference, arrivalS);
  } else {
    const above = difference - clock.offsetS;
    if (above < -stepS) step(clock, difference, arrivalS);
    else if (above > stepS) takeLate(clock, difference, arrivalS);
    else takeUsual(clock, difference, arrivalS);
  }
  return Math.min(arrivalS, stampS + clock.offsetS);
}

/**
 * Whether the stamps can't be right at the moment: all recent reports have come later than their stamps allow, and it
 * is not yet known whether the clock has stepped or a network holds reports back.
 */
export function isInDoubt(clock: Readonly<SensorClock>): boolean {
  return !Number.isNaN(clock.lateSinceS);
}

function takeUsual(clock: SensorClock, difference: number, arrivalS: number): void {
  const { windowS, toldS } = OPTIONS;
  clock.lateSinceS = Number.NaN;
  if (arrivalS - clock.windowSinceS >= windowS) {
    clock.leastBeforeS = clock.leastS;
    clock.leastS = Number.POSITIVE_INFINITY;
    clock.windowSinceS = arrivalS;
  }
  clock.leastS = Math.min(clock.leastS, difference);
  const offsetS = Math.min(clock.leastS, clock.leastBeforeS);
  if (Math.abs(offsetS - clock.offsetS) > toldS) tell(clock, offsetS);
  clock.offsetS = offsetS;
}

function takeLate(clock: SensorClock, difference: number, arrivalS: number): void {
  const { stepAfterS, steadyAfterS, steadyS } = OPTIONS;
  if (Number.isNaN(clock.lateSinceS)) {
    clock.lateSinceS = arrivalS;
    clock.lateMinS = difference;
    clock.lateMaxS = difference;
    return;
  }
  clock.lateMinS = Math.min(clock.lateMinS, difference);
  clock.lateMaxS = Math.max(clock.lateMaxS, difference);
  const lateForS = arrivalS - clock.lateSinceS;
  const steady = clock.lateMaxS - clock.lateMinS <= steadyS;
  if (lateForS >= stepAfterS || (steady && lateForS >= steadyAfterS)) {
    step(clock, clock.lateMinS, arrivalS);
  }
}

function step(clock: SensorClock, offsetS: number, arrivalS: number): void {
  tell(clock, offsetS);
  begin(clock, offsetS, arrivalS);
}

function tell(clock: SensorClock, offsetS: number): void {
  clock.steps++;
  clock.steppedS = clock.offsetS - offsetS;
}

function begin(clock: SensorClock, offsetS: number, arrivalS: number): void {
  clock.offsetS = offsetS;
  clock.leastS = offsetS;
  clock.leastBeforeS = Number.POSITIVE_INFINITY;
  clock.windowSinceS = arrivalS;
  clock.lateSinceS = Number.NaN;
}
