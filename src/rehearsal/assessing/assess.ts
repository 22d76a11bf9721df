import { vec3 } from '../../stage/vector.js';
import { assessConfidence, createConfidence } from '../../tracking/confidence.js';
import { observe } from '../../tracking/observe.js';
import type { TrackingOptions } from '../../tracking/options.js';
import { isInRegion90, predict, reach90 } from '../../tracking/predict.js';
import { createEstimate, type Sighting } from '../../tracking/sighting.js';
import { createTrack } from '../../tracking/track.js';
import { speedAt, type Truth, truthAt } from '../sensors/truth.js';
import { type Block, type Interval, ratioInterval } from './bootstrap.js';
import { delayOf } from './offset.js';
import {
  createPeer,
  createUngatedPeer,
  type Follower,
  PEER_SETTINGS,
  type PeerSetting,
  peerLabel,
} from './peers.js';
import { ReliabilitySheet } from './reliability.js';
import { ScoreSheet, type Scores } from './scores.js';

/** Reports of one performer, and where they truly were. */
export interface Passage {
  readonly truth: Truth;
  /** In the order of their times. */
  readonly sightings: readonly Sighting[];
}

export interface AssessTiming {
  /** From the tick to the light: how far ahead of the tick is predicted, seconds. */
  readonly horizonS: number;
  /** How long after its time in the file a report arrives, seconds: the delay of network and sensor. */
  readonly latencyS: number;
  /** How much later the times in the file are than the moments at which the places were true, seconds. */
  readonly lagS: number;
}

/** One comparison, for a plot: what was reported, predicted and true, metres. */
export interface Step {
  readonly timeS: number;
  /** undefined if no report has arrived since the tick before. */
  readonly reported: readonly [number, number] | undefined;
  readonly predicted: readonly [number, number];
  readonly truth: readonly [number, number];
  /** Half the extent of the 90 % region along x and y, metres. */
  readonly reach90M: readonly [number, number];
}

export interface PeerAssessment {
  readonly name: string;
  readonly setting: PeerSetting;
  readonly scores: Scores;
  readonly squares: Float64Array;
}

export interface Assessment {
  readonly ours: Scores;
  /** Of holding the last report, without a gate: errors are given as shares of its error. */
  readonly hold: Scores;
  readonly peers: readonly PeerAssessment[];
  /** How far the places in the file lag behind the truth, seconds; see offset.ts. */
  readonly reportsLagS: number;
  readonly reliability: ReliabilitySheet;
  /** Squared errors summed over each block of `BLOCK_S`, m²: ours and those of holding, for `ratioTo`. */
  readonly squares: Float64Array;
  readonly holdSquares: Float64Array;
  /** Total length of the truths, seconds; a truth that several passages share counts once. */
  readonly lengthS: number;
}

/** Interval between ticks, seconds. The engine ticks whether or not reports come. */
export const TICK_S = 1 / 40;
/** Below this speed the performer counts as standing, metres a second. */
const STANDING_MPS = 0.05;
/** Length of a block, seconds: errors this far apart are nearly independent. */
const BLOCK_S = 5;
/** Ticks in a longer gap of the truth are left out: a line drawn across it is a guess, seconds. */
const TRUTH_GAP_S = 2;
/** Every fourth tick is enough to find the lag from. */
const LAG_EVERY = 4;

/** A tick, and the true place (metres) at the moment at which its light arrives. */
interface Tick {
  readonly nowS: number;
  readonly x: number;
  readonly y: number;
  readonly standing: boolean;
  readonly block: number;
}

interface Take {
  readonly truth: Truth;
  readonly sightings: readonly Sighting[];
  readonly ticks: readonly Tick[];
}

/**
 * Follows each passage as the engine would. At each tick of 40 Hz it takes the reports that have arrived,
 * predicts the place at the moment of light, and compares it with the truth of that moment across the
 * floor. It goes on through gaps between reports until the truth ends, and counts from the first report.
 * Passages are followed one by one and scored together; those of the same truth share their blocks.
 */
export function assess(
  passages: readonly Passage[],
  options: TrackingOptions,
  timing: AssessTiming,
  onStep: (step: Step) => void = () => {},
  settings: readonly PeerSetting[] = PEER_SETTINGS,
): Assessment {
  const { takes, blocks } = prepare(passages, timing);
  const reliability = new ReliabilitySheet();
  const judged = (create: () => Region, look?: Look) =>
    score(takes, blocks, timing.horizonS, create, look);
  const ours = judged(() => followTrack(options), { onStep, reliability });
  const hold = judged(() => createUngatedPeer({ kind: 'hold' }));
  const truths = new Set(passages.map(({ truth }) => truth));
  return {
    ours: ours.scores,
    hold: hold.scores,
    peers: settings.map(setting => ({
      name: peerLabel(setting),
      setting,
      ...judged(() => createPeer(setting)),
    })),
    reportsLagS: delayOf(
      passages.map(({ truth, sightings }) => ({ truth, series: placesOf(sightings) })),
    ),
    reliability,
    squares: ours.squares,
    holdSquares: hold.squares,
    lengthS: [...truths].reduce((sum, truth) => sum + lastOf(truth) - (truth.timesS[0] ?? 0), 0),
  };
}

/** Our RMSE as a share of another's over the same ticks, with its 90 % interval. */
export function ratioTo(
  { squares }: Assessment,
  theirs: Float64Array,
): Interval & { readonly ratio: number } {
  const blocks: Block[] = Array.from(squares, (ours, i) => ({ ours, theirs: theirs[i] ?? 0 }));
  const sum = (values: Float64Array) => values.reduce((a, b) => a + b, 0);
  return { ratio: Math.sqrt(sum(squares) / sum(theirs)), ...ratioInterval(blocks) };
}

