import { vec3 } from '../../stage/vector.js';
import type { TrackerFit } from '../../tracking/options.js';
import { TICK_S } from '../assessing/assess.js';
import { type Block, type Interval, ratioInterval } from '../assessing/bootstrap.js';
import { ScoreSheet } from '../assessing/scores.js';
import { type Series, type Smoothed, type SmootherOptions, smooth } from '../assessing/smoother.js';
import { type Truth, truthAt } from '../sensors/truth.js';
import type { Aims, HeardFeed, HeardReport, PerformerFeed } from './tune-feed.js';

/**
 * People turn and stop within some tenths of a second, and radio is off by some decimetres. It matters little: on the
 * development recordings a quarter of the acceleration puts the same noise first, to one step.
 */
export const REFERENCE: SmootherOptions = { accelerationDensity: 2, noiseM: 0.3, rounds: 8 };
/** The smoother judges nobody where its own standard deviation along one axis is larger than this, metres. */
const SURE_M = 0.3;
/**
 * Radio that is off by the same for seconds pulls the smoother along, which then flatters settings that follow
 * closely. This much error, metres, is assumed to be hidden from it at each moment: on the calibrated development
 * recordings it is 0.05 to 0.07 m, on the others more.
 */
const HIDDEN_M = 0.05;
/** Length of a block, seconds: errors this far apart are nearly independent. */
const BLOCK_S = 5;
/** Below this speed the performer counts as standing, metres a second. */
const STANDING_MPS = 0.1;
/** Below this speed nobody can tell which way they face, metres a second. */
export const FACING_MPS = 0.4;
/** Farther off than this, a light on a performer misses, metres; and closer, taking it away was for nothing. */
const MISSES_M = 1;
const WELL_M = 0.5;

/** Figures of the aims against the reference, all performers together, for a table. */
export interface Figures {
  /** RMS distance from the reference at the moment of light, metres. */
  readonly offM: number;
  /** RMS movement of the aim from tick to tick while they stand, metres; NaN where nobody did. */
  readonly stillM: number;
  /** RMS acceleration of the aim, m/s². */
  readonly roughness: number;
  readonly gated: number;
  /** How often a track began anew elsewhere. */
  readonly jumps: number;
  /** How often the watchdog took the light from somebody. */
  readonly losses: number;
  /** How many of these losses were false alarms: the tracker was heard, and the aim was within half a metre. */
  readonly falseAlarms: number;
  /** How long the light was on and more than a metre beside the performer, seconds. */
  readonly missedS: number;
}

export interface Judged {
  readonly figures: Figures;
  /** Squared distances plus the hidden error, summed over blocks of 5 s, m²; one performer after the other. */
  readonly squares: Float64Array;
}

/** Where somebody was, from all of their trackers, with the offsets at which they are worn taken off. */
export function referenceOf({ reports, fits }: PerformerFeed): Smoothed {
  const sorted = [...reports].sort((a, b) => a.timeS - b.timeS);
  const smoothed = smooth(seriesOf(sorted), REFERENCE);
  return fits.some(({ forwardM, leftM, upM }) => forwardM !== 0 || leftM !== 0 || upM !== 0)
    ? smooth(takenOff(sorted, fits, smoothed), REFERENCE)
    : smoothed;
}

export function seriesOf(reports: readonly HeardReport[]): Series {
  return {
    timesS: Float64Array.from(reports, ({ timeS }) => timeS),
    xs: Float64Array.from(reports, ({ x }) => x),
    ys: Float64Array.from(reports, ({ y }) => y),
    zs: Float64Array.from(reports, ({ z }) => z),
  };
}

/** The reports moved from the tracker to the performer, who faces the way they last walked. */
function takenOff(
  reports: readonly HeardReport[],
  fits: readonly TrackerFit[],
  { timesS, vxs, vys }: Smoothed,
): Series {
  const series = { ...seriesOf(reports), timesS };
  let [cos, sin] = [0, 0];
  reports.forEach(({ tracker }, i) => {
    const [vx, vy] = [vxs[i] as number, vys[i] as number];
    const speed = Math.hypot(vx, vy);
    if (speed > FACING_MPS) [cos, sin] = [vx / speed, vy / speed];
    const { forwardM, leftM, upM } = fits[tracker] as TrackerFit;
    series.xs[i] = (series.xs[i] as number) - (cos * forwardM - sin * leftM);
    series.ys[i] = (series.ys[i] as number) - (sin * forwardM + cos * leftM);
    series.zs[i] = (series.zs[i] as number) - upM;
  });
  return series;
}

/** Total time in which the performers are known to have walked, seconds. */
export function walkedS(references: readonly Smoothed[]): number {
  let sum = 0;
  for (const { timesS, vxs, vys } of references) {
    for (let i = 1; i < timesS.length; i++) {
      const intervalS = (timesS[i] as number) - (timesS[i - 1] as number);
      const speed = Math.hypot(vxs[i] as number, vys[i] as number);
      if (intervalS < 1 && speed > FACING_MPS) sum += intervalS;
    }
  }
  return sum;
}

/**
 * @param aims of each performer, in the order of the references
 * @param horizonS from the tick to the light, seconds
 * @param laterS how much older reports are by the show of the reference than by that of the aims, seconds
 */
