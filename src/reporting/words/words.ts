import { listed } from '../../engine/events/event-words.js';
import { CAUSES } from '../causes/causes.js';
import type { LateFlashes } from '../measures/flash-watch.js';
import type { KeepOutTime } from '../measures/keep-out-times.js';
import type { Report } from './report-data.js';

/** Figures as people say them. */
export const inWords = {
  times: (count: number): string =>
    count === 1 ? 'once' : count === 2 ? 'twice' : `${count} times`,
  share: (share: number): string => {
    const percent = 100 * share;
    // 99.97 % must not read 100 %.
    const digits = percent > 99 && percent < 100 ? 2 : 1;
    return `${percent === 100 || percent === 0 ? percent : percent.toFixed(digits)} %`;
  },
  ms: (seconds: number): string => `${(seconds * 1e3).toFixed(seconds < 0.0095 ? 1 : 0)} ms`,
  metres: (metres: number): string => `${metres.toFixed(2)} m`,
  /** 1:02:03, 2:03, or 2.5 s. */
  duration: (seconds: number): string => {
    if (seconds < 59.95) return `${seconds.toFixed(1)} s`;
    const whole = Math.round(seconds);
    const two = (n: number) => String(n).padStart(2, '0');
    const hours = Math.floor(whole / 3600);
    const minutes = Math.floor((whole % 3600) / 60);
    return hours > 0
      ? `${hours}:${two(minutes)}:${two(whole % 60)} h`
      : `${minutes}:${two(whole % 60)} min`;
  },
} as const;

/** "tracker 9 (Dov), 10 % left" */
export function batteryInWords(
  { performers }: Pick<Report, 'performers'>,
  { tracker, performer, charge }: Report['lowBatteries'][number],
): string {
  const whose = performers.find(one => one.name === performer)?.label ?? 'a spare';
  return `tracker ${tracker} (${whose}), ${Math.round(100 * charge)} % left`;
}

/** Why and where; whoever is lost off the stage is there. */
export function lossInWords({
  why,
  place,
}: {
  readonly why: string;
  readonly place: string;
}): string {
  if (why === place) return why;
  if (why.startsWith(`${CAUSES.jumped} to `)) return `${why}, from ${place}`;
  return why === CAUSES['out-of-bounds'] ? `${why}, near ${place}` : `${why}; ${place}`;
}

/** "flash limit: light came up late twice, by 0.31 s at most (Stove)" */
export function flashesInWords({ times, longestS, fixtures }: LateFlashes): string {
  // Recordings of earlier versions don't say how late.
  const late = longestS > 0 ? `, by ${longestS.toFixed(2)} s at most` : '';
  return `flash limit: light came up late ${inWords.times(Math.max(1, times))}${late} (${listed(fixtures)})`;
}

/** "back 1: 4 times, 1:02 min in all, 40.1 s at most: its beam would have touched the keep-out house" */
export function keepOutInWords({ fixture, keepOut, times, forS, longestS }: KeepOutTime): string {
  const most =
    times === 1 ? '' : ` ${inWords.duration(forS)} in all, ${inWords.duration(longestS)} at most`;
  const how =
    times === 1 ? `once, for ${inWords.duration(forS)}` : `${inWords.times(times)},${most}`;
  return `${fixture}: ${how}; its beam would have touched the keep-out ${keepOut}`;
}
