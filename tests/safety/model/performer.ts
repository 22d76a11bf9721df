import {
  createSafeFade,
  isFullyLive,
  isFullySafe,
  type SafeFade,
} from '../../../src/safety/fade-to-safe.js';
import type { WatchdogOptions } from '../../../src/safety/options.js';
import { createWatch, type Watch } from '../../../src/safety/watchdog.js';

/** A performer's watchdog with a lamp that crossfades, a head that is dark in its safe look, and one that is lit. */
export interface State {
  readonly watch: Watch;
  /** Trust as a lamp without a fade of its own has it. */
  readonly lamp: number;
  readonly darkHead: SafeFade;
  readonly litHead: SafeFade;
  /** Healthy steps in a row, up to the re-arm time: kept apart from the machine. */
  readonly wellSteps: number;
}

export function start(options: WatchdogOptions): State {
  return {
    watch: createWatch(options),
    lamp: 0,
    darkHead: createSafeFade(),
    litHead: createSafeFade(),
    wellSteps: 0,
  };
}

export function key({ watch, lamp, darkHead, litHead, wellSteps }: State): string {
  const { phase, trust, cause, fadeS, rearmS, wellForS } = watch;
  const { clockGoneForS, frozenForS, outOfBoundsForS, confidenceLowForS } = watch;
  return [
    [phase, rounded(trust), cause, fadeS, rearmS, wellForS],
    [clockGoneForS, frozenForS, outOfBoundsForS, confidenceLowForS],
    [rounded(lamp), head(darkHead), head(litHead), wellSteps],
  ].join('|');
}

function head({ stage, live, safe, move }: SafeFade): string {
  return `${stage} ${rounded(live)} ${rounded(safe)} ${rounded(move)}`;
}

/** States that differ by rounding are one. */
function rounded(value: number): number {
  return Math.round(value * 1e6);
}

export const above = (a: number, b: number) => a > b + 1e-9;
export const isSafe = ({ watch, lamp, darkHead, litHead }: State) =>
  watch.trust === 0 && lamp === 0 && isFullySafe(darkHead) && isFullySafe(litHead);
export const isLive = ({ watch, lamp, darkHead, litHead }: State) =>
  watch.phase === 'live' && lamp === 1 && isFullyLive(darkHead) && isFullyLive(litHead);
