import fc from 'fast-check';
import { Euler, Matrix4, Quaternion, Vector3 } from 'three';
import { matrixText } from './make.js';

export const degrees = fc.double({ min: -180, max: 180, noNaN: true });

/** Any turn, and a place up to `mostM` metres away along each axis. */
export function poses(mostM: number): fc.Arbitrary<Matrix4> {
  const metres = fc.double({ min: -mostM, max: mostM, noNaN: true });
  const all = fc.tuple(degrees, degrees, degrees, metres, metres, metres);
  return all.map(([rx, ry, rz, x, y, z]) => {
    const radians = [rx, ry, rz].map(turn => (turn * Math.PI) / 180) as [number, number, number];
    const turn = new Quaternion().setFromEuler(new Euler(...radians, 'ZYX'));
    return new Matrix4().compose(new Vector3(x, y, z), turn, new Vector3(1, 1, 1));
  });
}

/** `three` keeps its matrices column by column. */
export const cell = (m: Matrix4, row: number, column: number) =>
  m.elements[4 * column + row] as number;

/** As a GDTF file writes it. */
export function asGdtf(m: Matrix4): string {
  return matrixText([0, 1, 2, 3].map(row => [0, 1, 2, 3].map(column => cell(m, row, column))));
}

/** As an MVR file writes it, in millimetres. */
export function asMvr(m: Matrix4): string {
  return matrixText([
    ...[0, 1, 2].map(axis => [0, 1, 2].map(row => cell(m, row, axis))),
    [0, 1, 2].map(row => 1000 * cell(m, row, 3)),
  ]);
}
