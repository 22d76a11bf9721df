/** For each new item its place among the old ones; -1: it was not there. */
export type Places = readonly number[];

/** By name. */
export function placesIn(
  old: readonly { readonly name: string }[],
  next: readonly { readonly name: string }[],
): Places {
  const places = new Map(old.map(({ name }, index) => [name, index]));
  return next.map(({ name }) => places.get(name) ?? -1);
}

interface Rows {
  readonly [key: string]: unknown;
}

/** Carries the rows of items that are still there from old arrays to new ones; also in objects of such arrays. */
export function takeRows(to: Rows, from: Rows, places: Places): void {
  for (const key of Object.keys(to)) {
    const [rows, was] = [to[key], from[key]];
    if (rows instanceof Float64Array || rows instanceof Uint8Array) {
      if (!(was instanceof Float64Array || was instanceof Uint8Array)) continue;
      places.forEach((place, row) => {
        if (place >= 0) rows[row] = was[place] as number;
      });
    } else if (isRows(rows) && isRows(was)) takeRows(rows, was, places);
  }
}

function isRows(value: unknown): value is Rows {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
