/** One follower: how close it is, and how rough. A closer one may be rougher; both count. */
export interface FrontPoint {
  readonly name: string;
  /** RMS error as a share of that of holding. */
  readonly error: number;
  /** m/s² */
  readonly roughness: number;
}

/** The points that no other beats in both error and roughness, from the steadiest to the closest. */
export function frontOf(points: readonly FrontPoint[]): readonly FrontPoint[] {
  const front: FrontPoint[] = [];
  const byRoughness = [...points].sort((a, b) => a.roughness - b.roughness || a.error - b.error);
  for (const point of byRoughness) {
    if (point.error < (front.at(-1)?.error ?? Number.POSITIVE_INFINITY)) front.push(point);
  }
  return front;
}

/**
 * The front's error at a roughness (m/s²): interpolated linearly over the logarithm of roughness, which is
 * stricter than steps from point to point. Beyond the roughest point it is the error of the closest, and
 * below the steadiest point the error of that one: nothing steadier is closer.
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

/** The closest point of the front that is no rougher; the steadiest if all are rougher. */
export function rivalAt(front: readonly FrontPoint[], roughness: number): FrontPoint | undefined {
  return front.findLast(point => point.roughness <= roughness) ?? front[0];
}