export function judgeAims(
  aims: readonly Aims[],
  references: readonly Smoothed[],
  horizonS: number,
  laterS = 0,
): { readonly sheet: ScoreSheet; readonly squares: Float64Array; readonly missedS: number } {
  const sheet = new ScoreSheet(TICK_S);
  const squares: number[] = [];
  let missedS = 0;
  aims.forEach(({ nowS, xs, ys, follows }, who) => {
    const smoothed = references[who] as Smoothed;
    sheet.breakOff();
    const first = squares.length;
    const fromS = smoothed.timesS[0] ?? 0;
    const toS = smoothed.timesS.at(-1) ?? 0;
    for (let n = Math.ceil((toS - fromS) / BLOCK_S); n > 0; n--) squares.push(0);
    const look = { hint: 0, x: 0, y: 0, speedMps: 0 };
    let lastS = Number.NEGATIVE_INFINITY;
    for (let i = 0; i < nowS.length; i++) {
      const atS = (nowS[i] as number) + horizonS + laterS;
      if (!seenAt(smoothed, atS, look)) continue;
      if ((nowS[i] as number) - lastS > 1.5 * TICK_S) sheet.breakOff();
      lastS = nowS[i] as number;
      const [x, y] = [xs[i] as number, ys[i] as number];
      sheet.add(x, y, look.x, look.y, look.speedMps < STANDING_MPS, undefined);
      const square = (x - look.x) ** 2 + (y - look.y) ** 2;
      const block = first + Math.floor((atS - fromS) / BLOCK_S);
      squares[block] = (squares[block] ?? 0) + square + HIDDEN_M ** 2;
      if (follows[i] === true && square > MISSES_M ** 2) missedS += TICK_S;
    }
  });
  return { sheet, squares: Float64Array.from(squares), missedS };
}

/** Judges a run of the show over the recording. */
export function judge(
  { performers }: HeardFeed,
  references: readonly Smoothed[],
  horizonS: number,
  laterS = 0,
): Judged {
  const { sheet, squares, missedS } = judgeAims(
    performers.map(({ aims }) => aims),
    references,
    horizonS,
    laterS,
  );
  const { rmse, jitter, roughness } = sheet.scores(Number.NaN);
  const sum = (of: (performer: PerformerFeed, who: number) => number) =>
    performers.reduce((total, performer, who) => total + of(performer, who), 0);
  return {
    squares,
    figures: {
      offM: rmse,
      stillM: jitter,
      roughness,
      gated: sum(({ gated }) => gated),
      jumps: sum(({ jumps }) => jumps),
      losses: sum(({ losses }) => losses.length),
      falseAlarms: sum((performer, who) =>
        falseAlarmsOf(performer, references[who] as Smoothed, horizonS + laterS),
      ),
      missedS,
    },
  };
}

/** Losses because of silence are never false alarms: nothing came. */
function falseAlarmsOf(
  { losses, aims }: PerformerFeed,
  smoothed: Smoothed,
  aheadS: number,
): number {
  const look = { hint: 0, x: 0, y: 0, speedMps: 0 };
  return losses.filter(({ atS, cause }) => {
    if (cause !== 'confidence-low' && cause !== 'jumped' && cause !== 'frozen') return false;
    const i = aims.nowS.indexOf(atS);
    if (i < 0 || !seenAt(smoothed, atS + aheadS, look)) return false;
    return Math.hypot((aims.xs[i] as number) - look.x, (aims.ys[i] as number) - look.y) < WELL_M;
  }).length;
}

interface Look {
  hint: number;
  x: number;
  y: number;
  speedMps: number;
}

const place = vec3(0, 0, 0);

/** Fills `look` with where the reference puts them; returns false if it can't tell. */
function seenAt(smoothed: Smoothed, atS: number, look: Look): boolean {
  const { timesS, vxs, vys, variances } = smoothed;
  if (!(atS >= (timesS[0] ?? Infinity) && atS <= (timesS.at(-1) ?? -Infinity))) return false;
  look.hint = truthAt(smoothed as Truth, atS, look.hint, place);
  const { hint } = look;
  const gapS = (timesS[hint + 1] ?? atS) - (timesS[hint] as number);
  // Variance in the middle of a gap, both ends known: q T³ / 192 for white acceleration.
  const bridged = (REFERENCE.accelerationDensity * gapS ** 3) / 192;
  if (!((variances[hint] as number) + bridged < SURE_M ** 2)) return false;
  look.x = place.x;
  look.y = place.y;
  look.speedMps = Math.hypot(vxs[hint] as number, vys[hint] as number);
  return true;
}

/** RMS distance of one setting as a share of another's, with its 90 % interval. */
export function shareOf(
  ours: Float64Array,
  theirs: Float64Array,
): Interval & { readonly share: number; readonly blocks: number } {
  const blocks: Block[] = [];
  ours.forEach((square, i) => {
    const other = theirs[i] ?? 0;
    if (square > 0 && other > 0) blocks.push({ ours: square, theirs: other });
  });
  const total = (values: readonly number[]) => values.reduce((a, b) => a + b, 0);
  const share = Math.sqrt(
    total(blocks.map(block => block.ours)) / total(blocks.map(block => block.theirs)),
  );
  return { share, blocks: blocks.length, ...ratioInterval(blocks) };
}
