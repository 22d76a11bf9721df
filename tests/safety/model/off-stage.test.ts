import { beforeAll, describe, expect, test } from 'vitest';
import { type SafeFade, stepSafeFade } from '../../../src/safety/fade-to-safe.js';
import { DEFAULT_WATCHDOG, type WatchdogOptions } from '../../../src/safety/options.js';
import { fall, rise } from '../../../src/safety/ramp.js';
import { isKnown, type Observation, stepWatch, wantsLive } from '../../../src/safety/watchdog.js';
import { WELL } from '../well.js';
import { breaches, type Edge, edges, explore, type Graph, longestWay } from './explore.js';
import { above, isLive, isSafe, key, type State, start } from './performer.js';

/**
 * A performer who may be off stage at any moment, by an exit, an order or its taking back, heard or not; with a lamp
 * in whose zone they are, and two heads that follow them, one with a lit safe look.
 */
/** All times are multiples of it by powers of two, so that no state differs by rounding. */
const STEP_S = 0.25;
const OPTIONS: WatchdogOptions = {
  ...DEFAULT_WATCHDOG,
  operatorStop: { fadeS: 0.5 },
  deskLost: { afterS: 0.5, fadeS: 1 },
  feedSilent: { afterS: 0.5, fadeS: 1 },
  trackerSilent: { afterS: 0.5, fadeS: 0.5 },
  rearmS: 0.5,
  returnS: 0.5,
  moveS: 0.5,
};
const LONGEST_FADE_S = 1;
/** Of the mappings by which the heads follow. */
const LEAVE_S = 1;
const REARM_STEPS = OPTIONS.rearmS / STEP_S;

const SILENT = { silentForS: 9 };
const WORLD = {
  well: {},
  silent: SILENT,
  stopped: { stopped: true },
  jumped: { jumped: true },
  offSilent: { offStage: true, ...SILENT },
  offHeard: { offStage: true },
  offFeedSilent: { offStage: true, feedSilent: true, ...SILENT },
  offStopped: { offStage: true, stopped: true, ...SILENT },
  offDeskLost: { offStage: true, deskLost: true, ...SILENT },
} satisfies Record<string, Partial<Observation>>;
type World = keyof typeof WORLD;
const OFF: readonly World[] = ['offSilent', 'offHeard', 'offFeedSilent'];
const TAKES: readonly World[] = ['stopped', 'offStopped', 'offDeskLost'];

function next(state: State, world: World): State {
  const watch = { ...state.watch };
  const darkHead = { ...state.darkHead };
  const litHead = { ...state.litHead };
  // As src/engine/people/watch.ts, crossfade.ts and fades.ts do in a tick.
  const settled = state.lamp === 0 && darkHead.live === 0 && litHead.live === 0;
  stepWatch(watch, { ...WELL, ...WORLD[world], settled }, STEP_S, OPTIONS);
  const lamp = isKnown(watch.phase)
    ? rise(state.lamp, STEP_S, OPTIONS.returnS)
    : fall(state.lamp, STEP_S, watch.fadeS);
  const hasLeft = watch.phase === 'off';
  const fadeS = hasLeft ? LEAVE_S : watch.fadeS;
  const follows = wantsLive(watch.phase);
  stepSafeFade(darkHead, follows, true, true, STEP_S, fadeS, OPTIONS, true, hasLeft);
  stepSafeFade(litHead, follows, true, false, STEP_S, fadeS, OPTIONS, true, hasLeft);
  // Beyond its limit it makes no difference how far.
  watch.wellForS = Math.min(watch.wellForS, OPTIONS.rearmS);
  // Who comes back to the stage comes back elsewhere, and that is no jump.
  const comesBack = world === 'jumped' && state.watch.phase === 'off';
  const isWell = world === 'well' || world === 'offHeard' || comesBack;
  const wellSteps = isWell ? Math.min(state.wellSteps + 1, REARM_STEPS) : 0;
  return { watch, lamp, darkHead, litHead, wellSteps };
}

/** The safe look of the one is dark, whatever its share; of the other none of it is to show. */
const isDark = ({ darkHead, litHead }: State) => darkHead.live + litHead.live + litHead.safe === 0;
const found = (isBreach: (edge: Edge<State, World>) => boolean) => breaches(graph, key, isBreach);
const isLost = ({ watch }: State) => ['losing', 'safe', 'rearming'].includes(watch.phase);

