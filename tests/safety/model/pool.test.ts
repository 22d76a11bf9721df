import { beforeAll, expect, test } from 'vitest';
import { createEngine } from '../../../src/engine/engine.js';
import type { EngineEvent } from '../../../src/engine/events/events.js';
import { guard } from '../../../src/engine/guard.js';
import { takeFollow } from '../../../src/engine/heads/aim.js';
import { choose } from '../../../src/engine/heads/choices.js';
import { crossfade } from '../../../src/engine/light/crossfade.js';
import { markShown } from '../../../src/engine/light/fades.js';
import { ask } from '../../../src/engine/light/intensity.js';
import { markDrives, stepDrives } from '../../../src/engine/light/lanes.js';
import { map } from '../../../src/engine/light/map.js';
import { askByLanes } from '../../../src/engine/light/wishes.js';
import { POINTING, placeHead } from '../../../src/fixtures/pointing.js';
import { isKnown, stepWatch, wantsLive } from '../../../src/safety/watchdog.js';
import { showOf } from '../../show/show-of.js';
import { WELL } from '../well.js';
import { breaches, type Edge, explore, type Graph, longestWay } from './explore.js';
import { memoryOf } from './memory.js';

/**
 * Two heads that share two performers, each of whom may be lost and come back at any moment, and be nearer to the one
 * head or to the other. Watchdogs, choice, drives and fades are the real ones; a head that moves in the dark is there at
 * once, as what it takes on the way is a matter of its motion.
 */
const STEP_S = 0.25;
const SHOW = showOf(`
lampwright: 1
name: A pool of heads
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] } }
groups: { company: [ines, tobias], heads: [left, right] }
fixtures:
  left: { profile: moving-head, universe: 1, address: 1, position: [1, -3, 6], safe: { aim: [1, 4, 0], Dimmer: 0 } }
  right: { profile: moving-head, universe: 1, address: 21, position: [9, -3, 6], safe: { aim: [9, 4, 0], Dimmer: 0 } }
mappings:
  - { follow: { share: company, hold: 0.5 }, fixtures: [heads], set: { Dimmer: 80 }, fade: { in: 0, out: 0 } }
watchdog: { trackerSilent: { after: 0.25, fade: 0.5 }, rearm: 0.25, return: 0.5, turn: 0.25, move: 0 }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`);
const [HOLD_S, FADE_S, REARM_S, RETURN_S, TURN_S] = [0.5, 0.5, 0.25, 0.5, 0.25];

interface Input {
  readonly lost: readonly [boolean, boolean];
  readonly crossed: boolean;
}

interface State {
  readonly memory: Float64Array;
  /** Of each head: on whom it is, -1 for nobody, and how bright. */
  readonly on: readonly number[];
  readonly levels: readonly number[];
  readonly follows: readonly boolean[];
}

const engine = createEngine(SHOW);
const { choices, watched, mappings, fades, lights, crossfades, aims, tracks } = engine;
const heads = choices.all;
/** All that the stages read of what went out in the tick before. */
const levels = { levels: new Float64Array(lights.followed.length) };
const intensityAt = (light: number) => lights.intensity[light] as number;
const followed = { followed: new Float64Array(lights.followed.length) };
const memory = memoryOf(
  [
    watched.performers,
    mappings.drives.map(({ believed }) => believed),
    mappings.drives,
    crossfades.all,
    crossfades.groups,
    crossfades.rest,
    heads,
    followed,
    { live: fades.isLive, turning: fades.turning, held: fades.heldIntensity, safe: fades.safeFades },
    levels,
  ],
  ['plans', 'plan', 'mapping', 'performers', 'crossfades', 'observation', 'fixtures', 'risenFor', 'looks', 'choice', 'estimate', 'optics', 'offset', 'insideS', 'drive', 'binding'],
); // biome-ignore format: one list

