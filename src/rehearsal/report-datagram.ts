import { encodePacket } from '../protocols/osc/encode.js';
import { positionMessage } from '../protocols/osc/position-message.js';
import type { InputPlan } from '../show/model.js';
import { rotateBack } from '../stage/rotation.js';
import { type Vec3, vec3 } from '../stage/vector.js';

/**
 * The datagram with which a tracking system would report a tracker at a place on the stage, by the first
 * route of an input: the way back through frame, axes and unit.
 * @param unixS when it was measured, where the input takes time tags or a stamp for that
 * @param coordinates the OSC type of the coordinates: float or double
 */
export function reportDatagram(
  input: InputPlan,
  tracker: string,
  stage: Readonly<Vec3>,
  unixS: number,
  { quality = 1, coordinates = 'd' }: { quality?: number; coordinates?: 'f' | 'd' } = {},
): Buffer | undefined {
  const { origin, rotation, scale } = input;
  const route = input.routes[0];
  if (route === undefined) return undefined;
  const at = vec3(
    (stage.x - origin.x) / scale,
    (stage.y - origin.y) / scale,
    (stage.z - origin.z) / scale,
  );
  rotateBack(rotation, at, at);
  const message = positionMessage(route, tracker, at, quality, unixS, coordinates);
  return encodePacket(
    input.timeTags === 'measured' ? { timeTag: unixS, elements: [message] } : message,
  );
}
