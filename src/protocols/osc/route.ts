import { type AxisMap, type AxisOrder, axisMap, isPermutation } from '../axes.js';
import { PLAIN_QUALITY, type QualityScale } from '../raw-position.js';
import {
  type AddressTemplate,
  compileTemplate,
  isPattern,
  matchPattern,
  matchTemplate,
  type TemplateErrorReason,
} from './address.js';
import { createGathering, type Gathering } from './gather.js';

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

const FEED_AXES = ['x', 'y', 'z'] as const;
type FeedAxis = (typeof FEED_AXES)[number];
/** Where 0 and 1 of an axis of the feed lie, in its unit. */
export type AxisBox = readonly [from: number, to: number];

export interface RouteOptions {
  /** An OSC address in which `{tracker}` may stand once. */
  readonly address: string;
  /**
   * With fewer than two axes it is a part of a position: an axis, or the quality, that comes in a message of its own.
   * With `each` what comes before it, once.
   */
  readonly arguments: readonly RouteArgument[];
  /** What comes again and again after the arguments, for one tracker after the other. */
  readonly each?: readonly RouteArgument[] | undefined;
  /** Metres in one unit of the feed: 0.001 for millimetres. */
  readonly unitM: number;
  readonly axes: AxisOrder;
  /** For axes of which the feed gives shares. */
  readonly box?: Readonly<Partial<Record<FeedAxis, AxisBox | undefined>>> | undefined;
  readonly quality?: QualityScale | undefined;
}

