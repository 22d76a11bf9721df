import { type Bounds, distanceOutside, type Vec3 } from './vector.js';

/** Nothing of a show stands or hangs beyond these: the largest indoor arenas are about 200 m long (common practice). */
const FARTHEST_M = 100;
const LOWEST_M = -20;
const HIGHEST_M = 60;

const UNITS = [
  ['centimetres', 100],
  ['millimetres', 1000],
] as const;

/** Too far from the stage, or too high or low, for anything of a show. */
export function isFarOff({ x, y, z }: Readonly<Vec3>, bounds: Bounds): boolean {
  return !(metresAway(x, y, bounds) <= FARTHEST_M && z >= LOWEST_M && z <= HIGHEST_M);
}

export function metresAway(x: number, y: number, bounds: Bounds): number {
  return distanceOutside(bounds, x, y, bounds.min.z);
}

/**
 * The unit in which places that are far off as metres would be on the stage or near it; empty where none is:
 * "This looks like centimetres: divide by 100."
 */
export function unitHint(places: readonly Readonly<Vec3>[], bounds: Bounds): string {
  const sizeM = Math.max(bounds.max.x - bounds.min.x, bounds.max.y - bounds.min.y);
  const fits = UNITS.filter(([, parts]) =>
    places.every(({ x, y, z }) => {
      const isOnPlan = metresAway(x / parts, y / parts, bounds) <= sizeM;
      return isOnPlan && z / parts >= LOWEST_M && z / parts <= HIGHEST_M;
    }),
  );
  const [first] = fits;
  if (first === undefined) return '';
  const names = fits.map(([name]) => name).join(' or ');
  const divide = fits.map(([, parts]) => parts).join(' or ');
  return ` This looks like ${names}: divide by ${divide}.`;
}

/**
 * What is wrong with a table of places in the stage frame, metres, some of which are far off; undefined: nothing.
 * @param places with what people call them
 */
export function farOffFault(
  places: readonly { readonly what: string; readonly at: Readonly<Vec3> }[],
  bounds: Bounds,
): string | undefined {
  const far = places.filter(({ at }) => isFarOff(at, bounds));
  const [first] = far;
  if (first === undefined) return undefined;
  const { x, y, z } = first.at;
  const more = far.length > 1 ? `, and ${far.length - 1} more` : '';
  const hint = unitHint(
    places.map(({ at }) => at),
    bounds,
  );
  return `${first.what} at ${x}, ${y}, ${z} m is ${Math.round(metresAway(x, y, bounds))} m from the stage${more}; places are metres in the stage frame.${hint}`;
}
