import { fieldAngleOf } from '../../fixtures/keep-out.js';
import { beamDirection, compileHead } from '../../fixtures/kinematics.js';
import { rotate } from '../../stage/rotation.js';
import { type Degrees, type Radians, toRadians } from '../../stage/units.js';
import { type Vec3, vec3 } from '../../stage/vector.js';
import type { FixturePlan } from './model.js';

/** Round the edge of a beam. */
const RAYS = 24;
/** How far a beam that doesn't come down to the floor is followed, metres. */
const FARTHEST_M = 40;

/** Where the middle of a head's beam meets the floor at these physical values; undefined: nowhere, or it is no head. */
export function landsAt(plan: FixturePlan, values: readonly number[]): Vec3 | undefined {
  const { head: options, panChannel, tiltChannel } = plan;
  if (options === undefined) return undefined;
  const [pan, tilt] = [radians(values[panChannel] ?? 0), radians(values[tiltChannel] ?? 0)];
  const d = beamDirection(compileHead(options), pan, tilt, vec3(0, 0, 0));
  const { x, y, z } = options.position;
  const reach = -z / d.z;
  if (!(d.z < 0 && reach <= FARTHEST_M)) return undefined;
  return vec3(x + reach * d.x, y + reach * d.y, 0);
}

/** Where the edge of its beam meets the floor; empty where it is no head. */
export function beamOnFloor(plan: FixturePlan, values: readonly number[]): Vec3[] {
  const { head: options, profile, panChannel, tiltChannel } = plan;
  if (options === undefined) return [];
  const head = compileHead(options);
  const { zoom, perDegree, fixedDeg } = fieldAngleOf(profile);
  const half = radians((zoom < 0 ? fixedDeg : perDegree * (values[zoom] ?? 0)) / 2);
  const [pan, tilt] = [radians(values[panChannel] ?? 0), radians(values[tiltChannel] ?? 0)];
  const axis = beamDirection(head, pan, tilt, vec3(0, 0, 0));
  // The tilt axis is square to the beam, whatever the tilt.
  const across = rotate(head.rotation, vec3(Math.cos(pan), Math.sin(pan), 0), vec3(0, 0, 0));
  const up = vec3(
    axis.y * across.z - axis.z * across.y,
    axis.z * across.x - axis.x * across.z,
    axis.x * across.y - axis.y * across.x,
  );
  const { position } = head;
  return Array.from({ length: RAYS }, (_, i) => {
    const round = (2 * Math.PI * i) / RAYS;
    const [c, a, u] = [
      Math.cos(half),
      Math.sin(half) * Math.cos(round),
      Math.sin(half) * Math.sin(round),
    ];
    const d = vec3(
      c * axis.x + a * across.x + u * up.x,
      c * axis.y + a * across.y + u * up.y,
      c * axis.z + a * across.z + u * up.z,
    );
    const reach = d.z < 0 ? Math.min(FARTHEST_M, -position.z / d.z) : FARTHEST_M;
    return vec3(position.x + reach * d.x, position.y + reach * d.y, position.z + reach * d.z);
  });
}

function radians(degrees: number): Radians {
  return toRadians(degrees as Degrees);
}
