import type { TrackingOptions } from '../../tracking/options.js';
import { type AssessTiming, assess, type Passage } from '../assessing/assess.js';
import { geometricMean } from '../assessing/summary.js';
import { drawCharts, evenMarks, label, polyline } from './chart.js';

/** From no delay at all to a slow gateway, a slow head and a slow sensor together, seconds. */
export const CURVE_HORIZONS_S = [0, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5] as const;

/** What a horizon costs, over recordings of one kind. */
export interface HorizonPoint {
  readonly horizonS: number;
  /** Geometric means of the RMSE of the tracker and of holding, metres. */
  readonly rmse: number;
  readonly holdRmse: number;
  /** Mean share of the truth within the 90 % region. */
  readonly containment90: number;
}

export interface CurveFile {
  readonly passages: readonly Passage[];
  readonly timing: AssessTiming;
}

export function horizonCurve(
  files: readonly CurveFile[],
  options: TrackingOptions,
): readonly HorizonPoint[] {
  return CURVE_HORIZONS_S.map(horizonS => {
    const results = files.map(({ passages, timing }) =>
      assess(passages, options, { ...timing, horizonS }, undefined, []),
    );
    const inside = results.reduce((sum, { ours }) => sum + ours.containment90, 0);
    return {
      horizonS,
      rmse: geometricMean(results.map(({ ours }) => ours.rmse)),
      holdRmse: geometricMean(results.map(({ hold }) => hold.rmse)),
      containment90: inside / results.length,
    };
  });
}

const INK = { ours: '#0a7d5a', hold: '#8a5a00' };

/** Error of the tracker and of holding against the horizon. */
export function drawHorizonCurves(
  curves: Readonly<Record<string, readonly HorizonPoint[]>>,
): string {
  return drawCharts(
    Object.entries(curves).map(([kind, points]) => {
      const most = Math.max(...points.flatMap(({ rmse, holdRmse }) => [rmse, holdRmse]));
      const high = Math.ceil(5.5 * most) / 5;
      const last = points.at(-1);
      return {
        title: `${kind}: what a horizon costs`,
        across: {
          label: 'from the tick to the light, seconds',
          low: 0,
          high: 0.5,
          marks: evenMarks(0, 0.5, 5),
        },
        up: {
          label: 'RMS error across the floor, metres',
          low: 0,
          high,
          marks: evenMarks(0, high, 5),
        },
        draw: ({ x, y }) =>
          [
            polyline(
              points.map(point => [x(point.horizonS), y(point.holdRmse)]),
              INK.hold,
              '5 4',
            ),
            polyline(
              points.map(point => [x(point.horizonS), y(point.rmse)]),
              INK.ours,
            ),
            label(x(0.49), y(last?.holdRmse ?? 0) - 8, 'hold', INK.hold, 'end'),
            label(x(0.49), y(last?.rmse ?? 0) + 34, 'lampwright', INK.ours, 'end'),
          ].join('\n'),
      };
    }),
  );
}
