/** A point or direction in the stage frame: right-handed, metres, x to stage left, y upstage, z up. */
export interface Vec3 {
  x: number;
  y: number;
  z: number;
}

export function vec3(x: number, y: number, z: number): Vec3 {
  return { x, y, z };
}

export function distance(a: Readonly<Vec3>, b: Readonly<Vec3>): number {
  return Math.hypot(a.x - b.x, a.y - b.y, a.z - b.z);
}

/** A closed box with its sides along the axes, metres. */
export interface Bounds {
  readonly min: Readonly<Vec3>;
  readonly max: Readonly<Vec3>;
}

/** Distance in metres from a point to the box; 0 inside and on its faces. */
export function distanceOutside(bounds: Bounds, x: number, y: number, z: number): number {
  const dx = Math.max(bounds.min.x - x, 0, x - bounds.max.x);
  const dy = Math.max(bounds.min.y - y, 0, y - bounds.max.y);
  const dz = Math.max(bounds.min.z - z, 0, z - bounds.max.z);
  // Nearly always inside; and Math.hypot, which guards against squares that overflow, is several times slower.
  return dx === 0 && dy === 0 && dz === 0 ? 0 : Math.sqrt(dx * dx + dy * dy + dz * dz);
}
