import type { Finding, Path } from '../problems/problem.js';

/** The first numbers of points must grow. */
export function checkGrowth(points: readonly (readonly [number, number])[], path: Path): Finding[] {
  const back = points.findIndex(([x], i) => i > 0 && x <= (points[i - 1]?.[0] as number));
  if (back <= 0) return [];
  const what = path.at(-1) === 'curve' ? 'the curve' : 'the focus';
  return [
    {
      code: 'curve-order',
      message: `point ${back + 1} of ${what} is not greater than point ${back}; the first number must increase from point to point.`,
      path: [...path, back],
    },
  ];
}
