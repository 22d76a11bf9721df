/**
 * Maps a sensor's own stamps to our monotonic clock.
 *
 * Each report gives arrival - stamp = offset + delay with delay >= 0, so the offset is the lower
 * envelope of those differences: the report that travelled fastest knows it best. Clocks drift, so
 * the envelope may rise by at most `driftPpm`, and a report below it pulls it down at once.
 * Source of the idea: the minimum-delay filter of NTP (RFC 5905, section 10, clock filter) and
 * Moon, Skelly and Towsley, INFOCOM 1999 (lower hull of one-way delays). From memory.
 *
 * A step of the sensor's clock shows as differences that lie far off the envelope: down by more than
 * `stepS` is a step at once, because delays don't become negative; up is one only when no report
 * came within `stepS` of the envelope for `stepAfterS`, because a network can be late too.
 */
interface ClockOptions {
  /** The fastest that the two clocks drift apart, parts per million. Cheap crystals stay within 100. */
  readonly driftPpm: number;
  /** A difference this far off the envelope is a step or a jam, s. */
  readonly stepS: number;
  /** Lateness that stays the same (within `steadyS`) for this long is a step, s: a jam's lateness falls as it drains. */
  readonly steadyAfterS: number;
  readonly steadyS: number;
  /** Lateness of any shape that lasts this long is taken for a step, s. */
  readonly stepAfterS: number;
}

/** The last three are common practice; crystals of computers stay within 100 ppm, two of them within 200. */
const OPTIONS: ClockOptions = {
  driftPpm: 200,
  stepS: 0.25,
  steadyAfterS: 0.4,
  steadyS: 0.05,
  stepAfterS: 2,
};

export interface SensorClock {
  /** Our time = stamp + offset; NaN before the first report. */
  offsetS: number;
  /** Arrival of the last report, s. */
  arrivalS: number;
  /** Since when every report came later than the envelope by more than stepS; NaN when not. */
  lateSinceS: number;
  /** The smallest and the largest difference seen since then. */
  lateMinS: number;
  lateMaxS: number;
  /** How many steps were followed. */
  steps: number;
}

export function createSensorClock(): SensorClock {
  return {
    offsetS: Number.NaN,
    arrivalS: Number.NaN,
    lateSinceS: Number.NaN,
    lateMinS: Number.NaN,
    lateMaxS: Number.NaN,
    steps: 0,
  };
}

/**
 * Our time of a report that the sensor stamped `stampS` and that reached us at `arrivalS` (both in
 * seconds, each on its own clock). Never later than its arrival.
 */
export function toOurTime(clock: SensorClock, stampS: number, arrivalS: number): number {
  const { driftPpm, stepS, stepAfterS, steadyAfterS, steadyS } = OPTIONS;
  const difference = arrivalS - stampS;
  if (Number.isNaN(clock.offsetS)) {
    clock.offsetS = difference;
  } else {
    const elapsedS = Math.max(0, arrivalS - clock.arrivalS);
    const above = difference - clock.offsetS;
    if (above < -stepS) {
      restart(clock, difference);
    } else if (above <= 0) {
      clock.offsetS = difference;
      clock.lateSinceS = Number.NaN;
    } else {
      clock.offsetS += Math.min(above, elapsedS * driftPpm * 1e-6);
      if (above <= stepS) clock.lateSinceS = Number.NaN;
      else if (Number.isNaN(clock.lateSinceS)) {
        clock.lateSinceS = arrivalS;
        clock.lateMinS = difference;
        clock.lateMaxS = difference;
      } else {
        clock.lateMinS = Math.min(clock.lateMinS, difference);
        clock.lateMaxS = Math.max(clock.lateMaxS, difference);
        const lateForS = arrivalS - clock.lateSinceS;
        const steady = clock.lateMaxS - clock.lateMinS <= steadyS;
        if (lateForS >= stepAfterS || (steady && lateForS >= steadyAfterS))
          restart(clock, clock.lateMinS);
      }
    }
  }
  clock.arrivalS = arrivalS;
  const ours = stampS + clock.offsetS;
  return Math.min(arrivalS, ours);
}

/**
 * Whether the stamps can't be right just now: every report of late has come later than its stamp allows,
 * and it is not known yet whether the clock has stepped or a network holds reports back.
 */
export function isInDoubt(clock: Readonly<SensorClock>): boolean {
  return !Number.isNaN(clock.lateSinceS);
}

function restart(clock: SensorClock, offsetS: number): void {
  clock.offsetS = offsetS;
  clock.lateSinceS = Number.NaN;
  clock.steps++;
}
