/**
 * Kleene's strong logic of three values (S. C. Kleene, Introduction to Metamathematics, 1952, par. 64):
 * no < unknown < yes; `all` is the least, `any` the greatest, `not` the mirror. Unknown stands for one of the two others,
 * and a result is unknown only where it would differ between them.
 */
export const NO = 0;
export const UNKNOWN = 1;
export const YES = 2;
export type Truth = typeof NO | typeof UNKNOWN | typeof YES;

export function both(a: Truth, b: Truth): Truth {
  return a < b ? a : b;
}

export function either(a: Truth, b: Truth): Truth {
  return a > b ? a : b;
}

export function not(a: Truth): Truth {
  return (YES - a) as Truth;
}

/** Of a statement that is surely so, possibly so, or not even that. */
export function truthOf(surely: boolean, possibly: boolean): Truth {
  return surely ? YES : possibly ? UNKNOWN : NO;
}
