import { performance } from 'node:perf_hooks';

/**
 * The one clock of the shell: CLOCK_MONOTONIC in seconds, the same in both processes, so that a time
 * that crosses the pipe means the same on either side. `performance.now()` reads the same clock from
 * another origin, and costs no BigInt.
 */
const ORIGIN_S = Math.max(...Array.from({ length: 10 }, originS));

/**
 * Too small by whatever time passes between the two readings, on a busy machine some ticks' worth, and
 * the two processes would not agree on what is late: so the largest of a few is taken.
 */
function originS(): number {
  return Number(process.hrtime.bigint()) / 1e9 - performance.now() / 1e3;
}

export function monotonicS(): number {
  return ORIGIN_S + performance.now() / 1e3;
}

/** Unix time less monotonic time, seconds: changes when somebody sets the machine's clock. */
export function unixOffsetS(): number {
  return Date.now() / 1e3 - monotonicS();
}
