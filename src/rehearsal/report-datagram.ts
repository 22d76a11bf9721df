import { axisMap, toFeedAxes } from '../protocols/axes.js';
import { encodePacket } from '../protocols/osc/encode.js';
import { positionMessages } from '../protocols/osc/position-message.js';
import { encodePsnData } from '../protocols/psn/encode.js';
import { isPsnTracker } from '../protocols/psn/position.js';
import { qualityAs } from '../protocols/raw-position.js';
import type { InputPlan, PsnInputPlan, Show } from '../show/model/model.js';
import { rotateBack } from '../stage/rotation.js';
import { type Vec3, vec3 } from '../stage/vector.js';

interface ReportOptions {
  readonly quality?: number;
  /** The OSC type of the coordinates: float or double. */
  readonly coordinates?: 'f' | 'd';
  /** PosiStageNet: the frame number of the packet. */
  readonly frame?: number;
}

/**
 * The datagram with which a tracking system would report a tracker at a place on the stage (stage frame, metres), in
 * the form that the input takes: PosiStageNet, or its first OSC route (all routes that have a part, if positions come
 * in parts). It inverts the input's frame, axes and unit.
 * @param unixS when it was measured, Unix seconds; used if the input takes time tags or stamps as that time
 * @returns undefined if the input can't carry it: PosiStageNet numbers its trackers with whole numbers
 */
export function reportDatagram(
  input: InputPlan,
  tracker: string,
  stage: Readonly<Vec3>,
  unixS: number,
  { quality = 1, coordinates = 'd', frame = 0 }: ReportOptions = {},
): Buffer | undefined {
  const { origin, rotation, scale, psn } = input;
  if (!carries(input, tracker)) return undefined;
  const at = vec3(
    (stage.x - origin.x) / scale,
    (stage.y - origin.y) / scale,
    (stage.z - origin.z) / scale,
  );
  rotateBack(rotation, at, at);
  if (psn !== undefined) return psnReport(psn, Number(tracker), at, unixS, quality, frame);
  const messages = positionMessages(input.routes, tracker, at, quality, unixS, coordinates);
  const [only, ...others] = messages;
  if (only === undefined) return undefined;
  if (input.timeTags === 'due' && others.length === 0) return encodePacket(only);
  const timeTag = input.timeTags === 'measured' ? unixS : 'immediately';
  return encodePacket({ timeTag, elements: messages });
}

function psnReport(
  { axes, quality: scale, stamps }: PsnInputPlan,
  id: number,
  at: Readonly<Vec3>,
  unixS: number,
  quality: number,
  frame: number,
): Buffer | undefined {
  const timeUs = unixS * 1e6;
  const [packet] = encodePsnData({ timeUs, number: frame }, [
    {
      id,
      position: toFeedAxes(axisMap(axes, 1), at),
      validity: qualityAs(scale, quality),
      ...(stamps === 'ignored' ? {} : { timestampUs: timeUs }),
    },
  ]);
  return packet;
}

/** Whether an input can carry reports of a tracker. */
function carries({ carries: what, psn, routes }: InputPlan, tracker: string): boolean {
  if (what !== 'positions') return false;
  return psn === undefined ? routes.length > 0 : isPsnTracker(tracker);
}

/** Index of the first input that can carry reports of a tracker; -1 if there is none. */
export function inputFor({ inputs }: Show, tracker: string): number {
  return inputs.findIndex(input => carries(input, tracker));
}
