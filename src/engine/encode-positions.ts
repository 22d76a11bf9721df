import { type AxisMap, axisMap, pick } from '../protocols/axes.js';
import { encodePacket } from '../protocols/osc/encode.js';
import { type PositionOut, positionOut } from '../protocols/osc/position-out.js';
import { encodePsnData, encodePsnInfo, type PsnVector } from '../protocols/psn/encode.js';
import type { PositionsPlan } from '../show/model/model.js';
import type { PositionNow, PositionRound } from './positions-out.js';

/** One Ethernet frame, less the IPv4 and UDP headers. */
const MOST_BYTES = 1472;
const BUNDLE_HEAD_BYTES = 16;
const ELEMENT_SIZE_BYTES = 4;

/**
 * The datagrams of a round.
 * @param nowS when they are sent, monotonic seconds: the clock of the sender
 * @param frame number of the round
 */
export function encodeRound(
  plan: PositionsPlan,
  round: PositionRound,
  nowS: number,
  frame: number,
): Buffer[] {
  const map = axisMap(plan.axes, 1 / plan.unitM);
  if (plan.protocol === 'osc') return oscRound(plan, round, map);
  const trackers = plan.performers.map(({ id }, place) => {
    const { at, velocity, confidence } = round.performers[place] as PositionNow;
    return {
      id,
      position: turned(map, at),
      speed: turned(map, velocity),
      validity: confidence,
      timestampUs: round.atS * 1e6,
    };
  });
  return encodePsnData({ timeUs: nowS * 1e6, number: frame }, trackers);
}

/** The datagrams with the names, if the protocol has any. */
export function encodeNames(
  plan: PositionsPlan,
  show: string,
  nowS: number,
  frame: number,
): Buffer[] {
  if (plan.protocol === 'osc') return [];
  const names = plan.performers.map(({ id, label }) => ({ id, name: label }));
  return encodePsnInfo({ timeUs: nowS * 1e6, number: frame }, show, names);
}

function oscRound(
  plan: Extract<PositionsPlan, { protocol: 'osc' }>,
  round: PositionRound,
  map: AxisMap,
): Buffer[] {
  const messages = plan.performers.map(({ name, label, id }, place) => {
    const { state, confidence, at, velocity } = round.performers[place] as PositionNow;
    const [x, y, z] = turned(map, at);
    const [vx, vy, vz] = turned(map, velocity);
    const tracked = state === 'tracked';
    const out: PositionOut = {
      ...{ performer: name, label, id, state, confidence, tracked },
      ...{ x, y, z, vx, vy, vz },
    };
    return positionOut(plan, out);
  });
  const single = messages.map(encodePacket);
  if (!plan.bundle) return single;
  const bundles: (typeof messages)[] = [[]];
  let bytes = BUNDLE_HEAD_BYTES;
  single.forEach((one, i) => {
    const more = ELEMENT_SIZE_BYTES + one.length;
    if (bytes + more > MOST_BYTES) {
      bundles.push([]);
      bytes = BUNDLE_HEAD_BYTES;
    }
    bundles.at(-1)?.push(messages[i] as (typeof messages)[number]);
    bytes += more;
  });
  return bundles.map(elements => encodePacket({ timeTag: 'immediately', elements }));
}

function turned(map: AxisMap, [x, y, z]: readonly [number, number, number]): PsnVector {
  return [pick(map[0], x, y, z), pick(map[1], x, y, z), pick(map[2], x, y, z)];
}
