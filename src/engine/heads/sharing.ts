import { clearance } from '../../fixtures/keep-out.js';
import { aimAt, panTilt } from '../../fixtures/kinematics.js';
import { keepOutOf } from '../../show/model/keep-out.js';
import { assign, createAssignment } from './assignment.js';
import {
  believed,
  byOrder,
  type Choices,
  type Chooser,
  type Pool,
  type Seen,
  shows,
} from './chooser.js';

/** Costs of a head on a performer: 1 is ten metres of throw, or light from the side instead of from the front. */
const COST = {
  metresOfThrow: 10,
  change: 0.5,
  intoEyes: 2,
  barred: 1e3,
  unserved: 1e4,
  never: 1e6,
} as const;
/**
 * A cost may be this many ticks old at most: a tenth of a second. For the performer a head is on, and for anybody
 * without a head, the cost is always the present one.
 */
const EVERY = 4;
/** McCandless, A Method of Lighting the Stage (1932; from memory): 45 degrees up. Below 20 it is in the eyes: common practice. */
const [BEST_RAD, EYES_RAD] = [Math.PI / 4, Math.PI / 9];

/** A beam at the end of its pan or tilt still catches somebody this far beyond: 40 cm at 8 m. */
const BEYOND_RAD = Math.PI / 60;
/** How far from a keep-out a head has to be to get somebody: where it would come up again. */
const CLEAR_RAD = Math.PI / 180;

/** The heads of one mapping serve its group together. */
export function createPools(all: readonly Chooser[]): Pool[] {
  const byPool = new Map<number, Chooser[]>();
  for (const one of all) {
    if (one.choice.rule.kind !== 'share') continue;
    const { pool } = one.choice.rule;
    byPool.set(pool, [...(byPool.get(pool) ?? []), one]);
  }
  return [...byPool.values()].map(heads => {
    const people = heads[0]?.choice.people.length ?? 0;
    const away = new Float64Array(people * heads.length).fill(Number.NaN);
    const assignment = createAssignment(people, heads.length + people);
    return { heads, assignment, away, turn: 0, isStale: false };
  });
}

/**
 * A show may have a pool for each of many cues. Those that act are looked at in every tick, the others in turn, so that
 * they know whom their heads would be on when their cue comes.
 */
export function sharePools(choices: Choices, seen: Seen): void {
  const { pools } = choices;
  choices.turn = (choices.turn + 1) % Math.max(1, pools.length);
  // The next one that does not act.
  for (let i = 0; i < pools.length && acts(pools[choices.turn] as Pool, seen); i++) {
    choices.turn = (choices.turn + 1) % pools.length;
  }
  for (let i = 0; i < pools.length; i++) {
    const pool = pools[i] as Pool;
    const rests = i !== choices.turn && !acts(pool, seen);
    for (const head of pool.heads) head.rests = rests;
    if (rests) pool.isStale = true;
    else share(pool, seen);
  }
}

/** Some head follows by it in the cue that is on. */
function acts({ heads }: Pool, { aims }: Seen): boolean {
  for (const { light, of } of heads) if (aims.followedBy[light] === of) return true;
  return false;
}

/** The best assignment of the believed performers to the available heads. */
function share(pool: Pool, seen: Seen): void {
  const { heads, assignment, away } = pool;
  const { costs, columns, columnOf, rows } = assignment;
  pool.turn = (pool.turn + 1) % EVERY;
  if (pool.isStale) away.fill(Number.NaN);
  pool.isStale = false;
  for (let i = 0; i < rows; i++) {
    const row = i * columns;
    const [any] = heads;
    const isThere = any !== undefined && believed(any, seen, i) && !hasByOrder(heads, i);
    costs.fill(COST.never, row, row + columns);
    costs[row + heads.length + i] = isThere ? COST.unserved : 0;
    const own = i * heads.length;
    const hasNone = (columnOf[i] as number) >= heads.length;
    const isDue = !isThere || hasNone || i % EVERY === pool.turn;
    if (isDue) away.fill(Number.NaN, own, own + heads.length);
    if (!isThere) continue;
    for (let h = 0; h < heads.length; h++) {
      const head = heads[h] as Chooser;
      const { current, forS, choice } = head;
      if (head.pinned >= 0) continue;
      if (current === i) {
        costs[row + h] = costOf(head, seen, i);
        away[own + h] = Number.NaN;
        continue;
      }
      // A head that was just given to somebody, or is on somebody lost and not yet dark, is not available.
      const isFree =
        current < 0 || (believed(head, seen, current) ? forS >= choice.holdS : !shows(head, seen));
      if (!isFree) continue;
      if (Number.isNaN(away[own + h])) away[own + h] = costOf(head, seen, i);
      costs[row + h] = COST.change + (away[own + h] as number);
    }
  }
  assign(assignment);
  for (const head of heads) head.wanted = head.pinned < 0 ? -1 : byOrder(head, seen);
  for (let i = 0; i < rows; i++) {
    const head = heads[columnOf[i] as number];
    if (head !== undefined && (costs[i * columns + (columnOf[i] as number)] ?? 0) < COST.unserved) {
      head.wanted = i;
    }
  }
}

