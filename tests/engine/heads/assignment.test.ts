import fc from 'fast-check';
import { munkres } from 'munkres';
import { expect, test } from 'vitest';
import { assign, createAssignment } from '../../../src/engine/heads/assignment.js';

/** Least sum of all ways to give each row a column of its own: what there is to try, tried. */
function exhaustive(costs: readonly (readonly number[])[]): number {
  const columns = costs[0]?.length ?? 0;
  const tryRow = (row: number, taken: number): number => {
    const own = costs[row];
    if (own === undefined) return 0;
    let least = Number.POSITIVE_INFINITY;
    for (let j = 0; j < columns; j++) {
      if ((taken >> j) & 1) continue;
      least = Math.min(least, (own[j] as number) + tryRow(row + 1, taken | (1 << j)));
    }
    return least;
  };
  return tryRow(0, 0);
}

function solved(costs: readonly (readonly number[])[]) {
  const columns = costs[0]?.length ?? 0;
  const assignment = createAssignment(costs.length, columns);
  // Used again, as in each tick.
  for (let round = 0; round < 2; round++) {
    assignment.costs.set(costs.flat());
    assign(assignment);
  }
  const { columnOf } = assignment;
  expect(new Set(columnOf).size).toBe(costs.length);
  for (const column of columnOf) expect(column).toBeGreaterThanOrEqual(0);
  return costs.reduce((sum, row, i) => sum + (row[columnOf[i] as number] as number), 0);
}

const cost = fc.oneof(fc.double({ min: 0, max: 10, noNaN: true }), fc.constantFrom(0, 1, 1e4, 1e6));
const matrix = (rows: number, columns: number) =>
  fc.array(fc.array(cost, { minLength: columns, maxLength: columns }), {
    minLength: rows,
    maxLength: rows,
  });
const small = fc
  .tuple(fc.integer({ min: 1, max: 5 }), fc.integer({ min: 0, max: 3 }))
  .chain(([rows, more]) => matrix(rows, rows + more));

test('costs what the best of all ways costs', () => {
  fc.assert(
    fc.property(small, costs => {
      expect(solved(costs)).toBeCloseTo(exhaustive(costs), 6);
    }),
    { numRuns: 400, seed: 20261130 },
  );
});

test('costs what the package munkres (MIT) finds, for 12 performers and 24 heads with a place to be left out', () => {
  fc.assert(
    fc.property(matrix(12, 36), costs => {
      const theirs = munkres(costs.map(row => [...row]));
      const sum = theirs.reduce((all, [i, j]) => all + (costs[i]?.[j] as number), 0);
      expect(solved(costs)).toBeCloseTo(sum, 4);
    }),
    { numRuns: 40, seed: 20261130 },
  );
});
