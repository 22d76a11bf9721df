/** Strokes in the time that the manager allows: one may be late, and one lost. */
const STROKES_PER_TIMEOUT = 3;

/**
 * How often the manager wants to be stroked, seconds; undefined where it does not, or not by us
 * (sd_watchdog_enabled(3)).
 */
export function strokePeriodS(
  env: Readonly<Record<string, string | undefined>>,
  pid: number,
): number | undefined {
  const timeoutS = Number(env.WATCHDOG_USEC) / 1e6;
  if (!(timeoutS > 0)) return undefined;
  if (env.WATCHDOG_PID !== undefined && Number(env.WATCHDOG_PID) !== pid) return undefined;
  return timeoutS / STROKES_PER_TIMEOUT;
}

/**
 * Decides on each beat of the output whether to stroke the manager's watchdog. It is never stroked from a timer of
 * its own: only a beat that came on time, after which every interface has taken datagrams, proves that light goes
 * out.
 */
export class Watchdog {
  #strokedS = Number.NEGATIVE_INFINITY;

  /**
   * @param periodS between two strokes
   * @param onTimeS a beat that comes later than this after the one before is late
   */
  constructor(
    private readonly periodS: number,
    private readonly onTimeS: number,
  ) {}

  /**
   * @param sinceLastS since the beat before, seconds
   * @param hasSent whether all interfaces have sent since it last said so; asked only when it matters
   * @returns whether to stroke now
   */
  beat(nowS: number, sinceLastS: number, hasSent: () => boolean): boolean {
    if (sinceLastS > this.onTimeS || nowS - this.#strokedS < this.periodS) return false;
    if (!hasSent()) return false;
    this.#strokedS = nowS;
    return true;
  }
}
