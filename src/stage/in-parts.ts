/** So many at once: of the costliest that there are, some milliseconds. */
const IN_A_PART = 25;

/** As `map` of arrays, some at a time, for whoever has something to do in between. */
export function* mapInParts<T, R>(
  all: readonly T[],
  of: (one: T, index: number) => R,
  inAPart = IN_A_PART,
): Generator<undefined, R[]> {
  const results: R[] = [];
  for (const [index, one] of all.entries()) {
    if (index % inAPart === inAPart - 1) yield;
    results.push(of(one, index));
  }
  return results;
}

/** All parts at once, for whoever has nothing else to do. */
export function whole<T>(parts: Generator<undefined, T>): T {
  for (;;) {
    const { done, value } = parts.next();
    if (done === true) return value;
  }
}