export const ROUTE_ERROR_REASONS = [
  /** The same address in an earlier route. */
  'duplicate-address',
  /** The tracker is named neither in the address nor by an argument. */
  'no-tracker',
  /** The tracker is named by both. */
  'two-trackers',
  'optional-tracker',
  /** Fewer than two of x, y and z always come: in this route, and in all that have a part of a position. */
  'too-few-axes',
  /** Routes that make one position have other units or axes. */
  'parts-differ',
  'duplicate-role',
  'optional-before-required',
  /** Of a group that comes again and again nothing may be missing. */
  'optional-in-each',
  /** What belongs to one tracker stands before `each`. */
  'outside-each',
  'unit-not-positive',
  'empty-box',
  'empty-quality',
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

/** `whole`: a message is a position; `part`: one of several that make it; `several`: it is many. */
export type RouteKind = 'whole' | 'part' | 'several';

export interface CompiledRoute {
  readonly kind: RouteKind;
  readonly template: AddressTemplate;
  readonly roles: readonly RouteRole[];
  readonly requiredCount: number;
  readonly each: readonly RouteRole[];
  readonly map: AxisMap;
  /** For x, y and z of the feed: what is added to the share, and what it is multiplied by first. */
  readonly offsets: readonly [number, number, number];
  readonly scales: readonly [number, number, number];
  readonly quality: QualityScale;
}

export interface RouteMatch {
  readonly route: CompiledRoute;
  /** '' when an argument names the tracker. */
  readonly tracker: string;
}

/** Routes in the order of the list (the first that matches wins) with a bounded cache of addresses. */
export interface RouteTable {
  readonly routes: readonly CompiledRoute[];
  readonly cache: Map<string, RouteMatch>;
  /** Positions that come in parts; undefined where none do. */
  readonly gathering: Gathering | undefined;
}

export type RouteTableResult =
  | { readonly ok: true; readonly table: RouteTable }
  | { readonly ok: false; readonly errors: readonly RouteError[] };

type Fail = (key: keyof RouteOptions, reason: RouteErrorReason, found: string) => void;

/** Checks and compiles the routes of a feed. Gives all errors at once. */
export function compileRoutes(list: readonly RouteOptions[]): RouteTableResult {
  const errors: RouteError[] = [];
  const routes: CompiledRoute[] = [];
  const seen = new Set<string>();
  const failAt =
    (route: number): Fail =>
    (key, reason, found) =>
      errors.push({ route, key, reason, found });
  list.forEach((options, index) => {
    const fail = failAt(index);
    if (seen.has(options.address)) fail('address', 'duplicate-address', options.address);
    seen.add(options.address);
    const result = compileTemplate(options.address);
    if (!result.ok) for (const e of result.errors) fail('address', e.reason, e.found);
    checkArguments(options, fail);
    checkScales(options, fail);
    const map = axisMap(options.axes, options.unitM);
    if (!isPermutation(map)) fail('axes', 'axes-not-a-permutation', options.axes.join(', '));
    if (result.ok) routes.push(compiled(options, result.template, map));
  });
  checkParts(list, failAt);
  if (errors.length > 0) return { ok: false, errors };
  const parts = list.filter(options => kindOf(options) === 'part');
  const axes = FEED_AXES.map(axis => parts.some(one => rolesOf(one.arguments).includes(axis)));
  const gathering = parts.length === 0 ? undefined : createGathering(axes);
  return { ok: true, table: { routes, cache: new Map(), gathering } };
}

function compiled(options: RouteOptions, template: AddressTemplate, map: AxisMap): CompiledRoute {
  const boxes = FEED_AXES.map(axis => options.box?.[axis] ?? [0, 1]);
  const [x, y, z] = boxes as [AxisBox, AxisBox, AxisBox];
  return {
    kind: kindOf(options),
    template,
    roles: rolesOf(options.arguments),
    requiredCount: options.arguments.filter(argument => !argument.optional).length,
    each: rolesOf(options.each ?? []),
    map,
    offsets: [x[0], y[0], z[0]],
    scales: [x[1] - x[0], y[1] - y[0], z[1] - z[0]],
    quality: options.quality ?? PLAIN_QUALITY,
  };
}

function rolesOf(layout: readonly RouteArgument[]): readonly RouteRole[] {
  return layout.map(argument => argument.role);
}

function axesThatCome(layout: readonly RouteArgument[]): readonly FeedAxis[] {
  return FEED_AXES.filter(axis => layout.some(one => one.role === axis && !one.optional));
}

export function kindOf({ each, arguments: layout }: RouteOptions): RouteKind {
  if (each !== undefined) return 'several';
  return axesThatCome(layout).length < 2 ? 'part' : 'whole';
}

function checkArguments(options: RouteOptions, fail: Fail): void {
  const { arguments: layout, each } = options;
  checkRoles([...layout, ...(each ?? [])], fail);
  const firstOptional = layout.findIndex(argument => argument.optional);
  const late =
    firstOptional < 0 ? -1 : layout.findIndex((a, i) => i > firstOptional && !a.optional);
  if (late >= 0) fail('arguments', 'optional-before-required', layout[late]?.role ?? '');
  if (each !== undefined) checkEach(layout, each, fail);
  const tracker = [...layout, ...(each ?? [])].find(({ role }) => role === 'tracker');
  if (tracker?.optional === true) fail('arguments', 'optional-tracker', 'tracker');
  const inAddress = options.address.includes('{tracker}');
  if (tracker !== undefined && inAddress) fail('arguments', 'two-trackers', 'tracker');
  // In an address that names one, all of a message would be of one tracker.
  else if (inAddress && each !== undefined) fail('each', 'two-trackers', 'tracker');
  if (tracker === undefined && !inAddress) fail('address', 'no-tracker', options.address);
}

function checkRoles(layout: readonly RouteArgument[], fail: Fail): void {
  const named = rolesOf(layout).filter(role => role !== 'ignore');
  for (const role of repeatedIn(named)) fail('arguments', 'duplicate-role', role);
}

function checkEach(
  layout: readonly RouteArgument[],
  each: readonly RouteArgument[],
  fail: Fail,
): void {
  const shared = ['ignore', 'stamp'];
  for (const { role, optional } of layout) {
    if (!shared.includes(role)) fail('arguments', 'outside-each', role);
    else if (optional) fail('arguments', 'optional-before-required', role);
  }
  for (const one of each) if (one.optional) fail('each', 'optional-in-each', one.role);
  const axes = axesThatCome(each);
  if (axes.length < 2) fail('each', 'too-few-axes', axes.join(', '));
}

function checkScales({ unitM, box, quality }: RouteOptions, fail: Fail): void {
  if (!(unitM > 0 && Number.isFinite(unitM))) fail('unitM', 'unit-not-positive', String(unitM));
  for (const axis of FEED_AXES) {
    const [from, to] = box?.[axis] ?? [0, 1];
    if (from === to) fail('box', 'empty-box', `${axis}: ${from}`);
  }
  if (quality !== undefined && quality[0] === quality[1]) {
    fail('quality', 'empty-quality', quality.join(', '));
  }
}

/** Routes with a part of a position make one together: two axes at least, in one unit. */
function checkParts(list: readonly RouteOptions[], failAt: (route: number) => Fail): void {
  const parts = list.flatMap((options, index) =>
    kindOf(options) === 'part' ? [{ options, index, axes: axesThatCome(options.arguments) }] : [],
  );
  const withAxes = parts.filter(({ axes }) => axes.length > 0);
  const together = new Set(withAxes.flatMap(({ axes }) => axes));
  // Quality or battery alone go with positions that other routes have whole.
  const hasWhole = list.some(options => kindOf(options) === 'whole');
  for (const { options, index, axes } of parts) {
    const enough = axes.length === 0 && hasWhole && isLoose(options);
    if (together.size < 2 && !enough) failAt(index)('arguments', 'too-few-axes', axes.join(', '));
    const first = withAxes[0]?.options;
    if (axes.length === 0 || first === undefined) continue;
    if (options.unitM !== first.unitM)
      failAt(index)('unitM', 'parts-differ', String(options.unitM));
    if (options.axes.join() !== first.axes.join()) {
      failAt(index)('axes', 'parts-differ', options.axes.join(', '));
    }
  }
}

/** It has something to say of a tracker: its quality, or its charge. */
function isLoose({ arguments: layout }: RouteOptions): boolean {
  return layout.some(({ role }) => role === 'quality' || role === 'battery');
}

function repeatedIn<T>(list: readonly T[]): ReadonlySet<T> {
  return new Set(list.filter((one, i) => list.indexOf(one) !== i));
}

/** Far above any tracker's name; bounds what a stranger's datagram can put on a screen or in a log. */
export const MAX_TRACKER_NAME_LENGTH = 64;
/** Addresses kept with their route. Far above the trackers of a stage; the oldest goes first. */
const MAX_CACHED_ADDRESSES = 1024;

export function routeFor(
  table: RouteTable,
  address: string,
): RouteMatch | 'no-route' | 'pattern-address' | 'tracker-name' {
  return table.cache.get(address) ?? findRoute(table, address);
}

/** The slow path, once for each address. Only addresses that have a route enter the cache. */
function findRoute(table: RouteTable, address: string): ReturnType<typeof routeFor> {
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

export function isTrackerName(text: string): boolean {
  for (let i = 0; i < text.length; i++) {
    const code = text.charCodeAt(i);
    if (code < 0x20 || code === 0x7f) return false;
  }
  return text.length > 0 && text.length <= MAX_TRACKER_NAME_LENGTH;
}
