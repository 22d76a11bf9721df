import {
  type AddressTemplate,
  compileTemplate,
  isPattern,
  matchPattern,
  matchTemplate,
  type TemplateErrorReason,
} from './address.js';
import type { OscArgument } from './library.js';
import { type OscTimeTag, timeTagFromNtp } from './timetag.js';

/** What an argument of a position message means. */
export const ROUTE_ROLES = [
  'x',
  'y',
  'z',
  'quality',
  'battery',
  'stamp',
  'tracker',
  'ignore',
] as const;
export type RouteRole = (typeof ROUTE_ROLES)[number];

export interface RouteArgument {
  readonly role: RouteRole;
  /** Only the tail of a layout may be optional. */
  readonly optional: boolean;
}

export const SIGNED_AXES = ['x', '-x', 'y', '-y', 'z', '-z'] as const;
export type SignedAxis = (typeof SIGNED_AXES)[number];

export interface RouteOptions {
  /** An OSC address in which one whole part may be `{tracker}`. */
  readonly address: string;
  readonly arguments: readonly RouteArgument[];
  /** Metres in one unit of the feed: 0.001 for millimetres. */
  readonly unitM: number;
  /**
   * Which axis of the sensor feeds x, y and z of the position that goes on: [x, z, y] swaps a feed
   * whose y is up. Mirrored (left-handed) feeds are allowed, so any signs are.
   */
  readonly axes: readonly [SignedAxis, SignedAxis, SignedAxis];
}

export const ROUTE_ERROR_REASONS = [
  /** The same address in an earlier route. */
  'duplicate-address',
  /** The tracker is named neither in the address nor by an argument. */
  'no-tracker',
  /** The tracker is named by both. */
  'two-trackers',
  'optional-tracker',
  /** Fewer than two of x, y and z always come. */
  'too-few-axes',
  'duplicate-role',
  'optional-before-required',
  'unit-not-positive',
  /** `axes` names one sensor axis twice. */
  'axes-not-a-permutation',
] as const;
export type RouteErrorReason = (typeof ROUTE_ERROR_REASONS)[number] | TemplateErrorReason;

export interface RouteError {
  /** Index of the route in the list. */
  readonly route: number;
  readonly key: keyof RouteOptions;
  readonly reason: RouteErrorReason;
  /** What is at fault, for the message. */
  readonly found: string;
}

export const POSITION_REJECT_REASONS = [
  'no-route',
  /** A pattern (OSC 1.0) that no route without `{tracker}` matches: it names no single tracker. */
  'pattern-address',
  'argument-count',
  'argument-type',
  'not-finite',
  /** Quality goes from 0 to 1. */
  'quality-range',
  /** Empty, longer than {@link MAX_TRACKER_NAME_LENGTH}, or with a control character. */
  'tracker-name',
] as const;
export type PositionRejectReason = (typeof POSITION_REJECT_REASONS)[number];

/** Far above any tracker's name; bounds what a stranger's datagram can put on a screen or in a log. */
export const MAX_TRACKER_NAME_LENGTH = 64;
/** Of a charge that is 1 and was computed. */
const ROUNDING = 0.01;
/** Addresses kept with their route. Far above the trackers of a stage; the oldest goes first. */
const MAX_CACHED_ADDRESSES = 1024;

/** A position as sent: metres, axes permuted, still in the frame of the tracking system. */
export interface RawPosition {
  tracker: string;
  x: number;
  y: number;
  z: number;
  /** 0 to 1, or undefined when the feed gives none. */
  quality: number | undefined;
  /** Charge left, 0 to 1; undefined when the feed gives none, or one that is out of range. */
  battery: number | undefined;
  /** What it gave as its charge, where that is out of range: per cent, say. */
  batteryOutside: number | undefined;
  /** When it was measured, by the clock of the tracking system, seconds; or undefined when it doesn't say. */
  stampS: number | undefined;
}

export function rawPosition(): RawPosition {
  return {
    tracker: '',
    x: 0,
    y: 0,
    z: 0,
    quality: undefined,
    battery: undefined,
    batteryOutside: undefined,
    stampS: undefined,
  };
}

interface CompiledRoute {
  readonly template: AddressTemplate;
  readonly roles: readonly RouteRole[];
  readonly requiredCount: number;
  /** For x, y, z of the result: index of the sensor axis and signed metres in a unit. */
  readonly sources: readonly [AxisSource, AxisSource, AxisSource];
}

interface AxisSource {
  readonly axis: 0 | 1 | 2;
  readonly scaleM: number;
}

interface RouteMatch {
  readonly route: CompiledRoute;
  /** '' when an argument names the tracker. */
  readonly tracker: string;
}

/** Routes in the order of the list (the first that matches wins) with a bounded cache of addresses. */
export interface RouteTable {
  readonly routes: readonly CompiledRoute[];
  readonly cache: Map<string, RouteMatch>;
}

export type RouteTableResult =
  | { readonly ok: true; readonly table: RouteTable }
  | { readonly ok: false; readonly errors: readonly RouteError[] };

