import { beforeAll, describe, expect, test } from 'vitest';
import { followCue } from '../../../src/daemon/levels/cue-levels.js';
import { createShowLevels, type ShowLevels } from '../../../src/daemon/levels/show-levels.js';
import { isFullySafe, type SafeFade } from '../../../src/safety/fade-to-safe.js';
import { stepFallback, timeToSafeS } from '../../../src/safety/fallback.js';
import { fall, rise } from '../../../src/safety/ramp.js';
import { safeLook } from '../../../src/show/model/safe-look.js';
import { showOf } from '../../show/show-of.js';
import { breaches, type Edge, edges, explore, type Graph, longestWay } from './explore.js';

/**
 * Supervisor and engine with two cues: a lamp and a head whose safe values differ from cue to cue. The engine may run
 * with its performer there or lost, or be dead; another cue may be asked for at any step, in the middle of a
 * crossfade, of a loss, of a return. The supervisor's part is the real code; the engine's is its ramps.
 */
const STEP_S = 0.25;
const SHOW = showOf(`
lampwright: 1
name: Two safe looks
stage: { x: [0, 10], y: [0, 8] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
  ines: { trackers: [1] }
profiles:
  nod: { channels: [{ attribute: Tilt, range: [-135, 135] }, { attribute: Dimmer }] }
fixtures:
  lamp: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 20 } }
  head: { profile: nod, universe: 1, address: 2, safe: { Tilt: 0, Dimmer: 20 } }
cues:
  one: {}
  two: { fade: 0.5, safe: { lamp: { Dimmer: 40 }, head: { Tilt: 40, Dimmer: 40 } } }
watchdog:
  engineSilent: { after: 0.25, fade: 0.5 }
  rearm: 0.5
  return: 0.5
  move: 0.5
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`);
const SLOTS = 3;
const LIVE = [204, 240, 204];
const LOOKS = [0, 1].map(cue => safeLook(SHOW, cue).subarray(0, SLOTS));
const { fadeS, returnS } = { fadeS: 0.5, returnS: 0.5 };

interface Input {
  /** `lost`: it runs, and its performer is lost. */
  readonly engine: 'runs' | 'lost' | 'dies';
  readonly cue: number;
}

interface State {
  readonly levels: ShowLevels;
  /** Of the engine: how far it trusts its performer, and how far the crossfade to its cue has come. */
  readonly trust: number;
  readonly share: number;
  readonly cue: number;
  /** How many cues have come since all was settled. */
  readonly changes: number;
}

/**
 * In the middle of anything; with more before all is settled, each divides the fades of those before it anew, and the
 * states are too many for a test (tests/daemon/levels/cue-levels.test.ts draws such ones).
 */
const MOST_CHANGES = 1;

function copy(levels: ShowLevels): ShowLevels {
  const { fallback } = levels;
  return {
    ...levels,
    out: Uint8Array.from(levels.out),
    fallback: {
      ...fallback,
      safeFades: fallback.safeFades.map(one => ({ ...one })),
      from: fallback.from.map(one => Float64Array.from(one)),
      moveS: Float64Array.from(fallback.moveS),
      fadeS: Float64Array.from(fallback.fadeS),
      live: Uint8Array.from(fallback.live),
      armed: Uint8Array.from(fallback.armed),
    },
  };
}

function next(state: State, { engine, cue: asked }: Input): State {
  const isFull = state.changes === MOST_CHANGES;
  const cue = isFull ? state.cue : asked;
  const isDead = engine === 'dies';
  const begins = cue !== state.cue;
  const share = isDead ? 1 : rise(begins ? 0 : state.share, STEP_S, 0.5);
  const trust = isDead
    ? 0
    : engine === 'runs'
      ? rise(state.trust, STEP_S, returnS)
      : fall(state.trust, STEP_S, fadeS);
  const frame = new Uint8Array(512);
  for (let slot = 0; slot < SLOTS; slot++) {
    const [from, to] = [LOOKS[1 - cue]?.[slot] as number, LOOKS[cue]?.[slot] as number];
    const safe = from + share * (to - from);
    frame[slot] = Math.round(safe + trust * ((LIVE[slot] as number) - safe));
  }
  const levels = followCue(copy(state.levels), cue, !isDead);
  const { fallback, plan, out } = levels;
  stepFallback(fallback, plan, isDead ? fallback.live : frame, !isDead, STEP_S, out);
  fallback.wellForS = Math.min(fallback.wellForS, 0.5);
  const changes = state.changes + (begins ? 1 : 0);
  const after = { levels, trust, share, cue, changes };
  const isSettled = isSafe(after) || (levels.fallback.phase === 'live' && share === 1);
  return isSettled ? { ...after, changes: 0 } : after;
}

