import type { Heard } from './feed.js';

/** How much a tracker scattered while it lay or stood still. */
export interface RestNoise {
  /** Standard deviation along one axis of the floor, metres. */
  readonly sigmaM: number;
  readonly forS: number;
}

/** So long still is at rest, and so many reports say something of it. */
const STILL_S = 3;
const FEWEST_REPORTS = 15;
/** Somebody whose reports scatter more than this was not standing. */
const MOST_M = 0.5;
/** Who stands sways by no more between one second and another. Common practice. */
const SWAY_M = 0.15;
/** So many standard errors of the means are no movement. */
const SURE = 3;

/**
 * The calmest stretch of 3 s: the least scatter of a tracker's reports about their mean. People sway by
 * some centimetres, so this is the noise from above; of a tracker on a stand it is the noise.
 * Who walks slowly scatters no more than a poor tracker: the mean places of its thirds tell the two apart.
 * @returns undefined where it never stood still for so long
 */
export function restNoise({ timesS, places }: Heard): RestNoise | undefined {
  let best: RestNoise | undefined;
  let end = 0;
  const step = Math.max(1, Math.floor(timesS.length / 2000));
  for (let begin = 0; begin < timesS.length; begin += step) {
    const fromS = timesS[begin] ?? 0;
    while (end < timesS.length && (timesS[end] ?? 0) <= fromS + STILL_S) end++;
    // The stretch has to be whole: something comes after it.
    if (end >= timesS.length) break;
    const count = end - begin;
    if (count < FEWEST_REPORTS) continue;
    const sigmaM = scatter(places, begin, end);
    if (walked(places, begin, end)) continue;
    if (sigmaM <= MOST_M && sigmaM < (best?.sigmaM ?? Number.POSITIVE_INFINITY)) {
      best = { sigmaM, forS: (timesS[end - 1] ?? 0) - fromS };
    }
  }
  return best;
}

/** Whether the mean place of one third of the reports is another than that of the next, or of the last. */
function walked(places: readonly number[], begin: number, end: number): boolean {
  const third = Math.floor((end - begin) / 3);
  const thirds = [0, 1, 2].map(i => {
    const [from, to] = [begin + i * third, begin + (i + 1) * third];
    return { ...meanOf(places, from, to), sigmaM: scatter(places, from, to) };
  });
  const within = Math.sqrt(thirds.reduce((sum, { sigmaM }) => sum + sigmaM ** 2, 0) / 3);
  const most = SWAY_M + SURE * within * Math.sqrt(2 / third);
  return thirds.some(a => thirds.some(b => Math.hypot(a.x - b.x, a.y - b.y) > most));
}

function scatter(places: readonly number[], begin: number, end: number): number {
  const count = end - begin;
  const { x, y } = meanOf(places, begin, end);
  let sum = 0;
  for (let i = begin; i < end; i++) {
    sum += ((places[3 * i] ?? 0) - x) ** 2 + ((places[3 * i + 1] ?? 0) - y) ** 2;
  }
  // Two axes.
  return Math.sqrt(sum / (2 * (count - 1)));
}

function meanOf(places: readonly number[], begin: number, end: number): { x: number; y: number } {
  const count = end - begin;
  let [x, y] = [0, 0];
  for (let i = begin; i < end; i++) {
    x += (places[3 * i] ?? 0) / count;
    y += (places[3 * i + 1] ?? 0) / count;
  }
  return { x, y };
}
