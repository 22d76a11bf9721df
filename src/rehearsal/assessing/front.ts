/** What following costs and gives: no point is better than another where it is rougher. */
export interface FrontPoint {
  readonly name: string;
  /** Error as a share of holding. */
  readonly error: number;
  /** m/s² */
  readonly roughness: number;
}

/** Those that no other beats in both, from the steadiest to the closest. */
export function frontOf(points: readonly FrontPoint[]): readonly FrontPoint[] {
  const front: FrontPoint[] = [];
  const byRoughness = [...points].sort((a, b) => a.roughness - b.roughness || a.error - b.error);
  for (const point of byRoughness) {
    if (point.error < (front.at(-1)?.error ?? Number.POSITIVE_INFINITY)) front.push(point);
  }
  return front;
}

/**
 * The front's error at a roughness: between its points in a straight line over the logarithm of roughness
 * (stricter than the steps that the points allow); the closest point's beyond the roughest, and the
 * steadiest point's below it: whoever is steadier still is no closer.
 */
export function frontErrorAt(front: readonly FrontPoint[], roughness: number): number {
  const above = front.findIndex(point => point.roughness >= roughness);
  if (above === -1) return front.at(-1)?.error ?? Number.NaN;
  const right = front[above] as FrontPoint;
  const left = front[above - 1];
  if (left === undefined || right.roughness === roughness) return right.error;
  const share = Math.log(roughness / left.roughness) / Math.log(right.roughness / left.roughness);
  return left.error + share * (right.error - left.error);
}

/** The closest of the front that is no rougher; the steadiest where all are rougher. */
export function rivalAt(front: readonly FrontPoint[], roughness: number): FrontPoint | undefined {
  return front.findLast(point => point.roughness <= roughness) ?? front[0];
}