let graph: Graph<State, World>;

beforeAll(() => {
  graph = explore<State, World>({
    initial: start(OPTIONS),
    inputs: Object.keys(WORLD) as World[],
    next,
    key,
  });
});

describe('all that a performer who may be off stage can come to', () => {
  test('is finite, and has those who are there, lost, and off in it', () => {
    expect(graph.states.some(isLive)).toBe(true);
    expect(graph.states.some(isSafe)).toBe(true);
    expect(graph.states.some(one => one.watch.phase === 'off' && isDark(one))).toBe(true);
  });

  test('who is off stage is not lost, whatever falls silent with them: no cause, and none begins', () => {
    const isBreach = ({ from, input, to: { watch } }: Edge<State, World>) =>
      OFF.includes(input) && !isLost(from) && (watch.phase !== 'off' || watch.cause !== undefined);
    expect(found(isBreach)).toEqual([]);
  });

  test('and a loss is not hidden: the safe values are reached before anybody is off stage', () => {
    let seen = 0;
    for (const { from, to } of edges(graph)) {
      if (!isLost(from) || to.watch.phase !== 'off') continue;
      expect(from.watch.trust + from.lamp + from.darkHead.live + from.litHead.live).toBe(0);
      seen += 1;
    }
    expect(seen).toBeGreaterThan(10);
  });

  test('heads that follow them are dark in the time promised, from anywhere, and stay so', () => {
    const steps = longestWay(
      graph,
      () => true,
      one => one.watch.phase === 'off' && isDark(one),
      ({ input }) => OFF.includes(input),
    );
    // From a loss by way of the safe look: out, over, up, and out again.
    const promisedS = LONGEST_FADE_S + OPTIONS.moveS + LONGEST_FADE_S + LEAVE_S;
    expect(steps).toBeLessThanOrEqual(promisedS / STEP_S + 4);
    expect(steps).toBeGreaterThanOrEqual(LEAVE_S / STEP_S);
    const isBreach = ({ from, input, to }: Edge<State, World>) =>
      from.watch.phase === 'off' && isDark(from) && OFF.includes(input) && !isDark(to);
    expect(found(isBreach)).toEqual([]);
  });

  test('a stop, or a required desk that is lost, takes their light to the safe look in the time promised', () => {
    for (const takes of TAKES) {
      const steps = longestWay(
        graph,
        () => true,
        isSafe,
        ({ input }) => input === takes,
      );
      const promisedS = LONGEST_FADE_S + OPTIONS.moveS + LONGEST_FADE_S;
      expect(steps, takes).toBeLessThanOrEqual(promisedS / STEP_S + 4);
    }
    const goesOn = ({ from, input, to }: Edge<State, World>) =>
      TAKES.includes(input) &&
      (isKnown(to.watch.phase) ||
        above(to.lamp, from.lamp) ||
        above(to.litHead.live, from.litHead.live));
    expect(found(goesOn)).toEqual([]);
  });

  test('heard again: up only after the re-arm time of healthy input, and no faster than light returns', () => {
    const comesTooSoon = ({ from, to }: Edge<State, World>) =>
      wantsLive(to.watch.phase) && !wantsLive(from.watch.phase) && to.wellSteps !== REARM_STEPS;
    expect(found(comesTooSoon)).toEqual([]);
    const most = STEP_S / OPTIONS.returnS;
    const comesTooFast = ({ from, to }: Edge<State, World>) =>
      above(to.lamp - from.lamp, most) ||
      above(to.darkHead.live - from.darkHead.live, most) ||
      above(to.litHead.live - from.litHead.live, most);
    expect(found(comesTooFast)).toEqual([]);
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

  test('who comes back and falls silent on the stage is lost in that step', () => {
    const isBreach = ({ from, input, to }: Edge<State, World>) =>
      input === 'silent' && from.watch.phase !== 'waiting' && !isLost(to);
    expect(found(isBreach)).toEqual([]);
  });

  test('a head moves in the dark only', () => {
    const isSwung = ({ stage, live, safe }: SafeFade) => stage.startsWith('to-') && live + safe > 0;
    expect(found(({ to }) => isSwung(to.darkHead) || isSwung(to.litHead))).toEqual([]);
  });
});