/** Checks and compiles the routes of a feed. Gives all errors at once. */
export function compileRoutes(list: readonly RouteOptions[]): RouteTableResult {
  const errors: RouteError[] = [];
  const routes: CompiledRoute[] = [];
  const seen = new Set<string>();
  list.forEach((options, index) => {
    const fail = (key: keyof RouteOptions, reason: RouteErrorReason, found: string) =>
      errors.push({ route: index, key, reason, found });
    if (seen.has(options.address)) fail('address', 'duplicate-address', options.address);
    seen.add(options.address);
    const result = compileTemplate(options.address);
    if (!result.ok) for (const e of result.errors) fail('address', e.reason, e.found);
    checkArguments(options, fail);
    if (!(options.unitM > 0 && Number.isFinite(options.unitM))) {
      fail('unitM', 'unit-not-positive', String(options.unitM));
    }
    const sources = options.axes.map(axis => axisSource(axis, options.unitM));
    if (new Set(sources.map(source => source.axis)).size !== 3) {
      fail('axes', 'axes-not-a-permutation', options.axes.join(', '));
    }
    const [x, y, z] = sources;
    if (!result.ok || x === undefined || y === undefined || z === undefined) return;
    routes.push({
      template: result.template,
      roles: options.arguments.map(argument => argument.role),
      requiredCount: options.arguments.filter(argument => !argument.optional).length,
      sources: [x, y, z],
    });
  });
  if (errors.length > 0) return { ok: false, errors };
  return { ok: true, table: { routes, cache: new Map() } };
}

function checkArguments(
  options: RouteOptions,
  fail: (key: keyof RouteOptions, reason: RouteErrorReason, found: string) => void,
): void {
  const layout = options.arguments;
  const named = layout.filter(argument => argument.role !== 'ignore').map(a => a.role);
  for (const role of new Set(named.filter((r, i) => named.indexOf(r) !== i))) {
    fail('arguments', 'duplicate-role', role);
  }
  const required = layout.filter(argument => !argument.optional).map(a => a.role);
  const axes = (['x', 'y', 'z'] as const).filter(axis => required.includes(axis));
  if (axes.length < 2) fail('arguments', 'too-few-axes', axes.join(', '));
  const firstOptional = layout.findIndex(argument => argument.optional);
  const late =
    firstOptional < 0 ? -1 : layout.findIndex((a, i) => i > firstOptional && !a.optional);
  if (late >= 0) fail('arguments', 'optional-before-required', layout[late]?.role ?? '');
  const inArguments = named.includes('tracker');
  const inAddress = options.address.includes('{tracker}');
  if (inArguments && !required.includes('tracker'))
    fail('arguments', 'optional-tracker', 'tracker');
  if (inArguments && inAddress) fail('arguments', 'two-trackers', 'tracker');
  if (!inArguments && !inAddress) fail('address', 'no-tracker', options.address);
}

function axisSource(axis: SignedAxis, unitM: number): AxisSource {
  const index = axis.endsWith('x') ? 0 : axis.endsWith('y') ? 1 : 2;
  return { axis: index, scaleM: axis.startsWith('-') ? -unitM : unitM };
}

/**
 * Reads a position message into `out`, or says why not (`out` is then half written). A sensor axis
 * that the message does not carry is 0. Numbers may be i, f, d or h; a tracker i, h, s or S; a stamp is
 * seconds as f or d, microseconds as h, or a time tag t.
 */
export function readPosition(
  table: RouteTable,
  address: string,
  args: readonly OscArgument[],
  out: RawPosition,
): PositionRejectReason | undefined {
  const match = table.cache.get(address) ?? findRoute(table, address);
  if (typeof match === 'string') return match;
  const { roles, requiredCount, sources } = match.route;
  if (args.length < requiredCount || args.length > roles.length) return 'argument-count';
  out.tracker = match.tracker;
  out.quality = undefined;
  out.battery = undefined;
  out.batteryOutside = undefined;
  out.stampS = undefined;
  let [x, y, z] = [0, 0, 0];
  for (let i = 0; i < args.length; i++) {
    const argument = args[i];
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
        x = value;
        break;
      case 'y':
        y = value;
        break;
      case 'z':
        z = value;
        break;
      case 'quality':
        if (value < 0 || value > 1) return 'quality-range';
        out.quality = value;
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
  out.x = pick(sources[0], x, y, z);
  out.y = pick(sources[1], x, y, z);
  out.z = pick(sources[2], x, y, z);
  // A double near its limit can leave the range when it is scaled to metres.
  const finite = Number.isFinite(out.x) && Number.isFinite(out.y) && Number.isFinite(out.z);
  return finite ? undefined : 'not-finite';
}

/** The slow path, once for each address. Only addresses that have a route enter the cache. */
function findRoute(table: RouteTable, address: string): RouteMatch | PositionRejectReason {
  const pattern = isPattern(address);
  for (const route of table.routes) {
    const { template } = route;
    const tracker = pattern
      ? !template.hasTracker && matchPattern(address, template.text)
        ? ''
        : undefined
      : matchTemplate(template, address);
    if (tracker === undefined) continue;
    if (template.hasTracker && !isTrackerName(tracker)) return 'tracker-name';
    const match = { route, tracker };
    if (table.cache.size >= MAX_CACHED_ADDRESSES) {
      for (const oldest of table.cache.keys()) {
        table.cache.delete(oldest);
        break;
      }
    }
    table.cache.set(address, match);
    return match;
  }
  return pattern ? 'pattern-address' : 'no-route';
}

function isTrackerName(text: string): boolean {
  for (let i = 0; i < text.length; i++) {
    const code = text.charCodeAt(i);
    if (code < 0x20 || code === 0x7f) return false;
  }
  return text.length > 0 && text.length <= MAX_TRACKER_NAME_LENGTH;
}

/** Adding 0 turns -0 into 0. */
function pick(source: AxisSource, x: number, y: number, z: number): number {
  return (source.axis === 0 ? x : source.axis === 1 ? y : z) * source.scaleM + 0;
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
