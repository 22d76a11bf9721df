import type { Rotation } from '../stage/rotation.js';
import { rotate } from '../stage/rotation.js';
import { type Vec3, vec3 } from '../stage/vector.js';
import { Symmetric } from './symmetric.js';

/** One place in both frames, metres. */
export interface Pair {
  readonly stage: Readonly<Vec3>;
  readonly tracking: Readonly<Vec3>;
}

/** `stage = origin + scale * rotation * tracking`. */
export interface Placement {
  readonly origin: Readonly<Vec3>;
  readonly rotation: Rotation;
  readonly scale: number;
}

export interface RigidOptions {
  /** The scale that is used, or `free` for the one that fits best. */
  readonly scale: number | 'free';
  /** Turns about the vertical only: both frames are level. */
  readonly level: boolean;
}

/**
 * The rotation and the shift that bring the tracked places nearest to those of the stage: least squares
 * in closed form, by the unit quaternion (B. K. P. Horn, Closed-form solution of absolute orientation
 * using unit quaternions, J. Opt. Soc. Am. A 4, 1987). Always a proper rotation, never a mirror image.
 * A free scale is Horn's symmetric one, the ratio of the two spreads: it does not depend on the rotation,
 * so it is right even if the names of markers are mixed up.
 * @param pairs at least one; the caller makes sure that there are enough for a unique answer
 */
export function fitRigid(pairs: readonly Pair[], options: RigidOptions): Placement {
  const stageMean = meanOf(pairs.map(pair => pair.stage));
  const trackingMean = meanOf(pairs.map(pair => pair.tracking));
  const centred = pairs.map(pair => ({
    stage: minus(pair.stage, stageMean),
    tracking: minus(pair.tracking, trackingMean),
  }));
  const rotation = options.level ? turnAboutVertical(centred) : bestRotation(centred);
  const scale = options.scale === 'free' ? bestScale(centred) : options.scale;
  const turned = rotate(rotation, trackingMean, vec3(0, 0, 0));
  return {
    origin: {
      x: stageMean.x - scale * turned.x,
      y: stageMean.y - scale * turned.y,
      z: stageMean.z - scale * turned.z,
    },
    rotation,
    scale,
  };
}

/** Where a tracked place lies on the stage: stage frame, metres. */
export function placed({ origin, rotation, scale }: Placement, tracking: Readonly<Vec3>): Vec3 {
  const at = rotate(rotation, tracking, vec3(0, 0, 0));
  return vec3(origin.x + scale * at.x, origin.y + scale * at.y, origin.z + scale * at.z);
}

/** The proper rotation that turns `tracking` nearest to `stage`; both are vectors from a common point. */
export function bestRotation(pairs: readonly Pair[]): Rotation {
  let [xx, xy, xz, yx, yy, yz, zx, zy, zz] = [0, 0, 0, 0, 0, 0, 0, 0, 0];
  for (const { stage: s, tracking: t } of pairs) {
    xx += t.x * s.x;
    xy += t.x * s.y;
    xz += t.x * s.z;
    yx += t.y * s.x;
    yy += t.y * s.y;
    yz += t.y * s.z;
    zx += t.z * s.x;
    zy += t.z * s.y;
    zz += t.z * s.z;
  }
  const n = new Symmetric(4);
  n.set(0, 0, xx + yy + zz);
  n.set(0, 1, yz - zy);
  n.set(0, 2, zx - xz);
  n.set(0, 3, xy - yx);
  n.set(1, 1, xx - yy - zz);
  n.set(1, 2, xy + yx);
  n.set(1, 3, zx + xz);
  n.set(2, 2, -xx + yy - zz);
  n.set(2, 3, yz + zy);
  n.set(3, 3, -xx - yy + zz);
  const [w = 1, x = 0, y = 0, z = 0] = n.eigen().vectors[0] ?? [];
  return [
    w * w + x * x - y * y - z * z,
    2 * (x * y - w * z),
    2 * (x * z + w * y),
    2 * (x * y + w * z),
    w * w - x * x + y * y - z * z,
    2 * (y * z - w * x),
    2 * (x * z - w * y),
    2 * (y * z + w * x),
    w * w - x * x - y * y + z * z,
  ];
}

function turnAboutVertical(pairs: readonly Pair[]): Rotation {
  let [along, across] = [0, 0];
  for (const { stage: s, tracking: t } of pairs) {
    along += t.x * s.x + t.y * s.y;
    across += t.x * s.y - t.y * s.x;
  }
  const angle = Math.atan2(across, along);
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  return [c, -s, 0, s, c, 0, 0, 0, 1];
}

function bestScale(pairs: readonly Pair[]): number {
  let [onStage, inTracking] = [0, 0];
  for (const { stage, tracking } of pairs) {
    onStage += stage.x ** 2 + stage.y ** 2 + stage.z ** 2;
    inTracking += tracking.x ** 2 + tracking.y ** 2 + tracking.z ** 2;
  }
  return onStage > 0 && inTracking > 0 ? Math.sqrt(onStage / inTracking) : 1;
}

/**
 * How far places spread about their middle along their three principal directions (root mean square,
 * metres, the widest first), and these directions.
 */
export function spreadOf(places: readonly Readonly<Vec3>[]): {
  readonly lengths: readonly [number, number, number];
  readonly directions: readonly (readonly number[])[];
} {
  const middle = meanOf(places);
  const scatter = new Symmetric(3);
  for (const place of places) {
    const { x, y, z } = minus(place, middle);
    scatter.addOuter([x, y, z], 1 / places.length);
  }
  const { values, vectors } = scatter.eigen();
  const [a = 0, b = 0, c = 0] = values.map(value => Math.sqrt(Math.max(0, value)));
  return { lengths: [a, b, c], directions: vectors };
}

export function meanOf(places: readonly Readonly<Vec3>[]): Vec3 {
  const sum = vec3(0, 0, 0);
  for (const { x, y, z } of places) {
    sum.x += x / places.length;
    sum.y += y / places.length;
    sum.z += z / places.length;
  }
  return sum;
}

export function minus(a: Readonly<Vec3>, b: Readonly<Vec3>): Vec3 {
  return vec3(a.x - b.x, a.y - b.y, a.z - b.z);
}
