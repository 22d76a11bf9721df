import { beforeAll, describe, expect, test } from 'vitest';
import { stepSafeFade } from '../../../src/safety/fade-to-safe.js';
import type { WatchdogOptions } from '../../../src/safety/options.js';
import { fall, rise } from '../../../src/safety/ramp.js';
import { type Observation, stepWatch, wantsLive } from '../../../src/safety/watchdog.js';
import { WELL } from '../well.js';
import { breaches, type Edge, explore, type Graph, longestWay } from './explore.js';
import { above, isLive, isSafe, key, type State, start } from './performer.js';

/**
 * A performer's watchdog together with the lights that follow it: a lamp that crossfades, a head that is
 * dark in its safe look and one that is lit, as the engine's tick joins them. Whatever the world does in
 * each step, all that can come of it is looked at.
 */
const STEP_S = 0.25;
const OPTIONS: WatchdogOptions = {
  engineSilent: { afterS: 0.25, fadeS: 0.5 },
  operatorStop: { fadeS: 0.25 },
  deskLost: { afterS: 0.5, fadeS: 0.5 },
  feedSilent: { afterS: 0.5, fadeS: 0.75 },
  trackerSilent: { afterS: 0.5, fadeS: 0.5 },
  sensorClockGone: { afterS: 0.25, fadeS: 0.5 },
  jumped: { fadeS: 0.25 },
  frozen: { afterS: 0.25, fadeS: 0.5 },
  outOfBounds: { afterS: 0.25, fadeS: 0.75, marginM: 0.5 },
  confidenceLow: { afterS: 0, fadeS: 0.5, below: 0.35 },
  rearmS: 0.5,
  returnS: 0.5,
  moveS: 0.5,
  turnS: 0.5,
};
const LONGEST_FADE_S = 0.75;
/** Healthy steps in a row that the re-arm time takes; the first begins it. */
const REARM_STEPS = OPTIONS.rearmS / STEP_S;

const WORLD = {
  well: {},
  stopped: { stopped: true },
  deskLost: { deskLost: true },
  feedSilent: { feedSilent: true, silentForS: 9 },
  silent: { silentForS: 0.75 },
  clockGone: { clockGone: true },
  jumped: { jumped: true },
  frozen: { fresh: 0.2, confidence: 0.2 },
  outside: { outsideM: 2 },
  doubtful: { confidence: 0.1 },
  nonsense: {
    silentForS: Number.NaN,
    outsideM: Number.NaN,
    confidence: Number.NaN,
    fresh: Number.NaN,
  },
  jumpedOutside: { jumped: true, outsideM: 2 },
} satisfies Record<string, Partial<Observation>>;
type World = keyof typeof WORLD;

/** Nothing shows any more of what showed before the loss. */
const isSettled = ({ lamp, darkHead, litHead }: State) =>
  lamp === 0 && darkHead.live === 0 && litHead.live === 0;

function next(state: State, world: World): State {
  const watch = { ...state.watch };
  const darkHead = { ...state.darkHead };
  const litHead = { ...state.litHead };
  // As src/engine/people/watch.ts and guard.ts do in a tick.
  const settled = isSettled(state);
  stepWatch(watch, { ...WELL, ...WORLD[world], settled }, STEP_S, OPTIONS);
  const follows = wantsLive(watch.phase);
  const lamp = follows
    ? rise(state.lamp, STEP_S, OPTIONS.returnS)
    : fall(state.lamp, STEP_S, watch.fadeS);
  stepSafeFade(darkHead, follows, true, true, STEP_S, watch.fadeS, OPTIONS);
  stepSafeFade(litHead, follows, true, false, STEP_S, watch.fadeS, OPTIONS);
  // Beyond their limits it makes no difference how far.
  watch.wellForS = Math.min(watch.wellForS, OPTIONS.rearmS);
  for (const key of [
    'clockGoneForS',
    'frozenForS',
    'outOfBoundsForS',
    'confidenceLowForS',
  ] as const) {
    watch[key] = Math.min(watch[key], 0.5);
  }
  const wellSteps = world === 'well' ? Math.min(state.wellSteps + 1, REARM_STEPS) : 0;
  return { watch, lamp, darkHead, litHead, wellSteps };
}

const found = (isBreach: (edge: Edge<State, World>) => boolean) => breaches(graph, key, isBreach);
const isLost = ({ watch }: State) => !wantsLive(watch.phase);

let graph: Graph<State, World>;

beforeAll(() => {
  graph = explore<State, World>({
    initial: start(OPTIONS),
    inputs: Object.keys(WORLD) as World[],
    next,
    key,
  });
});