function prepare(
  passages: readonly Passage[],
  { horizonS, latencyS, lagS }: AssessTiming,
): { readonly takes: readonly Take[]; readonly blocks: number } {
  const firstBlocks = new Map<Truth, number>();
  let blocks = 0;
  const truly = vec3(0, 0, 0);
  const takes = passages.map(({ truth, sightings }): Take => {
    const beginS = truth.timesS[0] ?? 0;
    const endS = lastOf(truth);
    const known = firstBlocks.get(truth);
    const firstBlock = known ?? blocks;
    if (known === undefined) {
      firstBlocks.set(truth, blocks);
      blocks += Math.max(1, Math.ceil((endS - beginS) / BLOCK_S + 1e-9));
    }
    const heard = sightings.map(sighting => ({
      ...sighting,
      timeS: sighting.timeS - lagS,
      arrivalS: sighting.timeS + latencyS,
    }));
    const ticks: Tick[] = [];
    const firstS = heard[0]?.arrivalS ?? Number.POSITIVE_INFINITY;
    let hint = 0;
    for (let n = 0; ; n++) {
      const nowS = firstS + n * TICK_S;
      const atS = nowS + horizonS;
      if (!(atS <= endS)) break;
      hint = truthAt(truth, atS, hint, truly);
      const gapS = (truth.timesS[hint + 1] ?? endS) - (truth.timesS[hint] ?? beginS);
      if (gapS > TRUTH_GAP_S) continue;
      const standing = speedAt(truth, atS, hint) < STANDING_MPS;
      const block = firstBlock + Math.max(0, Math.floor((atS - beginS) / BLOCK_S));
      ticks.push({ nowS, x: truly.x, y: truly.y, standing, block });
    }
    return { truth, sightings: heard, ticks };
  });
  return { takes, blocks };
}

function lastOf(truth: Truth): number {
  return truth.timesS.at(-1) ?? Number.NEGATIVE_INFINITY;
}

function placesOf(sightings: readonly Sighting[]): Truth {
  return {
    timesS: Float64Array.from(sightings, ({ timeS }) => timeS),
    xs: Float64Array.from(sightings, ({ x }) => x),
    ys: Float64Array.from(sightings, ({ y }) => y),
    zs: Float64Array.from(sightings, ({ z }) => z),
  };
}

interface Region extends Follower {
  /** @param nowS time of the tick; the tracker needs it because it works off corrections little by little */
  at(timeS: number, nowS?: number): readonly [x: number, y: number];
  /** The 90 % region around the last answer of `at`, and the confidence in it. */
  readonly region?: {
    holds(x: number, y: number): boolean;
    reach(): readonly [number, number];
    confidence(nowS: number): number;
  };
}

function followTrack(options: TrackingOptions): Region {
  const track = createTrack(options, 1);
  const estimate = createEstimate();
  const confidence = createConfidence();
  return {
    see: sighting => {
      observe(track, sighting);
    },
    at: (timeS, nowS) => {
      predict(track, timeS, estimate, nowS);
      return [estimate.x, estimate.y];
    },
    region: {
      holds: (x, y) => isInRegion90(estimate, x, y),
      reach: () => reach90(estimate),
      confidence: nowS => assessConfidence(track, estimate, nowS, 0, confidence),
    },
  };
}

interface Look {
  readonly onStep: (step: Step) => void;
  readonly reliability: ReliabilitySheet;
}

function score(
  takes: readonly Take[],
  blocks: number,
  horizonS: number,
  create: () => Region,
  look?: Look,
): { readonly scores: Scores; readonly squares: Float64Array } {
  const sheet = new ScoreSheet(TICK_S);
  const squares = new Float64Array(blocks);
  const series = takes.map(({ truth, sightings, ticks }) => {
    sheet.breakOff();
    const follower = create();
    const places: { timesS: number[]; xs: number[]; ys: number[] } = { timesS: [], xs: [], ys: [] };
    let next = 0;
    let lastS = Number.NEGATIVE_INFINITY;
    ticks.forEach(({ nowS, x: trueX, y: trueY, standing, block }, n) => {
      // Ticks without a truth were left out: no movement is counted across them.
      if (nowS - lastS > 1.5 * TICK_S) sheet.breakOff();
      lastS = nowS;
      let reported: readonly [number, number] | undefined;
      for (; (sightings[next]?.arrivalS ?? Number.POSITIVE_INFINITY) <= nowS; next++) {
        const sighting = sightings[next] as Sighting;
        follower.see(sighting);
        reported = [sighting.x, sighting.y];
      }
      const predicted = follower.at(nowS + horizonS, nowS);
      const [x, y] = predicted;
      const inside = follower.region?.holds(trueX, trueY);
      sheet.add(x, y, trueX, trueY, standing, inside);
      const square = (x - trueX) ** 2 + (y - trueY) ** 2;
      squares[block] = (squares[block] ?? 0) + square;
      if (n % LAG_EVERY === 0) {
        places.timesS.push(nowS + horizonS);
        places.xs.push(x);
        places.ys.push(y);
      }
      if (look === undefined) return;
      look.reliability.add(follower.region?.confidence(nowS) ?? Number.NaN, Math.sqrt(square));
      look.onStep({
        timeS: nowS + horizonS,
        reported,
        predicted,
        truth: [trueX, trueY],
        reach90M: follower.region?.reach() ?? [0, 0],
      });
    });
    const [timesS, xs, ys] = [places.timesS, places.xs, places.ys].map(values =>
      Float64Array.from(values),
    ) as [Float64Array, Float64Array, Float64Array];
    return { truth, series: { timesS, xs, ys, zs: new Float64Array(xs.length) } };
  });
  return { scores: sheet.scores(delayOf(series)), squares };
}
