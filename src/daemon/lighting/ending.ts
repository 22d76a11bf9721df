import { MAX_RATE_HZ } from '../../protocols/transmission.js';
import type { OutputPlan } from '../../show/model/model.js';
import type { Line } from './line.js';

/** E1.31 6.2.6 */
const TERMINATIONS = 3;

/**
 * Beats in which the terminations of all streams are out. The rate holds for them too, and the last levels may have gone
 * out this instant: the first one comes a period later. A timer may be early by a part of a beat: one more each.
 */
export function terminatingBeats(outputs: readonly OutputPlan[], beatS: number): number {
  const slowestHz = Math.min(MAX_RATE_HZ, ...outputs.map(output => output.rateHz));
  // And the levels before them.
  return (1 + TERMINATIONS) * (1 + Math.ceil(1 / slowestHz / beatS));
}

/** Whether last levels or terminations have yet to leave. */
export function isTerminating(lines: readonly Line[]): boolean {
  return lines.some(({ streams, holdsArtnet }) =>
    streams.some(({ setTerminated, transmission: { terminationsLeft = 0, lastLevelsDue } }) =>
      setTerminated === undefined ? lastLevelsDue && !holdsArtnet : terminationsLeft > 0,
    ),
  );
}
