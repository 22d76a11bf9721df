import type { CurveOptions } from './options.js';

export type Curve = (presence: number) => number;

/** @returns a curve from 0..1 to 0..1 that never gives anything else, whatever it is asked */
export function compileCurve(options: CurveOptions): Curve {
  const shape = shapeOf(options);
  return presence => clamp01(shape(clamp01(presence)));
}

function shapeOf(options: CurveOptions): Curve {
  switch (options) {
    case 'linear':
      return p => p;
    case 'smooth':
      return p => p * p * (3 - 2 * p);
    case 'square':
      return p => p * p;
    case 'root':
      return Math.sqrt;
    case 'switch':
      return p => (p >= 0.5 ? 1 : 0);
    default:
      return piecewise(options);
  }
}

function piecewise(points: readonly (readonly [number, number])[]): Curve {
  return p => {
    let previous = points[0];
    if (previous === undefined) return p;
    for (const point of points) {
      if (p <= point[0]) {
        const span = point[0] - previous[0];
        // No span: the first point, whose level stands for all before it.
        const share = span > 0 ? (p - previous[0]) / span : 1;
        return previous[1] + share * (point[1] - previous[1]);
      }
      previous = point;
    }
    return previous[1];
  };
}

function clamp01(value: number): number {
  return value > 0 ? Math.min(1, value) : 0;
}
