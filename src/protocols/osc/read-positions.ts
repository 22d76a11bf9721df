import { type AxisMap, toStageAxes } from '../axes.js';
import { qualityOn, type RawPosition } from '../raw-position.js';
import { type Gathered, type Gathering, gather, gatheredOf } from './gather.js';
import type { OscArgument } from './library.js';
import {
  type CompiledRoute,
  isTrackerName,
  type RouteMatch,
  type RouteRole,
  type RouteTable,
  routeFor,
} from './route.js';
import { type OscTimeTag, timeTagFromNtp } from './timetag.js';

export const POSITION_REJECT_REASONS = [
  'no-route',
  /** A pattern (OSC 1.0) that no route without `{tracker}` matches: it names no single tracker. */
  'pattern-address',
  'argument-count',
  'argument-type',
  'not-finite',
  /** Outside of the scale of the route, which goes from 0 to 1 unless it says otherwise. */
  'quality-range',
  /** Empty, longer than MAX_TRACKER_NAME_LENGTH, or with a control character. */
  'tracker-name',
  /** Of a position in parts an axis did not come. */
  'axis-missing',
] as const;
export type PositionRejectReason = (typeof POSITION_REJECT_REASONS)[number];

/** Of a charge that is 1 and was computed. */
const ROUNDING = 0.01;

export interface PositionTaker {
  /** The position is filled in anew for the next one. */
  position(raw: Readonly<RawPosition>): void;
  /** One position was dropped; its neighbours in the message are still delivered. */
  rejected(reason: PositionRejectReason): void;
}

/** Axes of the feed that the message in hand has: a bit each, and where. */
const axes = { has: 0 };
const feed: [x: number, y: number, z: number] = [0, 0, 0];

/**
 * Reads the positions of a message: one, several, or none where it has only a part of one. A sensor axis that does
 * not come is 0. Numbers may be i, f, d or h; a tracker i, h, s or S; a stamp is seconds as f or d, microseconds as
 * h, or a time tag t.
 * @param arrivalS monotonic
 */
export function readPositions(
  table: RouteTable,
  address: string,
  args: readonly OscArgument[],
  arrivalS: number,
  out: RawPosition,
  taker: PositionTaker,
): void {
  const match = routeFor(table, address);
  if (typeof match === 'string') {
    taker.rejected(match);
    return;
  }
  switch (match.route.kind) {
    case 'several':
      readSeveral(match.route, args, out, taker);
      return;
    case 'part':
      readPart(table.gathering as Gathering, match, args, arrivalS, out, taker);
      return;
    case 'whole': {
      const reason = readWhole(match, args, out);
      if (reason !== undefined) taker.rejected(reason);
      else {
        if (table.gathering !== undefined) addLoose(table.gathering, out);
        taker.position(out);
      }
      return;
    }
    default:
      match.route.kind satisfies never;
  }
}

/** A message that is one position; `out` is half written where it says why not. */
function readWhole(
  { route, tracker }: RouteMatch,
  args: readonly OscArgument[],
  out: RawPosition,
): PositionRejectReason | undefined {
  const { roles, requiredCount } = route;
  if (args.length < requiredCount || args.length > roles.length) return 'argument-count';
  clear(out, tracker);
  const reason = readArguments(route, roles, args, 0, args.length, out);
  return reason ?? place(route.map, feed, out);
}

/** Of quality and charge, what was said in messages of their own. */
function addLoose(gathering: Gathering, out: RawPosition): void {
  const loose = gathering.trackers.get(out.tracker);
  if (loose === undefined) return;
  out.quality ??= loose.quality;
  if (out.battery !== undefined || out.batteryOutside !== undefined) return;
  out.battery = loose.battery;
  out.batteryOutside = loose.batteryOutside;
}

function readPart(
  gathering: Gathering,
  { route, tracker }: RouteMatch,
  args: readonly OscArgument[],
  arrivalS: number,
  out: RawPosition,
  taker: PositionTaker,
): void {
  const { roles, requiredCount } = route;
  clear(out, tracker);
  const fits = args.length >= requiredCount && args.length <= roles.length;
  const reason = fits ? readArguments(route, roles, args, 0, args.length, out) : 'argument-count';
  if (reason !== undefined) {
    taker.rejected(reason);
    return;
  }
  const gathered = gatheredOf(gathering, out.tracker);
  keep(gathered, out);
  if (axes.has === 0) return;
  const came = gather(gathering, out.tracker, gathered, axes.has, feed, arrivalS);
  if (came === 'begun-anew') taker.rejected('axis-missing');
  if (came !== 'whole') return;
  out.quality = gathered.quality;
  out.battery = gathered.battery;
  out.batteryOutside = gathered.batteryOutside;
  out.stampS = gathered.stampS;
  gathered.stampS = undefined;
  const fault = place(route.map, gathered.at, out);
  if (fault !== undefined) taker.rejected(fault);
  else taker.position(out);
}

function keep(gathered: Gathered, out: RawPosition): void {
  gathered.stampS = out.stampS ?? gathered.stampS;
  gathered.quality = out.quality ?? gathered.quality;
  if (out.battery === undefined && out.batteryOutside === undefined) return;
  gathered.battery = out.battery;
  gathered.batteryOutside = out.batteryOutside;
}

