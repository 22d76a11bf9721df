import { type Assessment, ratioTo } from './assess.js';
import type { Interval } from './bootstrap.js';
import { type FrontPoint, frontErrorAt, frontOf, rivalAt } from './front.js';
import type { Scores } from './scores.js';

/** Means over several recordings. The first three are geometric means, as shares of holding: 1 = no better. */
export interface Means {
  readonly name: string;
  readonly rmse: number;
  readonly median: number;
  readonly p95: number;
  /** Geometric mean, m/s². */
  readonly roughness: number;
  /** Arithmetic mean, seconds; NaN if no recording has a lag. */
  readonly lagS: number;
}

/** The tracker beside the best of the peers, over recordings of one kind. */
export interface Comparison {
  readonly ours: Means;
  readonly peers: readonly Means[];
  readonly front: readonly FrontPoint[];
  /** The front's error at our roughness (that of the steadiest peer if none is as steady), and ours as a share of it. */
  readonly frontRmse: number;
  readonly share: number;
  /** The closest peer of the front that is no rougher than ours: each recording is compared with it. */
  readonly rival: string;
}

export function compare(files: readonly Assessment[]): Comparison {
  const ours = meansOf('ours', files, ({ ours }) => ours);
  const peers = (files[0]?.peers ?? []).map(({ name }, i) =>
    meansOf(name, files, ({ peers }) => peers[i]?.scores as Scores),
  );
  const front = frontOf(
    peers.map(({ name, rmse, roughness }) => ({ name, error: rmse, roughness })),
  );
  const frontRmse = frontErrorAt(front, ours.roughness);
  const rival = rivalAt(front, ours.roughness)?.name ?? '';
  return { ours, peers, front, frontRmse, share: ours.rmse / frontRmse, rival };
}

export type Ratio = Interval & { readonly ratio: number };

/** Ours as a share of a peer's RMSE on one recording. */
export function ratioToPeer(file: Assessment, name: string): Ratio {
  const peer = file.peers.find(one => one.name === name);
  if (peer === undefined) return { ratio: Number.NaN, low: Number.NaN, high: Number.NaN };
  return ratioTo(file, peer.squares);
}

export function ratioToHold(file: Assessment): Ratio {
  return ratioTo(file, file.holdSquares);
}

function meansOf(
  name: string,
  files: readonly Assessment[],
  pick: (file: Assessment) => Scores,
): Means {
  const share = (key: 'rmse' | 'median' | 'p95') =>
    geometricMean(files.map(file => pick(file)[key] / file.hold[key]));
  const lags = files.map(file => pick(file).lagS).filter(lag => !Number.isNaN(lag));
  return {
    name,
    rmse: share('rmse'),
    median: share('median'),
    p95: share('p95'),
    roughness: geometricMean(files.map(file => pick(file).roughness)),
    lagS: lags.reduce((sum, lag) => sum + lag, 0) / lags.length,
  };
}

/** NaN of an empty list. */
export function geometricMean(values: readonly number[]): number {
  return Math.exp(values.reduce((sum, value) => sum + Math.log(value), 0) / values.length);
}
