/**
 * A symmetric matrix of a few rows, for least squares: added to, decomposed, inverted. Small and off
 * the hot path, so written to be read.
 */
export class Symmetric {
  readonly #cells: Float64Array;

  constructor(readonly size: number) {
    this.#cells = new Float64Array(size * size);
  }

  static diagonal(values: readonly number[]): Symmetric {
    const matrix = new Symmetric(values.length);
    values.forEach((value, i) => {
      matrix.set(i, i, value);
    });
    return matrix;
  }

  at(row: number, column: number): number {
    return this.#cells[row * this.size + column] ?? 0;
  }

  set(row: number, column: number, value: number): void {
    this.#cells[row * this.size + column] = value;
    this.#cells[column * this.size + row] = value;
  }

  /** Adds `weight * v v'`. */
  addOuter(v: readonly number[], weight = 1): void {
    for (let i = 0; i < this.size; i++) {
      for (let j = 0; j <= i; j++) {
        this.set(i, j, this.at(i, j) + weight * (v[i] ?? 0) * (v[j] ?? 0));
      }
    }
  }

  copy(): Symmetric {
    const copy = new Symmetric(this.size);
    copy.#cells.set(this.#cells);
    return copy;
  }

  trace(): number {
    let sum = 0;
    for (let i = 0; i < this.size; i++) sum += this.at(i, i);
    return sum;
  }

  /** `a' M b`. */
  form(a: readonly number[], b: readonly number[] = a): number {
    let sum = 0;
    for (let i = 0; i < this.size; i++) {
      for (let j = 0; j < this.size; j++) sum += (a[i] ?? 0) * this.at(i, j) * (b[j] ?? 0);
    }
    return sum;
  }

  /** `M v`. */
  times(v: readonly number[]): number[] {
    return Array.from({ length: this.size }, (_, i) => {
      let sum = 0;
      for (let j = 0; j < this.size; j++) sum += this.at(i, j) * (v[j] ?? 0);
      return sum;
    });
  }

  /** Only the rows and columns `indices`. */
  part(indices: readonly number[]): Symmetric {
    const part = new Symmetric(indices.length);
    indices.forEach((row, i) => {
      indices.forEach((column, j) => {
        part.set(i, j, this.at(row, column));
      });
    });
    return part;
  }

  /** The inverse by eigenvalues; undefined unless the matrix is positive definite. */
  inverse(): Symmetric | undefined {
    const { values, vectors } = this.eigen();
    const largest = Math.max(...values);
    // Rounding turns an eigenvalue of 0 into about 1e-16 of the largest.
    if (!values.every(value => value > 1e-14 * largest)) return undefined;
    const inverse = new Symmetric(this.size);
    values.forEach((value, k) => {
      inverse.addOuter(vectors[k] ?? [], 1 / value);
    });
    return inverse;
  }

  /**
   * Eigenvalues, the largest first, each with its unit vector: cyclic Jacobi rotations (Golub and
   * Van Loan, Matrix Computations, 8.5).
   */
  eigen(): { readonly values: readonly number[]; readonly vectors: readonly number[][] } {
    const n = this.size;
    const a = this.copy();
    const v = Array.from({ length: n }, (_, i) =>
      Array.from({ length: n }, (_, j) => (i === j ? 1 : 0)),
    );
    for (let sweep = 0; sweep < MOST_SWEEPS; sweep++) {
      let off = 0;
      let all = 0;
      for (let i = 0; i < n; i++) {
        for (let j = 0; j < n; j++) {
          all += a.at(i, j) ** 2;
          if (i !== j) off += a.at(i, j) ** 2;
        }
      }
      if (off <= 1e-32 * all) break;
      for (let p = 0; p < n - 1; p++) {
        for (let q = p + 1; q < n; q++) turnAway(a, v, p, q);
      }
    }
    const order = Array.from({ length: n }, (_, i) => i).sort((i, j) => a.at(j, j) - a.at(i, i));
    return {
      values: order.map(i => a.at(i, i)),
      vectors: order.map(i => v.map(row => row[i] ?? 0)),
    };
  }
}

/** Converges quadratically: ten sweeps are plenty for eight rows. */
const MOST_SWEEPS = 30;

/** One Jacobi rotation: makes the cell (p, q) zero; keeps the vectors in step. */
function turnAway(a: Symmetric, v: number[][], p: number, q: number): void {
  const apq = a.at(p, q);
  if (apq === 0) return;
  const theta = (a.at(q, q) - a.at(p, p)) / (2 * apq);
  const t = Math.sign(theta || 1) / (Math.abs(theta) + Math.sqrt(theta * theta + 1));
  const c = 1 / Math.sqrt(t * t + 1);
  const s = t * c;
  const [app, aqq] = [a.at(p, p), a.at(q, q)];
  for (let k = 0; k < a.size; k++) {
    if (k === p || k === q) continue;
    const [akp, akq] = [a.at(k, p), a.at(k, q)];
    a.set(k, p, c * akp - s * akq);
    a.set(k, q, s * akp + c * akq);
  }
  a.set(p, p, app - t * apq);
  a.set(q, q, aqq + t * apq);
  a.set(p, q, 0);
  for (const row of v) {
    const [vp, vq] = [row[p] ?? 0, row[q] ?? 0];
    row[p] = c * vp - s * vq;
    row[q] = s * vp + c * vq;
  }
}