function readSeveral(
  route: CompiledRoute,
  given: readonly OscArgument[],
  out: RawPosition,
  taker: PositionTaker,
): void {
  const { roles, each } = route;
  // Some put each group into an array of its own.
  const args = given.some(Array.isArray) ? given.flat(1) : given;
  const groups = (args.length - roles.length) / each.length;
  if (groups < 0 || !Number.isInteger(groups)) {
    taker.rejected('argument-count');
    return;
  }
  clear(out, '');
  const wrong = readArguments(route, roles, args, 0, roles.length, out);
  if (wrong !== undefined) {
    taker.rejected(wrong);
    return;
  }
  const sharedStampS = out.stampS;
  for (let group = 0; group < groups; group++) {
    clear(out, '');
    out.stampS = sharedStampS;
    const from = roles.length + group * each.length;
    const reason =
      readArguments(route, each, args, from, each.length, out) ?? place(route.map, feed, out);
    if (reason === undefined) taker.position(out);
    else taker.rejected(reason);
  }
}

function clear(out: RawPosition, tracker: string): void {
  out.tracker = tracker;
  out.quality = undefined;
  out.battery = undefined;
  out.batteryOutside = undefined;
  out.stampS = undefined;
}

/** Reads `count` arguments from `from` on into `out`, `feed` and `axes`. */
function readArguments(
  route: CompiledRoute,
  roles: readonly RouteRole[],
  args: readonly OscArgument[],
  from: number,
  count: number,
  out: RawPosition,
): PositionRejectReason | undefined {
  axes.has = 0;
  feed[0] = 0;
  feed[1] = 0;
  feed[2] = 0;
  for (let i = 0; i < count; i++) {
    const argument = args[from + i];
    const role = roles[i];
    if (argument === undefined || role === undefined) return 'argument-count';
    if (role === 'ignore') continue;
    if (role === 'tracker') {
      const tracker = trackerOf(argument);
      if (tracker === undefined) return 'argument-type';
      if (!isTrackerName(tracker)) return 'tracker-name';
      out.tracker = tracker;
      continue;
    }
    if (role === 'stamp') {
      const stamp = stampOf(argument);
      if (stamp === undefined) return 'argument-type';
      if (stamp === 'immediately') continue;
      if (!Number.isFinite(stamp)) return 'not-finite';
      out.stampS = stamp;
      continue;
    }
    const value = numberOf(argument);
    if (value === undefined) return 'argument-type';
    if (!Number.isFinite(value)) return 'not-finite';
    switch (role) {
      case 'x':
        take(route, 0, value);
        break;
      case 'y':
        take(route, 1, value);
        break;
      case 'z':
        take(route, 2, value);
        break;
      case 'quality':
        out.quality = qualityOn(route.quality, value);
        if (Number.isNaN(out.quality)) return 'quality-range';
        break;
      case 'battery':
        // Nothing is followed by it: a strange one is not worth losing the position for.
        if (value >= -ROUNDING && value <= 1 + ROUNDING)
          out.battery = Math.min(1, Math.max(0, value));
        else out.batteryOutside = value;
        break;
      default:
        return role satisfies never;
    }
  }
  return undefined;
}

function take({ offsets, scales }: CompiledRoute, axis: 0 | 1 | 2, value: number): void {
  axes.has |= 1 << axis;
  feed[axis] = offsets[axis] + value * scales[axis];
}

function place(
  map: AxisMap,
  [x, y, z]: readonly [number, number, number],
  out: RawPosition,
): 'not-finite' | undefined {
  toStageAxes(map, x, y, z, out);
  // A double near its limit can leave the range when it is scaled to metres.
  const finite = Number.isFinite(out.x) && Number.isFinite(out.y) && Number.isFinite(out.z);
  return finite ? undefined : 'not-finite';
}

/** @returns undefined where it is none */
export function numberOf(argument: OscArgument): number | undefined {
  if (!('type' in argument)) return undefined;
  switch (argument.type) {
    case 'i':
    case 'f':
    case 'd':
      return argument.value;
    case 'h':
      // Exact up to 2^53; in any unit of length that is far outside a stage.
      return argument.value.high * 2 ** 32 + (argument.value.low >>> 0);
    default:
      return undefined;
  }
}

/**
 * Seconds of the sender's clock. A time tag that says "immediately" (senders without a clock) is none.
 * An int32 is refused: of its seconds none are shorter than one, and other units are guesses.
 */
function stampOf(argument: OscArgument): OscTimeTag | undefined {
  if (!('type' in argument)) return undefined;
  switch (argument.type) {
    case 'f':
    case 'd':
      return argument.value;
    case 'h':
      return (argument.value.high * 2 ** 32 + (argument.value.low >>> 0)) * 1e-6;
    case 't':
      return timeTagFromNtp(...argument.value.raw);
    default:
      return undefined;
  }
}

function trackerOf(argument: OscArgument): string | undefined {
  if (!('type' in argument)) return undefined;
  switch (argument.type) {
    case 'i':
      return String(argument.value);
    case 'h':
      return String((BigInt(argument.value.high) << 32n) + BigInt(argument.value.low >>> 0));
    case 's':
    case 'S':
      return argument.value;
    default:
      return undefined;
  }
}