/** They need no other. */
function hasByOrder(heads: readonly Chooser[], i: number): boolean {
  for (const { pinned } of heads) if (pinned === i) return true;
  return false;
}

const aimed = panTilt();

/** How well a head suits a performer. */
export interface Fit {
  cost: number;
  /** The point to aim at is beyond the end of its pan or tilt. */
  outOfReach: boolean;
  /** Index of the keep-out that its beam would touch, or be near to, there; -1 for none. */
  keepOut: number;
}

const fit: Fit = { cost: 0, outOfReach: false, keepOut: -1 };

/** Cost of a head on a performer: by throw and angle; out of reach, or into a keep-out, costs more than everything else together. */
export function costOf(one: Chooser, seen: Seen, i: number): number {
  fitOf(one, seen, i, fit);
  return fit.cost;
}

/** The same, with what rules it out. */
export function fitOf(one: Chooser, seen: Seen, i: number, into: Fit): void {
  into.outOfReach = false;
  into.keepOut = -1;
  into.cost = costWith(one, seen, i, into);
}

function costWith(
  { plan, light, follows, current }: Chooser,
  seen: Seen,
  i: number,
  against: Fit,
): number {
  const follow = follows[i];
  if (plan.head === undefined || follow === undefined) return COST.never;
  const { estimate, offset } = follow;
  const pointing = seen.aims.pointings[light];
  if (pointing === undefined) return COST.never;
  const { head } = pointing;
  const [x, y, z] = [estimate.x + offset.x, estimate.y + offset.y, estimate.z + offset.z];
  const { position } = head;
  const [dx, dy, dz] = [x - position.x, y - position.y, position.z - z];
  const acrossM = Math.sqrt(dx * dx + dy * dy);
  const throwM = Math.sqrt(acrossM * acrossM + dz * dz);
  aimAt(head, x, y, z, 0, 0, aimed);
  // A head gives its performer up only a little beyond the edge, so that somebody who walks along it is not handed
  // back and forth.
  const isOn = current === i;
  if (aimed.missedBy > (isOn ? BEYOND_RAD : 0)) {
    against.outOfReach = true;
    return COST.never;
  }
  const keepOut = keepOutOf(seen.show, light);
  if (keepOut !== undefined) {
    const { zoom } = keepOut.field;
    const at = (seen.lights.start[light] as number) + zoom;
    const zoomDeg = zoom < 0 ? 0 : (seen.lights.wanted[at] as number);
    const clear = clearance(keepOut, aimed.pan, aimed.tilt, zoomDeg, CLEAR_RAD);
    // It waits for them in the dark if no other head can light them.
    if (clear < (isOn ? 0 : CLEAR_RAD)) {
      against.keepOut = keepOut.nearest;
      return isOn ? COST.barred : COST.never;
    }
  }
  const elevation = Math.atan2(dz, acrossM);
  // The audience is where y falls: light from there comes with y growing.
  const fromFront = acrossM > 0.1 ? dy / acrossM : 0;
  return (
    throwM / COST.metresOfThrow +
    (1 - fromFront) +
    Math.abs(elevation - BEST_RAD) / BEST_RAD +
    (elevation < EYES_RAD ? COST.intoEyes : 0)
  );
}

/** Costs less than being out of reach, or dark for a keep-out. */
export function isPossible(cost: number): boolean {
  return cost < COST.barred;
}
