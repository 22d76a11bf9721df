import { encodePacket } from '../protocols/osc/encode.js';
import type { OscArgument } from '../protocols/osc/library.js';
import type { RouteOptions } from '../protocols/osc/route.js';
import type { InputPlan } from '../show/model.js';
import type { Vec3 } from '../stage/vector.js';

/**
 * The datagram with which a tracking system would report a tracker at a place on the stage, by the first
 * route of an input: the way back through frame, axes and unit. Positions are sent as doubles.
 * @param unixS when it was measured, where the input takes time tags or a stamp for that
 */
export function reportDatagram(
  input: InputPlan,
  tracker: string,
  stage: Readonly<Vec3>,
  unixS: number,
): Buffer | undefined {
  const route = input.routes[0];
  if (route === undefined) return undefined;
  const at = toSensor(route, toTracking(input, stage));
  const args = route.arguments.map(({ role }): OscArgument => {
    switch (role) {
      case 'x':
      case 'y':
      case 'z':
        return { type: 'd', value: at[role] };
      case 'quality':
      case 'battery':
        return { type: 'f', value: 1 };
      case 'stamp':
        return { type: 'd', value: unixS };
      case 'tracker':
        return { type: 's', value: tracker };
      case 'ignore':
        return { type: 'i', value: 0 };
      default:
        return role satisfies never;
    }
  });
  const message = { address: route.address.replace('{tracker}', tracker), args };
  return encodePacket(
    input.timeTags === 'measured' ? { timeTag: unixS, elements: [message] } : message,
  );
}

/** `tracking = rotation^T (stage - origin) / scale` */
function toTracking({ origin, rotation: r, scale }: InputPlan, stage: Readonly<Vec3>): Vec3 {
  const [x, y, z] = [stage.x - origin.x, stage.y - origin.y, stage.z - origin.z];
  return {
    x: (r[0] * x + r[3] * y + r[6] * z) / scale,
    y: (r[1] * x + r[4] * y + r[7] * z) / scale,
    z: (r[2] * x + r[5] * y + r[8] * z) / scale,
  };
}

/** The route says which sensor axis is x, y and z; here each goes back to where it came from. */
function toSensor({ axes, unitM }: RouteOptions, tracking: Readonly<Vec3>): Vec3 {
  const out = { x: 0, y: 0, z: 0 };
  (['x', 'y', 'z'] as const).forEach((axis, i) => {
    const source = axes[i] ?? axis;
    const sensor = source.endsWith('x') ? 'x' : source.endsWith('y') ? 'y' : 'z';
    out[sensor] = (source.startsWith('-') ? -1 : 1) * (tracking[axis] / unitM);
  });
  return out;
}