describe('all that a performer and their lights can come to', () => {
  test('is finite, and has every phase in it', () => {
    const phases = new Set(graph.states.map(({ watch }) => watch.phase));
    expect([...phases].sort()).toEqual([
      'live',
      'losing',
      'rearming',
      'returning',
      'safe',
      'waiting',
    ]);
    expect(graph.states.some(isLive)).toBe(true);
  });

  test('nothing comes up without the re-arm time of healthy input before it', () => {
    const isBreach = ({ from, to }: Edge<State, World>) => {
      const rises =
        above(to.watch.trust, from.watch.trust) ||
        above(to.lamp, from.lamp) ||
        above(to.darkHead.live, from.darkHead.live) ||
        above(to.litHead.live, from.litHead.live);
      // Once on its way up, it goes on until a condition acts.
      const tooSoon = isLost(from) && to.wellSteps !== REARM_STEPS;
      return rises && (tooSoon || !wantsLive(to.watch.phase));
    };
    expect(found(isBreach)).toEqual([]);
  });

  test('from a whole loss it comes back only once all of it has arrived at its safe values', () => {
    const isBreach = ({ from, to }: Edge<State, World>) =>
      isLost(from) && wantsLive(to.watch.phase) && from.watch.trust === 0 && !isSettled(from);
    expect(found(isBreach)).toEqual([]);
    // There are such: a head that is on its way down when what it follows is gone already.
    expect(
      graph.states.some(state => isLost(state) && state.watch.trust === 0 && !isSettled(state)),
    ).toBe(true);
  });

  test('of several conditions the shortest fade counts, and one that joins slows no fade', () => {
    const slows = ({ from, to }: Edge<State, World>) =>
      isLost(from) && isLost(to) && to.watch.fadeS > from.watch.fadeS;
    expect(found(slows)).toEqual([]);
    const isSlow = ({ from, input, to }: Edge<State, World>) =>
      !isLost(from) && input === 'jumpedOutside' && to.watch.fadeS !== OPTIONS.jumped.fadeS;
    expect(found(isSlow)).toEqual([]);
  });

  test('whatever acts, in whatever state, the light is on its way down in the same step', () => {
    const acting: readonly World[] = [
      'stopped',
      'deskLost',
      'feedSilent',
      'silent',
      'jumped',
      'nonsense',
    ];
    const isBreach = ({ from, input, to }: Edge<State, World>) =>
      acting.includes(input) &&
      (wantsLive(to.watch.phase) ||
        above(to.lamp, from.lamp) ||
        above(to.darkHead.live, from.darkHead.live) ||
        above(to.litHead.live, from.litHead.live));
    expect(found(isBreach)).toEqual([]);
  });

  test('once lost, safe is reached in the time promised, however the input flaps', () => {
    // Never healthy for the re-arm time: everything else may come, in any order, for ever. A circle that
    // avoided the safe look would be found here.
    const flapping = ({ to }: { to: State }) => to.wellSteps < REARM_STEPS;
    const steps = longestWay(graph, isLost, isSafe, flapping);
    const promisedS = LONGEST_FADE_S + OPTIONS.moveS + LONGEST_FADE_S;
    // Each of the four stages of a head begins with a step of its own.
    expect(steps).toBeLessThanOrEqual(promisedS / STEP_S + 4);
    expect(steps).toBeGreaterThanOrEqual(promisedS / STEP_S);
  });

  test('safe holds for as long as the input flaps', () => {
    const isBreach = ({ from, to }: Edge<State, World>) =>
      isLost(from) && isSafe(from) && to.wellSteps < REARM_STEPS && !isSafe(to);
    expect(found(isBreach)).toEqual([]);
  });

  test('healthy input brings the light back from anywhere', () => {
    const steps = longestWay(
      graph,
      () => true,
      isLive,
      ({ input }) => input === 'well',
    );
    const { rearmS, moveS, returnS } = OPTIONS;
    const backS = LONGEST_FADE_S + moveS + LONGEST_FADE_S + rearmS + returnS + moveS + returnS;
    expect(steps).toBeLessThanOrEqual(backS / STEP_S + 6);
  });

  test('a head moves in the dark only', () => {
    const isBreach = ({ to }: Edge<State, World>) =>
      [to.darkHead, to.litHead].some(
        ({ stage, live, safe }) => ['to-safe', 'to-live'].includes(stage) && live + safe !== 0,
      );
    expect(found(isBreach)).toEqual([]);
  });

  test('and shows light again only at the end of such a move', () => {
    const isBreach = ({ from, to }: Edge<State, World>) =>
      (['darkHead', 'litHead'] as const).some(head => {
        const [before, after] = [from[head].stage, to[head].stage];
        if (before === after) return false;
        return (
          (after === 'safe' && before !== 'to-safe') || (after === 'rising' && before !== 'to-live')
        );
      });
    expect(found(isBreach)).toEqual([]);
  });
});
