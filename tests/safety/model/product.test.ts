import { beforeAll, describe, expect, test } from 'vitest';
import { type GateState, nextGate } from '../../../src/safety/enable.js';
import { supervisorCondition } from '../../../src/safety/engine-health.js';
import { isFullySafe } from '../../../src/safety/fade-to-safe.js';
import {
  createFallback,
  type Fallback,
  type FallbackChannel,
  type FallbackPlan,
  stepFallback,
  timeToSafeS,
} from '../../../src/safety/fallback.js';
import { DEFAULT_WATCHDOG, type WatchdogOptions } from '../../../src/safety/options.js';
import { fall, rise } from '../../../src/safety/ramp.js';
import {
  createWatch,
  dropWatch,
  isKnown,
  type Observation,
  stepWatch,
  type Watch,
  wantsLive,
} from '../../../src/safety/watchdog.js';
import { WELL } from '../well.js';
import { breaches, type Edge, explore, type Graph, longestWay } from './explore.js';

/**
 * Engine and supervisor together: a performer's watchdog with a lamp and a strobe, their frame on its way
 * to the supervisor, and the supervisor's own fall to the safe look. The engine may hang (its last frame
 * stands, and grows old), die (it begins anew), or run; the tracking may be well, gone or in doubt; the
 * hand on the strobe's enable may be there or not. All of it in any order, for ever.
 */
const STEP_S = 0.25;
const OPTIONS: WatchdogOptions = {
  ...DEFAULT_WATCHDOG,
  engineSilent: { afterS: 0.25, fadeS: 0.5 },
  trackerSilent: { afterS: 0.5, fadeS: 0.5 },
  outOfBounds: { afterS: 0.25, fadeS: 0.5, marginM: 0.5 },
  rearmS: 0.5,
  returnS: 0.5,
  moveS: 0.5,
};
const REARM_STEPS = OPTIONS.rearmS / STEP_S;
const FOR_EVER = 20;
const [LAMP, PAN, HEAD, STROBE] = [0, 1, 2, 3];
const LIVE = [200, 240, 220, 255];
const SAFE = [40, 100, 60, 0];

function channel(
  kind: FallbackChannel['class'],
  slot: number,
  dropsAtOnce = false,
): FallbackChannel {
  return {
    class: kind,
    slots: [slot],
    safeRaw: SAFE[slot] ?? 0,
    darkRaw: 0,
    stepped: false,
    dropsAtOnce,
  };
}

const PLAN: FallbackPlan = {
  fixtures: [
    { channels: [channel('intensity', LAMP)], moves: false, safeIsDark: false, fadeS: undefined },
    {
      channels: [channel('movement', PAN), channel('intensity', HEAD)],
      moves: true,
      safeIsDark: false,
      fadeS: undefined,
    },
    { channels: [channel('intensity', STROBE, true)], moves: false, safeIsDark: true, fadeS: 0 },
  ],
  levelCount: SAFE.length,
  safeLook: Uint8Array.from(SAFE),
  times: { fadeS: OPTIONS.engineSilent.fadeS, returnS: OPTIONS.returnS, moveS: OPTIONS.moveS },
  rearmS: OPTIONS.rearmS,
};

const TRACKING = {
  well: {},
  silent: { silentForS: 9 },
  outside: { outsideM: 2 },
} satisfies Record<string, Partial<Observation>>;

interface Input {
  readonly engine: 'runs' | 'hangs' | 'dies';
  readonly tracking: keyof typeof TRACKING;
  readonly hand: boolean;
}

interface State {
  readonly watch: Watch;
  readonly trust: number;
  readonly gate: GateState;
  readonly frame: Uint8Array;
  /** With the last frame: somebody's loss takes the light down in it; see src/engine/light/falling.ts. */
  readonly falls: boolean;
  /** Of the last frame, seconds; undefined before the first of an engine. */
  readonly frameAgeS: number | undefined;
  readonly fallback: Fallback;
  readonly out: Uint8Array;
  /** Kept apart from the machines: steps in a row in which engine and tracking have been well ... */
  readonly wellSteps: number;
  /** ... how many steps ago a running engine last trusted the performer ... */
  readonly sinceTrustSteps: number;
  /** ... and whether the hand has let go since the strobe last fell off by itself. */
  readonly letGo: boolean;
}

function start(): State {
  return {
    watch: createWatch(OPTIONS),
    trust: 0,
    gate: 'latched-off',
    frame: Uint8Array.from(SAFE),
    falls: false,
    frameAgeS: undefined,
    fallback: createFallback(PLAN),
    out: Uint8Array.from(SAFE),
    wellSteps: 0,
    sinceTrustSteps: FOR_EVER,
    letGo: false,
  };
}

function copy(before: Fallback): Fallback {
  const { phase, wellForS, safeFades, from, moveS, fadeS, live, dropping, armed } = before;
  return {
    moveS: Float64Array.from(moveS),
    fadeS: Float64Array.from(fadeS),
    dropping,
    armed: Uint8Array.from(armed),
    phase,
    wellForS,
    safeFades: safeFades.map(one => ({ ...one })),
    from: from.map(one => Float64Array.from(one)),
    live: Uint8Array.from(live),
  };
}