function key({ levels, trust, share, cue, changes }: State): string {
  const of = (value: number) => Math.round(value * 1e4);
  const { fallback, out } = levels;
  const { phase, wellForS, safeFades, from, fadeS: fades, moveS, live } = fallback;
  const moves = (safeFades[1] as SafeFade).stage.startsWith('to-');
  return [
    cue,
    changes,
    levels.cue,
    of(trust),
    of(share),
    phase,
    wellForS,
    ...safeFades.map(one => `${one.stage} ${of(one.live)} ${of(one.safe)} ${of(one.move)}`),
    moves ? [from[1]?.[0], of(moveS[1] as number)] : '',
    [...fades].map(of),
    phase === 'live' ? '' : live.subarray(0, SLOTS),
    out.subarray(0, SLOTS),
  ].join('|');
}

const sendsLook = ({ levels, cue }: State) =>
  levels.cue === cue && LOOKS[cue]?.every((level, slot) => level === levels.out[slot]) === true;
const isSafe = (state: State) =>
  sendsLook(state) && state.levels.fallback.safeFades.every(isFullySafe);

let graph: Graph<State, Input>;

beforeAll(() => {
  const inputs: Input[] = [];
  for (const cue of [0, 1]) {
    for (const engine of ['runs', 'lost', 'dies'] as const) inputs.push({ engine, cue });
  }
  const initial = { levels: createShowLevels(SHOW), trust: 0, share: 1, cue: 0, changes: 0 };
  graph = explore<State, Input>({ initial, inputs, next, key });
}, 120_000);

describe('two cues, an engine that dies at any moment', () => {
  test('come to all that they can, and to no end of it', () => {
    expect(graph.states.length).toBeGreaterThan(1000);
    expect(graph.states.some(({ levels }) => levels.fallback.phase === 'live')).toBe(true);
  });

  test('the safe look of the cue that is on, or coming, in the time promised, from anywhere', () => {
    const longestS = Math.max(...createShowLevels(SHOW).plans.map(timeToSafeS));
    const steps = longestWay(
      graph,
      () => true,
      isSafe,
      ({ from, input }) => input.engine === 'dies' && input.cue === from.cue,
    );
    // Each of the three stages begins with a beat of its own.
    expect(steps).toBeLessThanOrEqual(longestS / STEP_S + 4);
    expect(steps).toBeGreaterThanOrEqual(longestS / STEP_S);
  });

  test('a cue while all is live is no step of the supervisor: what the engine says is what leaves', () => {
    let seen = 0;
    const wrong: string[] = [];
    for (const { from, input, to } of edges(graph)) {
      if (from.levels.fallback.phase !== 'live' || input.engine === 'dies') continue;
      if (to.levels.fallback.phase !== 'live' || to.levels.cue !== to.cue) wrong.push(key(from));
      if (to.cue !== from.cue) seen += 1;
    }
    expect(wrong.slice(0, 5)).toEqual([]);
    expect(seen).toBeGreaterThan(10);
  });

  test('what waits at the safe look shows that of its cue, and nothing of the engine', () => {
    const isBreach = ({ to }: Edge<State, Input>) => {
      const { phase, safeFades } = to.levels.fallback;
      if (phase !== 'safe' && phase !== 'rearming') return false;
      if (!safeFades.every(isFullySafe)) return false;
      const look = LOOKS[to.levels.cue] as Uint8Array;
      return look.some((value, slot) => to.levels.out[slot] !== value);
    };
    expect(breaches(graph, key, isBreach)).toEqual([]);
  });
});
