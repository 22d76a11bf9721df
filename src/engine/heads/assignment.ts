/**
 * The assignment of rows to columns with the least total cost, one column for each row, and at most one row for each
 * column: shortest augmenting paths with potentials (Kuhn 1955; Jonker and Volgenant 1987), O(rows^2 columns). In
 * arrays that are
 * made once: it runs in every tick.
 */
export interface Assignment {
  /** rows * columns, row by row. */
  readonly costs: Float64Array;
  /** For each row its column: there are enough of them. */
  readonly columnOf: Int32Array;
  readonly rows: number;
  readonly columns: number;
  /** Counted from 1; 0 is nobody. */
  readonly rowPotential: Float64Array;
  readonly columnPotential: Float64Array;
  readonly rowAt: Int32Array;
  readonly way: Int32Array;
  readonly least: Float64Array;
  readonly used: Uint8Array;
}

/** @param columns at least as many as rows */
export function createAssignment(rows: number, columns: number): Assignment {
  return {
    costs: new Float64Array(rows * columns),
    columnOf: new Int32Array(rows),
    rows,
    columns,
    rowPotential: new Float64Array(rows + 1),
    columnPotential: new Float64Array(columns + 1),
    rowAt: new Int32Array(columns + 1),
    way: new Int32Array(columns + 1),
    least: new Float64Array(columns + 1),
    used: new Uint8Array(columns + 1),
  };
}

/** Costs are finite. */
export function assign(assignment: Assignment): void {
  const { rows, columns, rowPotential, columnPotential, rowAt, columnOf } = assignment;
  rowPotential.fill(0);
  columnPotential.fill(0);
  rowAt.fill(0);
  for (let row = 1; row <= rows; row++) augment(assignment, row);
  for (let column = 1; column <= columns; column++) {
    const row = rowAt[column] as number;
    if (row > 0) columnOf[row - 1] = column - 1;
  }
}

/** Adds one row: the shortest path to a free column. */
function augment(assignment: Assignment, row: number): void {
  const { costs, columns, rowPotential, columnPotential, rowAt, way, least, used } = assignment;
  rowAt[0] = row;
  least.fill(Number.POSITIVE_INFINITY);
  used.fill(0);
  let column = 0;
  do {
    used[column] = 1;
    const from = rowAt[column] as number;
    let delta = Number.POSITIVE_INFINITY;
    let next = 0;
    for (let j = 1; j <= columns; j++) {
      if (used[j] === 1) continue;
      const cost = costs[(from - 1) * columns + j - 1] as number;
      const reduced = cost - (rowPotential[from] as number) - (columnPotential[j] as number);
      if (reduced < (least[j] as number)) {
        least[j] = reduced;
        way[j] = column;
      }
      if ((least[j] as number) < delta) {
        delta = least[j] as number;
        next = j;
      }
    }
    for (let j = 0; j <= columns; j++) {
      if (used[j] === 1) {
        const at = rowAt[j] as number;
        rowPotential[at] = (rowPotential[at] as number) + delta;
        columnPotential[j] = (columnPotential[j] as number) - delta;
      } else least[j] = (least[j] as number) - delta;
    }
    column = next;
  } while (rowAt[column] !== 0);
  do {
    const before = way[column] as number;
    rowAt[column] = rowAt[before] as number;
    column = before;
  } while (column !== 0);
}
