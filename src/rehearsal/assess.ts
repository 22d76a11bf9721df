import { vec3 } from '../stage/vector.js';
import { observe } from '../tracking/observe.js';
import type { TrackingOptions } from '../tracking/options.js';
import { isInRegion90, predict, reach90 } from '../tracking/predict.js';
import { createEstimate, type Sighting } from '../tracking/sighting.js';
import { createTrack } from '../tracking/track.js';
import { createPeer, type Follower, PEERS, type PeerName } from './peers.js';
import { ScoreSheet, type Scores } from './scores.js';
import { speedAt, type Truth, truthAt } from './truth.js';

/** Reports of one performer, and where they truly were. */
export interface Passage {
  readonly truth: Truth;
  /** In the order of their times. */
  readonly sightings: readonly Sighting[];
}

/** One comparison, for a plot: what was reported, predicted and true, metres. */
export interface Step {
  readonly timeS: number;
  readonly reported: readonly [number, number];
  readonly predicted: readonly [number, number];
  readonly truth: readonly [number, number];
  /** Half the extent of the 90 % region along x and y. */
  readonly reach90M: readonly [number, number];
}

export interface Assessment {
  readonly ours: Scores;
  readonly peers: Readonly<Record<PeerName, Scores>>;
}

/** Slower than this the truth stands, metres a second. */
const STANDING_MPS = 0.05;

/**
 * Predicts `aheadS` beyond each report as soon as it was seen, and compares across the floor with the
 * truth of that time, until the truth ends; nothing is left out, not the first report either. Passages
 * are followed one by one and scored together.
 */
export function assess(
  passages: readonly Passage[],
  options: TrackingOptions,
  aheadS: number,
  onStep: (step: Step) => void = () => {},
): Assessment {
  const ours = score(passages, aheadS, () => followTrack(options), onStep);
  const peers = Object.fromEntries(
    PEERS.map(name => [name, score(passages, aheadS, () => createPeer(name))]),
  ) as Record<PeerName, Scores>;
  return { ours, peers };
}

interface Region extends Follower {
  /** The 90 % region of what `at` gave last. */
  readonly region?: {
    holds(x: number, y: number): boolean;
    reach(): readonly [number, number];
  };
}

function followTrack(options: TrackingOptions): Region {
  const track = createTrack(options, 1);
  const estimate = createEstimate();
  return {
    see: sighting => {
      observe(track, sighting);
    },
    at: timeS => {
      predict(track, timeS, estimate);
      return [estimate.x, estimate.y];
    },
    region: {
      holds: (x, y) => isInRegion90(estimate, x, y),
      reach: () => reach90(estimate),
    },
  };
}

function score(
  passages: readonly Passage[],
  aheadS: number,
  create: () => Region,
  onStep: (step: Step) => void = () => {},
): Scores {
  const sheet = new ScoreSheet();
  const truly = vec3(0, 0, 0);
  for (const { truth, sightings } of passages) {
    sheet.breakOff();
    const follower = create();
    const endS = truth.timesS.at(-1) ?? Number.NEGATIVE_INFINITY;
    let hint = 0;
    for (const sighting of sightings) {
      follower.see(sighting);
      const timeS = sighting.timeS + aheadS;
      if (timeS > endS) break;
      const predicted = follower.at(timeS);
      hint = truthAt(truth, timeS, hint, truly);
      const standing = speedAt(truth, timeS, hint) < STANDING_MPS;
      const inside = follower.region?.holds(truly.x, truly.y);
      sheet.add(predicted[0], predicted[1], truly.x, truly.y, standing, inside);
      onStep({
        timeS,
        reported: [sighting.x, sighting.y],
        predicted,
        truth: [truly.x, truly.y],
        reach90M: follower.region?.reach() ?? [0, 0],
      });
    }
  }
  return sheet.scores();
}

/** A follower's figure as a share of what holding the last report gives; 1 = no better. */
export interface Ratios {
  readonly rmse: number;
  readonly p95: number;
  /** Over the files where the truth stands for long enough; NaN where it never does. */
  readonly jitter: number;
}

/** Geometric means over files of the ratios to holding. */
export function geometricMeans(
  files: readonly Assessment[],
): Readonly<Record<'ours' | Exclude<PeerName, 'hold'>, Ratios>> {
  const of = (pick: (file: Assessment) => Scores): Ratios => ({
    rmse: geometricMean(files.map(file => pick(file).rmse / file.peers.hold.rmse)),
    p95: geometricMean(files.map(file => pick(file).p95 / file.peers.hold.p95)),
    jitter: geometricMean(
      files
        .map(file => pick(file).jitter / file.peers.hold.jitter)
        .filter(ratio => !Number.isNaN(ratio)),
    ),
  });
  return {
    ours: of(file => file.ours),
    exponential: of(file => file.peers.exponential),
    oneEuro: of(file => file.peers.oneEuro),
    constantVelocity: of(file => file.peers.constantVelocity),
  };
}

/** NaN of nothing. */
function geometricMean(values: readonly number[]): number {
  return Math.exp(values.reduce((sum, value) => sum + Math.log(value), 0) / values.length);
}
