import { distance, type Vec3, vec3 } from '../stage/vector.js';
import type { Finding } from './finding.js';
import type { FrameFit, FrameOptions, Marker, MarkerResult, TapedDistance } from './frame-data.js';
import { diagnose, inLine } from './frame-faults.js';
import { fitRigid, meanOf, type Placement, placed } from './rigid.js';
import { Symmetric } from './symmetric.js';

/** Standard deviation of one axis of a place taped out with care, metres (common practice). */
export const TAPE_M = 0.01;
/** Distances are listed between this many markers at most: 15 lines, which fit a screen. */
const MOST_LISTED = 6;

/**
 * Fits the tracking frame to the stage frame and judges the result. If the markers can't give a frame at
 * all, only the findings are returned.
 */
export function fitFrame(
  markers: readonly Marker[],
  options: FrameOptions,
):
  | { readonly ok: true; readonly fit: FrameFit }
  | { readonly ok: false; readonly findings: readonly Finding[] } {
  const used = markers.filter(marker => marker.use === 'fit');
  const impossible = inLine(used, options);
  if (impossible !== undefined) return { ok: false, findings: [impossible] };

  const scale = options.fitScale ? 'free' : options.now.scale;
  const placement = fitRigid(used, { scale, level: options.level });
  const results = markers.map((marker): MarkerResult => {
    const at = placed(placement, marker.tracking);
    return {
      name: marker.name,
      use: marker.use,
      stage: marker.stage,
      placed: at,
      offM: distance(at, marker.stage),
      offHorizontalM: Math.hypot(at.x - marker.stage.x, at.y - marker.stage.y),
      offVerticalM: at.z - marker.stage.z,
      nowOffM: distance(placed(options.now, marker.tracking), marker.stage),
    };
  });
  const fitted = results.filter(result => result.use === 'fit');
  const squares = sum(fitted.map(({ offM }) => offM ** 2));
  const deviationM = deviationOf(used, squares, options);
  const covariance = covarianceOf(used, placement, options.level, deviationM);
  const fit: Omit<FrameFit, 'findings'> = {
    placement,
    markers: results,
    rmsM: Math.sqrt(squares / fitted.length),
    scale: scaleOf(used, options),
    distances: distancesOf(markers, options.now.scale),
    tilt: Math.acos(Math.min(1, Math.max(-1, placement.rotation[8]))),
    turnErrors: turnErrorsOf(covariance, options.level),
    worstCornerM: worstCorner(covariance, options),
  };
  return { ok: true, fit: { ...fit, findings: diagnose(markers, fit, deviationM, options) } };
}

/**
 * Standard deviation of one axis of one marker, metres: from the residuals, but at least the scatter of the
 * reports and of the tape.
 */
function deviationOf(used: readonly Marker[], squares: number, { level, fitScale }: FrameOptions) {
  const known = sum(used.map(({ errorM }) => errorM ** 2)) / used.length + TAPE_M ** 2;
  const freedom = 3 * used.length - (level ? 4 : 6) - (fitScale ? 1 : 0);
  return Math.sqrt(Math.max(known, freedom > 0 ? squares / freedom : 0));
}

/** Rows of the Jacobian of a placed point: shift of the stage's origin, small turns about x, y, z. */
function rowsAt({ x, y, z }: Readonly<Vec3>, level: boolean): number[][] {
  const all = [
    [1, 0, 0, 0, z, -y],
    [0, 1, 0, -z, 0, x],
    [0, 0, 1, y, -x, 0],
  ];
  return level ? all.map(row => [row[0] ?? 0, row[1] ?? 0, row[2] ?? 0, row[5] ?? 0]) : all;
}

function covarianceOf(
  used: readonly Marker[],
  placement: Placement,
  level: boolean,
  deviationM: number,
): Symmetric | undefined {
  const information = new Symmetric(level ? 4 : 6);
  for (const { tracking } of used) {
    for (const row of rowsAt(placed(placement, tracking), level)) {
      information.addOuter(row, 1 / deviationM ** 2);
    }
  }
  return information.inverse();
}

function turnErrorsOf(
  covariance: Symmetric | undefined,
  level: boolean,
): readonly [number, number, number] {
  const at = (i: number) =>
    covariance === undefined ? Number.POSITIVE_INFINITY : Math.sqrt(covariance.at(i, i));
  return level ? [0, 0, at(3)] : [at(3), at(4), at(5)];
}

function worstCorner(covariance: Symmetric | undefined, { bounds, level }: FrameOptions): number {
  if (covariance === undefined) return Number.POSITIVE_INFINITY;
  const { min, max } = bounds;
  let worst = 0;
  for (const x of [min.x, max.x]) {
    for (const y of [min.y, max.y]) {
      const rows = rowsAt(vec3(x, y, 0), level);
      const variance = sum(rows.map(row => covariance.form(row)));
      worst = Math.max(worst, Math.sqrt(variance));
    }
  }
  return worst;
}

/** Scale of the tracking system's own metres, whatever scale the show has now. */
function scaleOf(used: readonly Marker[], options: FrameOptions): FrameFit['scale'] {
  const free = fitRigid(used, { scale: 'free', level: options.level });
  const left = used.map(one => distance(placed(free, one.tracking), one.stage) ** 2);
  const deviationM = deviationOf(used, sum(left), { ...options, fitScale: true });
  const middle = meanOf(used.map(one => one.tracking));
  const spread = sum(used.map(one => distance(one.tracking, middle) ** 2));
  return { ratio: free.scale, error: deviationM / Math.sqrt(spread) };
}

function sum(values: readonly number[]): number {
  return values.reduce((a, b) => a + b, 0);
}

function distancesOf(markers: readonly Marker[], scale: number): TapedDistance[] {
  if (markers.length > MOST_LISTED) return [];
  return markers.flatMap((from, i) =>
    markers.slice(i + 1).map(to => ({
      from: from.name,
      to: to.name,
      tapedM: distance(from.stage, to.stage),
      trackedM: scale * distance(from.tracking, to.tracking),
    })),
  );
}