function next(state: State, { engine, tracking, hand }: Input): State {
  const watch = engine === 'dies' ? createWatch(OPTIONS) : { ...state.watch };
  let { trust, gate, frameAgeS, falls } = state;
  const frame = Uint8Array.from(state.frame);
  switch (engine) {
    case 'dies':
      trust = 0;
      gate = 'latched-off';
      frameAgeS = undefined;
      falls = false;
      break;
    case 'hangs':
      frameAgeS = frameAgeS === undefined ? undefined : Math.min(frameAgeS + STEP_S, 0.5);
      break;
    case 'runs': {
      // As beginAfterStall in src/engine/step.ts does, after a stall in which the supervisor has taken the light.
      if (frameAgeS !== undefined && frameAgeS > OPTIONS.engineSilent.afterS) {
        dropWatch(watch);
        trust = 0;
        gate = 'latched-off';
      }
      stepWatch(watch, { ...WELL, ...TRACKING[tracking], settled: trust === 0 }, STEP_S, OPTIONS);
      const follows = wantsLive(watch.phase);
      trust = follows ? rise(trust, STEP_S, OPTIONS.returnS) : fall(trust, STEP_S, watch.fadeS);
      falls = !isKnown(watch.phase) && trust > 0;
      gate = nextGate(gate, hand, follows);
      for (const slot of [LAMP, PAN, HEAD]) {
        const safe = SAFE[slot] ?? 0;
        frame[slot] = Math.round(safe + trust * ((LIVE[slot] ?? 0) - safe));
      }
      frame[STROBE] = gate === 'on' ? (LIVE[STROBE] ?? 0) : 0;
      frameAgeS = 0;
      break;
    }
    default:
      engine satisfies never;
  }
  watch.wellForS = Math.min(watch.wellForS, OPTIONS.rearmS);
  watch.outOfBoundsForS = Math.min(watch.outOfBoundsForS, 0.5);
  const fallback = copy(state.fallback);
  const out = Uint8Array.from(state.out);
  const health = { stopping: false, running: engine !== 'dies', frameAgeS };
  const well = supervisorCondition(health, OPTIONS.engineSilent.afterS) === undefined;
  stepFallback(fallback, PLAN, frame, well, STEP_S, out, () => falls);
  fallback.wellForS = Math.min(fallback.wellForS, OPTIONS.rearmS);
  // A short stall that nobody notices neither counts nor breaks the count.
  const isStall = engine === 'hangs' && well;
  const isWell = engine === 'runs' && tracking === 'well';
  const fellOff = state.out[STROBE] !== 0 && out[STROBE] === 0 && hand;
  const trusted = engine === 'runs' && wantsLive(watch.phase);
  const reset = isStall ? state.wellSteps : 0;
  const wellSteps = isWell ? Math.min(state.wellSteps + 1, REARM_STEPS) : reset;
  return {
    watch,
    trust,
    gate,
    frame,
    falls,
    frameAgeS,
    fallback,
    out,
    wellSteps,
    sinceTrustSteps: trusted ? 0 : Math.min(state.sinceTrustSteps + 1, FOR_EVER),
    letGo: !hand || (state.letGo && !fellOff),
  };
}

function key(state: State): string {
  const { watch, trust, gate, frame, falls, frameAgeS, fallback, out } = state;
  const { wellSteps, sinceTrustSteps, letGo } = state;
  const of = (value: number) => Math.round(value * 1e6);
  const { phase, wellForS, safeFades, from, live, armed } = fallback;
  return [
    watch.phase,
    of(watch.trust),
    watch.fadeS,
    watch.wellForS,
    watch.outOfBoundsForS,
    of(trust),
    gate,
    frame,
    falls,
    frameAgeS,
    phase,
    wellForS,
    ...safeFades.map(one => `${one.stage} ${of(one.live)} ${of(one.safe)} ${of(one.move)}`),
    // Where a move began matters only while it goes on.
    safeFades[1]?.stage.startsWith('to-') === true ? from[1]?.[0] : '',
    live,
    armed,
    out,
    wellSteps,
    sinceTrustSteps,
    letGo,
  ].join('|');
}

const sendsSafe = ({ out }: State) => out.every((value, slot) => value === SAFE[slot]);
const isSafe = (state: State) => sendsSafe(state) && state.fallback.safeFades.every(isFullySafe);

let graph: Graph<State, Input>;

beforeAll(() => {
  const inputs: Input[] = [];
  for (const hand of [false, true]) {
    for (const tracking of ['well', 'silent', 'outside'] as const) {
      inputs.push({ engine: 'runs', tracking, hand });
    }
  }
  // What the tracking or the hand do while no engine looks makes no difference to it.
  inputs.push({ engine: 'hangs', tracking: 'well', hand: true });
  inputs.push({ engine: 'dies', tracking: 'well', hand: true });
  graph = explore<State, Input>({ initial: start(), inputs, next, key });
});