function next({ memory: before }: Pick<State, 'memory'>, { lost, crossed }: Input): State {
  memory.load(before);
  lights.followed.set(followed.followed);
  levels.levels.forEach((level, light) => {
    lights.out[intensityAt(light)] = level;
  });
  for (const one of heads) {
    const follow = one.follows[Math.max(0, one.current)];
    if (follow !== undefined) aims.candidates[one.light]?.set(one.of, follow);
    takeFollow(aims, lights, one.light, one.of);
    lights.followed[one.light] = followed.followed[one.light] as number;
    one.binding.performer = one.drive.follows;
  }
  for (const [p, { estimate }] of tracks.performers.entries()) {
    Object.assign(estimate, { x: (p === 0) === crossed ? 8 : 2, y: 4, z: 1.2 });
    for (const one of heads)
      Object.assign(one.follows[p]?.estimate ?? {}, { x: estimate.x, y: 4, z: 1.2 });
  }
  const { shown } = engine;
  markShown(shown, fades, crossfades, lights, mappings.driveOf);
  markDrives(shown, mappings.drives, watched);
  for (const [p, one] of watched.performers.entries()) {
    const from = one.watch.phase;
    const silentForS = lost[p] ? 9 : 0;
    stepWatch(one.watch, { ...WELL, silentForS, settled: shown[p] === 0 }, STEP_S, SHOW.watchdog);
    one.watch.wellForS = Math.min(one.watch.wellForS, REARM_S);
    one.follows = wantsLive(one.watch.phase);
    one.isKnown = isKnown(one.watch.phase);
    one.startsAfresh = shown[p] === 0 && from !== 'live';
  }
  for (const pool of choices.pools) pool.away.fill(Number.NaN);
  const events: EngineEvent[] = [];
  choose(choices, engine, STEP_S, events);
  stepDrives(
    mappings.drives,
    engine.signals.network,
    engine.orders,
    engine.cues,
    watched,
    SHOW,
    STEP_S,
  );
  map(mappings, engine.presences, engine.cues, watched, crossfades, fades, lights, STEP_S);
  crossfade(crossfades, watched, SHOW, STEP_S);
  ask(engine.asks, engine.cueAsks, mappings, crossfades, lights);
  askByLanes(engine.wishes, engine.cueAsks, crossfades, lights);
  for (const pointing of aims.pointings) {
    if (pointing === undefined) continue;
    const { numbers, at } = pointing;
    placeHead(
      pointing,
      numbers[at + POINTING.goalPan] as number,
      numbers[at + POINTING.goalTilt] as number,
    );
  }
  guard(fades, engine, 0, STEP_S);
  for (const one of heads) one.forS = Math.min(one.forS, HOLD_S);
  followed.followed.set(lights.followed);
  for (const { light } of heads) levels.levels[light] = lights.out[intensityAt(light)] as number;
  return state();
}

function state(): State {
  return {
    memory: memory.save(),
    on: heads.map(({ current }) => current),
    levels: heads.map(({ light }) => lights.out[lights.intensity[light] as number] as number),
    follows: watched.performers.map(({ follows }) => follows),
  };
}

const key = ({ memory: one }: State) => one.map(value => Math.round(value * 1e6)).join();

let graph: Graph<State, Input>;

beforeAll(() => {
  followed.followed.set(lights.followed);
  const inputs = [0, 1, 2, 3].flatMap(n =>
    [false, true].map((crossed): Input => ({ lost: [n % 2 === 1, n >= 2], crossed })),
  );
  graph = explore<State, Input>({ initial: state(), inputs, next, key }, 60_000);
}, 120_000);

test('comes to all that it can: both lit, crossed over or not, and one alone by either', () => {
  const lit = new Set(
    graph.states.map(({ on, levels }) =>
      on.map((who, h) => ((levels[h] ?? 0) > 79 ? who : '-')).join(),
    ),
  );
  for (const one of ['0,1', '1,0', '0,-', '-,0', '1,-', '-,1', '-,-']) expect(lit).toContain(one);
  expect(graph.states.length).toBeGreaterThan(5000);
});

test('no head changes whom it is on lit, and no two are lit on one', () => {
  const isBreach = ({ from, to }: Edge<State, Input>) =>
    (to.on[0] === to.on[1] && to.levels.every(level => level > 0)) ||
    // Let go, it goes out where it is: on nobody, and not on somebody else.
    to.on.some((who, h) => {
      const was = from.on[h] as number;
      return (
        was >= 0 &&
        who >= 0 &&
        who !== was &&
        (from.levels[h] as number) > 0 &&
        (to.levels[h] as number) > 0
      );
    });
  const brief = ({ on, levels: lit, follows }: State) => JSON.stringify({ on, lit, follows });
  expect(breaches(graph, brief, isBreach)).toEqual([]);
});

test.each([false, true])(
  'whoever is tracked well has a light in time, whatever went before; crossed over: %s',
  crossed => {
    const steps = longestWay(
      graph,
      () => true,
      ({ on, levels: lit }) =>
        [0, 1].every(p => on.some((who, h) => who === p && (lit[h] ?? 0) > 79)),
      ({ input }) => !input.lost[0] && !input.lost[1] && input.crossed === crossed,
    );
    // Dark over the fade that is under way, re-armed, the hold, a turn of each, and up; each begins with a step of its own.
    const longestS = FADE_S + REARM_S + HOLD_S + 2 * TURN_S + RETURN_S;
    expect(steps).toBeLessThanOrEqual(longestS / STEP_S + 6);
    expect(steps).toBeGreaterThan((FADE_S + RETURN_S) / STEP_S);
  },
);
