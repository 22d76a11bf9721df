/** The part of quadprog 1.6.1 (MIT, no types of its own) that the tests use; its arrays begin at 1. */
declare module 'quadprog' {
  export function solveQP(
    D: number[][],
    d: number[],
    A: number[][],
    b: number[],
    equalities: number,
  ): { solution: number[]; message: string };
}