describe('engine, supervisor and the hand on the enable', () => {
  test('come to all that they can, and to no end of it', () => {
    expect(graph.states.some(({ out }) => out[LAMP] === LIVE[LAMP] && out[STROBE] === 255)).toBe(
      true,
    );
    expect(graph.states.length).toBeGreaterThan(1000);
  });

  test('a dead or hanging engine: the safe look in the time promised, from anywhere', () => {
    const steps = longestWay(
      graph,
      () => true,
      isSafe,
      ({ input }) => input.engine !== 'runs',
    );
    const { afterS } = OPTIONS.engineSilent;
    // Each of the three stages begins with a beat of its own, and the silence is noticed in one.
    expect(steps).toBeLessThanOrEqual((afterS + timeToSafeS(PLAN)) / STEP_S + 4);
    expect(steps).toBeGreaterThanOrEqual(timeToSafeS(PLAN) / STEP_S);
  });

  test('engine and tracking flapping in any order: the safe look all the same, and no circle avoids it', () => {
    const isDown = ({ watch, fallback }: State) =>
      !wantsLive(watch.phase) && fallback.phase !== 'live' && fallback.phase !== 'returning';
    // From where both have given up, with never the re-arm time of health: whatever else comes.
    const steps = longestWay(graph, isDown, isSafe, ({ to }) => to.wellSteps < REARM_STEPS);
    const fadeS = OPTIONS.trackerSilent.fadeS + timeToSafeS(PLAN);
    expect(steps).toBeLessThanOrEqual(fadeS / STEP_S + 6);
  });

  test('in whatever order all fail, no light but the safe look outlasts the trust by more than was promised', () => {
    // The engine's fade; and should the engine be lost at the very end of that, the supervisor's own way.
    const { outOfBounds, engineSilent } = OPTIONS;
    const outlastsS = outOfBounds.fadeS + engineSilent.afterS + timeToSafeS(PLAN);
    let longest = 0;
    for (const state of graph.states) {
      if (!sendsSafe(state)) longest = Math.max(longest, state.sinceTrustSteps);
    }
    // Each of the stages on the way begins with a step of its own.
    expect(longest).toBeLessThanOrEqual(outlastsS / STEP_S + 6);
    expect(longest).toBeLessThan(FOR_EVER);
  });

  test('after a loss, a stall or a crash nothing comes up before the re-arm time of health', () => {
    const isBreach = ({ from, to }: Edge<State, Input>) =>
      !wantsLive(from.watch.phase) && to.trust > from.trust && to.wellSteps < REARM_STEPS;
    expect(breaches(graph, key, isBreach)).toEqual([]);
  });

  test('once somebody is declared lost nothing of theirs moves away from its safe value, whoever has the light', () => {
    const isBreach = ({ from, input, to }: Edge<State, Input>) => {
      if (input.engine !== 'runs' || isKnown(to.watch.phase)) return false;
      const off = ({ out }: State) => Math.abs((out[LAMP] ?? 0) - (SAFE[LAMP] ?? 0));
      // A lit safe look of a head comes up from the dark, and no further.
      const most = Math.max(from.out[HEAD] ?? 0, SAFE[HEAD] ?? 0);
      return off(to) > off(from) || (to.out[HEAD] ?? 0) > most;
    };
    expect(breaches(graph, key, isBreach)).toEqual([]);
    // It was about something: losses while the light is given back.
    const isHeld = ({ fallback, falls }: State) => fallback.phase === 'returning' && falls;
    expect(graph.states.some(isHeld)).toBe(true);
  });

  test('the supervisor takes no frame in the first step in which an engine is well again', () => {
    const isBreach = ({ from, to }: Edge<State, Input>) =>
      from.fallback.phase === 'safe' && to.fallback.phase === 'returning';
    expect(breaches(graph, key, isBreach)).toEqual([]);
  });

  test('no frame gets through while the supervisor waits', () => {
    const isBreach = ({ to }: Edge<State, Input>) =>
      ['safe', 'rearming'].includes(to.fallback.phase) &&
      to.fallback.safeFades.every(isFullySafe) &&
      !sendsSafe(to);
    expect(breaches(graph, key, isBreach)).toEqual([]);
  });

  test('the strobe drops in the step in which anything is lost', () => {
    const mayBeOn = ({ from, input, to }: Edge<State, Input>) => {
      if (to.fallback.phase !== 'live' || to.gate !== 'on') return false;
      if (input.engine === 'runs') return input.hand && input.tracking !== 'silent';
      // A frame that is not old yet stands; older ones are not sent.
      const isFresh = (to.frameAgeS ?? Number.POSITIVE_INFINITY) <= OPTIONS.engineSilent.afterS;
      return input.engine === 'hangs' && isFresh && from.out[STROBE] === 255;
    };
    const isBreach = (edge: Edge<State, Input>) => edge.to.out[STROBE] !== 0 && !mayBeOn(edge);
    expect(breaches(graph, key, isBreach)).toEqual([]);
  });

  test('and never comes back on under a hand that has not let go', () => {
    const isBreach = ({ from, to }: Edge<State, Input>) =>
      from.out[STROBE] === 0 && to.out[STROBE] !== 0 && !to.letGo;
    expect(breaches(graph, key, isBreach)).toEqual([]);
  });
});
