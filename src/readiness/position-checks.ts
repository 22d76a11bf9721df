import { placed } from '../calibration/rigid.js';
import { type AxisOrder, axisMap, toStageAxes } from '../protocols/axes.js';
import type { InputPlan, Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import { isFarOff } from '../stage/unit-guess.js';
import { type Bounds, distanceOutside, type Vec3 } from '../stage/vector.js';
import { type Check, fail, pass, warn } from './check.js';
import type { NetworkFacts } from './facts.js';
import type { FeedRecord } from './feed.js';

/** So much of what came has to lie on the stage before another unit or other axes are named as the cause. */
const FITS = 0.9;
/** Farther from the stage than so many times its size, nobody has put a tracker down there. */
const FAR_SIZES = 3;
/** Enough to judge a feed by, of each tracker. */
const MOST_LOOKED_AT = 2000;
/** What a feed sends where it does not send what the show reads, metres. */
const UNITS = [
  ['millimetres', 0.001],
  ['centimetres', 0.01],
  ['inches', 0.0254],
] as const;
const FEET = ['feet', 0.3048] as const;
/** Read in a unit so much smaller than it is, the whole stage is within a hand of the origin: nobody plays there. */
const CRAMPED_TIMES = 30;
/** And so much smaller, it is within a fingertip, where not even the trackers would lie side by side. */
const TINY_TIMES = 500;
/** Orders of the axes by which a height comes in as something else; the likely ones first. */
const ORDERS: readonly AxisOrder[] = [
  ['x', '-z', 'y'],
  ['x', 'z', 'y'],
  ['-x', 'z', 'y'],
  ['-x', '-z', 'y'],
  ['x', 'y', '-z'],
  ['x', '-y', '-z'],
  ['-x', 'y', '-z'],
];
/** Of two units the one is taken that has the trackers at the height at which they are worn; nearer than this, both. */
const SAME_HEIGHT_M = 0.1;
/** Farther than any noise. */
const WALKED_M = 1;
const AXES = ['x', 'y', 'z'] as const;

/** Where the positions of each input lie, of trackers that performers wear: a feed in another unit, or with other axes. */
export function checkPositions(show: Show, facts: NetworkFacts): Check[] {
  const worn = show.performers.flatMap(one => one.trackers.map(({ id }) => id));
  return facts.feeds.flatMap(({ input, record }) => {
    const plan = show.inputs.find(one => one.name === input);
    const ofEach = worn.map(id => placesOf(record, id));
    const places = ofEach.flat();
    if (plan === undefined || places.length === 0) return [];
    const walks = ofEach.some(some => AXES.some(axis => spanOf(some, axis) > WALKED_M));
    return [judge(show, plan, places, walks)];
  });
}

/** @param walks somebody walks about with a tracker: it does not lie on a table under the stage */
function judge(show: Show, plan: InputPlan, places: readonly Vec3[], walks: boolean): Check {
  const name = `input ${plan.name}, positions`;
  const onStage = places.map(one => placed(plan, one));
  const seen = `${enumerated(AXES.map(axis => rangeOf(onStage, axis)))} m`;
  const { bounds } = show;
  const stage = `the stage: x ${bounds.min.x} to ${bounds.max.x}, y ${bounds.min.y} to ${bounds.max.y}, z ${bounds.min.z} to ${bounds.max.z} m`;
  const isOn = (at: Readonly<Vec3>) => isOnStage(show, at);
  const off = share(onStage, at => !isOn(at));
  const fits = (other: (at: Vec3) => Vec3) =>
    share(places, at => isOn(placed(plan, other(at)))) >= FITS;
  const readM = plan.routes[0]?.unitM ?? 1;
  if (1 / readM >= CRAMPED_TIMES && fits(scaled(1 / readM)) && isSpread(places, readM)) {
    const farM = Math.max(...places.map(({ x, y, z }) => Math.hypot(x, y, z)));
    const asRead = `All of them within ${Math.ceil(100 * farM)} cm of the origin of the tracking system. They look like metres: as such they are on the stage.`;
    const act =
      'Have somebody walk, and look. The `unit` of the route in the show is likely to be m, not what it says now.';
    const says = 1 / readM >= TINY_TIMES ? fail : warn;
    return says('feed', name, asRead, act);
  }
  if (off < 0.5) return pass('feed', name, `${seen}.`);
  const found = `${percent(off)} of them off the stage: ${seen} (${stage}).`;
  const possible = unitsFor(onStage, bounds).filter(([, metres]) => fits(scaled(metres / readM)));
  const wornAtM = meanOf(show.performers.map(one => one.wornAtM));
  const offHeight = possible.map(([, metres]) => {
    const heights = places.map(at => placed(plan, scaled(metres / readM)(at)).z);
    return Math.abs(meanOf(heights) - wornAtM);
  });
  const nearestM = Math.min(...offHeight);
  const units = possible.filter((_, i) => (offHeight[i] ?? 0) <= nearestM + SAME_HEIGHT_M);
  if (units.length > 0) {
    const names = enumerated(
      units.map(([unit]) => unit),
      undefined,
      'or',
    );
    return fail(
      'feed',
      name,
      `${found} They look like ${names}: as ${units.length > 1 ? 'one of these' : 'such'} they are on the stage.`,
      plan.psn === undefined
        ? 'Set the `unit` of the route in the show (m, cm, mm, ft or in), or have the server send what the show says.'
        : 'PosiStageNet is in metres: set the unit in the tracking server, or `scale` of the input in the show.',
    );
  }
  // A height that is none is what tells of axes: whoever stands beside the stage has a height all the same.
  if (walks && share(onStage, ({ z }) => z < bounds.min.z || z > bounds.max.z) >= 0.5) {
    const orders = ORDERS.filter(order => fits(inOrder(order)));
    const [first] = orders;
    if (first !== undefined) {
      const others = orders.slice(1).map(worded);
      const isUpInY = first[2] === 'y';
      return fail(
        'feed',
        name,
        `${found} ${isUpInY ? 'y looks like the height, where the show reads z' : 'z looks as if it went down, not up'}: with \`axes: ${worded(first)}\` they are on the stage${others.length === 0 ? '' : `, and so they are with ${enumerated(others, undefined, 'or')}`}.`,
        `${isPlain(plan) ? '' : 'Reckoned from the axes that the show has now. '}Look up which way x, y and z go in the tracking system, and set \`axes\` in the show: ${plan.psn === undefined ? 'in the route' : 'in the input'}. Then have somebody walk to stage left and upstage, and look.`,
      );
    }
  }
  if (share(onStage, at => isFarOff(at, bounds)) >= 0.5) {
    return fail(
      'feed',
      name,
      `${found} Nothing of a show is that far away.`,
      'Compare the unit, the `axes`, `origin`, `turn` and `scale` in the show with those of the tracking system.',
    );
  }
  return warn(
    'feed',
    name,
    found,
    'Are the trackers on the stage? If so, `origin`, `turn` or `axes` of the input are wrong: `lampwright calibrate stage`.',
  );
}

function scaled(factor: number): (at: Vec3) => Vec3 {
  return ({ x, y, z }) => ({ x: factor * x, y: factor * y, z: factor * z });
}

/** As metres somebody would walk, or they would stand apart. */
function isSpread(places: readonly Vec3[], readM: number): boolean {
  return AXES.some(axis => spanOf(places, axis) > WALKED_M * readM);
}

/** Evenly out of what a tracker sent; tracking frame. */
function placesOf({ trackers }: FeedRecord, id: string): Vec3[] {
  const { places = [] } = trackers.get(id) ?? {};
  const reports = places.length / 3;
  const step = Math.max(1, Math.ceil(reports / MOST_LOOKED_AT));
  const found: Vec3[] = [];
  for (let i = 0; i < reports; i += step) {
    found.push({ x: places[3 * i] ?? 0, y: places[3 * i + 1] ?? 0, z: places[3 * i + 2] ?? 0 });
  }
  return found;
}

/** As the watchdog judges it. */
export function isOnStage({ bounds, watchdog }: Show, { x, y, z }: Readonly<Vec3>): boolean {
  return distanceOutside(bounds, x, y, z) <= watchdog.outOfBounds.marginM;
}

/** The units that could be the cause: feet need a walk wider than the stage, else somebody stands beside it. */
function unitsFor(places: readonly Vec3[], bounds: Bounds): readonly (readonly [string, number])[] {
  const [wideM, deepM] = [bounds.max.x - bounds.min.x, bounds.max.y - bounds.min.y];
  const farM = FAR_SIZES * Math.max(wideM, deepM);
  const isFar = ({ x, y, z }: Vec3) => distanceOutside(bounds, x, y, z) > farM;
  if (share(places, isFar) >= 0.5) return UNITS;
  const isWider = spanOf(places, 'x') > wideM || spanOf(places, 'y') > deepM;
  return isWider ? [FEET] : [];
}

function inOrder(order: AxisOrder): (at: Vec3) => Vec3 {
  const map = axisMap(order, 1);
  return ({ x, y, z }) => {
    const out = { x: 0, y: 0, z: 0 };
    toStageAxes(map, x, y, z, out);
    return out;
  };
}

/** Read with x, y and z as they come. */
function isPlain({ psn, routes }: InputPlan): boolean {
  return psn === undefined && routes.every(({ axes }) => String(axes) === 'x,y,z');
}

function worded(order: AxisOrder): string {
  return `[${order.join(', ')}]`;
}

function meanOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

function share(places: readonly Vec3[], holds: (at: Vec3) => boolean): number {
  return places.filter(holds).length / places.length;
}

function percent(part: number): string {
  return `${Math.floor(100 * part)} %`;
}

function extremes(places: readonly Vec3[], axis: (typeof AXES)[number]): [number, number] {
  return places.reduce<[number, number]>(
    ([least, most], at) => [Math.min(least, at[axis]), Math.max(most, at[axis])],
    [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY],
  );
}

function spanOf(places: readonly Vec3[], axis: (typeof AXES)[number]): number {
  const [least, most] = extremes(places, axis);
  return most - least;
}

function rangeOf(places: readonly Vec3[], axis: (typeof AXES)[number]): string {
  const [least, most] = extremes(places, axis).map(value => Number(value.toFixed(1)));
  return `${axis} ${least} to ${most}`;
}
