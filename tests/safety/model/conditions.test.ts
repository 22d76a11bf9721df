import { beforeAll, describe, expect, test } from 'vitest';
import { createEngine, type Engine } from '../../../src/engine/engine.js';
import { crossfade } from '../../../src/engine/light/crossfade.js';
import { markShown } from '../../../src/engine/light/fades.js';
import { ask } from '../../../src/engine/light/intensity.js';
import { type Drive, markDrives, stepDrives } from '../../../src/engine/light/lanes.js';
import { askByLanes } from '../../../src/engine/light/wishes.js';
import { isKnown, stepWatch, wantsLive } from '../../../src/safety/watchdog.js';
import type { Show } from '../../../src/show/model/model.js';
import { truthIn } from '../../../src/signals/conditions.js';
import { STANDING } from '../../../src/signals/doubt.js';
import type { Truth } from '../../../src/signals/kleene.js';
import { NO, UNKNOWN, YES } from '../../../src/signals/kleene.js';
import { stepNetwork } from '../../../src/signals/network.js';
import { showOf } from '../../show/show-of.js';
import { WELL } from '../well.js';
import { type Edge, edges, explore, type Graph, longestWay } from './explore.js';
import { type Memory, memoryOf } from './memory.js';

/**
 * Two performers, a zone, and conditions of it with `for`, `hold` and `not`: four lamps hang on them. One of the two
 * may be lost, unseen to be in the zone or out of it, or off stage, at any moment. The stages are the real ones, from
 * the watchdog to what is asked of the lamps. A second set of them sees where the lost one is: what would be so
 * without the loss.
 */
const STEP_S = 0.25;
const CONDITIONS = {
  lasts: '{ in: stove, of: ines, for: 0.5 }',
  stays: '{ in: stove, of: ines, hold: 0.5 }',
  nobody: '{ not: { in: stove, of: ines, for: 0.25, hold: 0.25 } }',
  either: '{ any: [{ in: stove, of: ines, for: 0.5 }, { in: stove, of: tobias }] }',
};
const showText = (condition: string) => `
lampwright: 1
name: Three values
stage: { x: [0, 10], y: [0, 8] }
inputs:
  tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
  ines: { trackers: [1] }
  tobias: { trackers: [2] }
zones:
  stove: { circle: { centre: [5, 5], radius: 1 } }
fixtures:
  lamp: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 20 } }
conditions:
  asked: ${condition}
mappings:
  - { when: asked, fixtures: [lamp], set: { Dimmer: 80 }, fade: { in: 0.5, out: 0.5 } }
watchdog:
  trackerSilent: { after: 0.25, fade: 0.5 }
  operatorStop: { fade: 0.5 }
  rearm: 0.25
  return: 0.5
outputs:
  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }
`;
const SAFE = 20;
const LIT = 80;
const FADE_S = 0.5;
const RETURN_S = 0.5;
const REARM_S = 0.25;
const MAPPING_FADE_S = 0.5;
/** The longest `for` and `hold` of any of them together: for so long a condition is known after the loss. */
const LASTS_S = 0.5;

interface Input {
  readonly ines: 'in' | 'out' | 'off';
  /** Where she is while she is not heard nobody can see. */
  readonly heard: boolean;
  readonly tobias: 'in' | 'out';
  readonly stopped: boolean;
}

interface State {
  readonly seen: Float64Array;
  readonly unseen: Float64Array;
  readonly lamp: number;
  readonly truth: Truth;
  /** What drives the lamp is known. */
  readonly isKnown: boolean;
  readonly trust: number;
  /** What would be so without any loss; and the lamp as it would be. */
  readonly truthUnseen: Truth;
  readonly lampUnseen: number;
  readonly isLost: boolean;
}

const INPUTS: readonly Input[] = [
  ...(['in', 'out'] as const).flatMap(tobias =>
    (['in', 'out', 'off'] as const).flatMap(ines =>
      (ines === 'off' ? [false] : [true, false]).map(heard => ({
        ines,
        heard,
        tobias,
        stopped: false,
      })),
    ),
  ),
  { ines: 'in', heard: true, tobias: 'in', stopped: true },
];

interface Machine {
  readonly engine: Engine;
  readonly memory: Memory;
}

function machine(show: Show): Machine {
  const engine = createEngine(show);
  const { watched, signals, mappings, crossfades } = engine;
  const { raw, out, kept, begins, keptS, conditions } = signals.network;
  const { all, groups, rest } = crossfades;
  const believed = mappings.drives.map(one => one.believed);
  const roots = [watched.performers, believed, mappings.drives, all, groups, rest];
  const skip = [
    'plans',
    'mapping',
    'performers',
    'crossfades',
    'observation',
    'fixtures',
    'risenFor',
    // Of merged lights, which there are none.
    'looks',
  ];
  return {
    engine,
    memory: memoryOf([{ raw, out, kept, begins, keptS, conditions }, ...roots], skip),
  };
}

/** Everything of a tick that looks at who is believed; the rest of it has a model of its own. */
function tick({ engine }: Machine, { ines, heard, tobias, stopped }: Input): void {
  const {
    show,
    watched,
    signals,
    mappings,
    crossfades,
    orders,
    cues,
    lights,
    asks,
    cueAsks,
    wishes,
    shown,
  } = engine;
  const { watchdog } = show;
  const { scene, network } = signals;
  orders.allStopped = stopped;
  markShown(shown, engine.fades, crossfades, lights, engine.mappings.driveOf);
  markDrives(shown, mappings.drives, watched);
  const isIn = [ines === 'in', tobias === 'in'];
  for (const [p, one] of watched.performers.entries()) {
    const isInes = p === 0;
    const offStage = isInes && ines === 'off';
    const silentForS = isInes && !heard ? 9 : 0;
    const from = one.watch.phase;
    stepWatch(
      one.watch,
      { ...WELL, offStage, stopped, silentForS, settled: shown[p] === 0 },
      STEP_S,
      watchdog,
    );
    one.watch.wellForS = Math.min(one.watch.wellForS, watchdog.rearmS);
    const { phase } = one.watch;
    one.follows = wantsLive(phase);
    one.isKnown = isKnown(phase);
    one.startsAfresh = shown[p] === 0 && from !== 'live';
    const { people, presences } = scene;
    people.standing[p] = one.follows ? STANDING.known : one.isKnown ? STANDING.away : STANDING.lost;
    people.fadeS[p] = one.watch.fadeS;
    people.afresh[p] = one.startsAfresh ? 1 : 0;
    // Who is not believed keeps theirs.
    const presence = presences[0]?.[p] as { level: number };
    if (one.follows) presence.level = isIn[p] ? 1 : 0;
    else if (one.isKnown) presence.level = 0;
  }
  scene.people.areAllThere = false;
  stepNetwork(network, scene, STEP_S);
  const { lasted } = network.conditions;
  for (const times of [lasted.surely, lasted.possibly]) {
    for (const [i, { forS }] of show.signals.conditions.entries())
      times[i] = Math.min(times[i] as number, forS);
  }
  stepDrives(mappings.drives, network, orders, cues, watched, show, STEP_S);
  crossfade(crossfades, watched, show, STEP_S);
  ask(asks, cueAsks, mappings, crossfades, lights);
  askByLanes(wishes, cueAsks, crossfades, lights);
}

function exploreShow(show: Show, inputs: readonly Input[]): Graph<State, Input> {
  const seen = machine(show);
  const unseen = machine(show);
  const now = (): State => {
    const { signals, mappings, lights, watched } = seen.engine;
    const drive = mappings.drives[0] as Drive;
    const { believed } = drive;
    return {
      seen: seen.memory.save(),
      unseen: unseen.memory.save(),
      lamp: lights.asked[0] as number,
      truth: truthIn(signals.network.conditions, drive.when),
      isKnown: believed.isKnown,
      trust: believed.watch.trust,
      truthUnseen: truthIn(unseen.engine.signals.network.conditions, drive.when),
      lampUnseen: unseen.engine.lights.asked[0] as number,
      isLost: !watched.performers.every(one => one.isKnown),
    };
  };
  return explore<State, Input>(
    {
      initial: now(),
      inputs,
      key: ({ seen: a, unseen: b }) => `${textOf(a)}${textOf(b)}`,
      next(state, input) {
        seen.memory.load(state.seen);
        unseen.memory.load(state.unseen);
        tick(seen, input);
        tick(unseen, { ...input, heard: true, stopped: false });
        return now();
      },
    },
    20_000,
  );
}

/** What differs by rounding is one state. */
function textOf(state: Float64Array): string {
  const { buffer } = Float64Array.from(state, value => Math.round(value * 1e6));
  return Buffer.from(buffer).toString('latin1');
}

const above = (a: number, b: number) => a > b + 1e-6;
const isSafe = ({ lamp }: State) => Math.abs(lamp - SAFE) < 1e-6;

describe.each(Object.entries(CONDITIONS))('%s: %s', (name, condition) => {
  let graph: Graph<State, Input>;

  function breaches(isBreach: (edge: Edge<State, Input>) => boolean): string[] {
    const found: string[] = [];
    const words = ({
      lamp,
      truth,
      trust,
      isKnown: known,
      truthUnseen,
      lampUnseen,
      isLost,
    }: State) => JSON.stringify({ lamp, truth, trust, known, truthUnseen, lampUnseen, isLost });
    for (const edge of edges(graph)) {
      if (!isBreach(edge)) continue;
      found.push(`${words(edge.from)} ${JSON.stringify(edge.input)} => ${words(edge.to)}`);
    }
    return found.slice(0, 5);
  }

  beforeAll(() => {
    // Two who move make many states.
    const inputs = INPUTS.filter(one =>
      name === 'either' ? one.ines !== 'off' : one.stopped || one.tobias === 'out',
    );
    graph = exploreShow(showOf(showText(condition)), inputs);
  }, 60_000);

  test('comes to yes, no and unknown, lit, dark and safe, and to no end of it', () => {
    const { states } = graph;
    for (const truth of [NO, UNKNOWN, YES])
      expect(states.some(one => one.truth === truth)).toBe(true);
    for (const lamp of [0, SAFE, LIT])
      expect(states.some(one => one.lamp === lamp && one.truth !== UNKNOWN)).toBe(true);
  });

  test('unknown is not no, and not yes: what would be so without the loss is always among what may be', () => {
    expect(
      breaches(({ to: { truth, truthUnseen } }) => truth !== UNKNOWN && truth !== truthUnseen),
    ).toEqual([]);
  });

  test('while it is not known, the lamp rises towards its safe value and no further', () => {
    const isBreach = ({ from, to }: Edge<State, Input>) =>
      !to.isKnown && above(to.lamp, from.lamp) && above(to.lamp, SAFE);
    expect(breaches(isBreach)).toEqual([]);
  });

  test('it comes up only where that would be so without the loss too, and no faster than light returns', () => {
    const most = STEP_S * (LIT / MAPPING_FADE_S + (LIT - SAFE) / RETURN_S);
    const isBreach = ({ from, to }: Edge<State, Input>) => {
      const rise = to.lamp - from.lamp;
      return (
        above(rise, 0) && above(to.lamp, SAFE) && (to.truthUnseen !== YES || above(rise, most))
      );
    };
    expect(breaches(isBreach)).toEqual([]);
  });

  test('who is lost is at their safe look in the time promised, from anywhere, where it makes a difference', () => {
    const steps = longestWay(
      graph,
      () => true,
      one => isSafe(one) || one.isKnown,
      ({ to }) => to.isLost,
    );
    expect(steps).toBeLessThanOrEqual(FADE_S / STEP_S + 1);
  });

  test('tracked well again: lit where it is so, dark where it is not, in the time that a return takes', () => {
    for (const ines of ['in', 'out'] as const) {
      const isThere = ({ input }: Edge<State, Input>) =>
        input.ines === ines && input.heard && input.tobias === 'out' && !input.stopped;
      const isYes = (ines === 'in') !== (name === 'nobody');
      const isArrived = ({ lamp }: State) => Math.abs(lamp - (isYes ? LIT : 0)) < 1e-6;
      const steps = longestWay(graph, () => true, isArrived, isThere);
      const backS = FADE_S + REARM_S + RETURN_S + LASTS_S + MAPPING_FADE_S;
      expect(steps).toBeLessThanOrEqual(backS / STEP_S + 4);
    }
  });

  test('a stop of everybody: the safe look in the time promised, from anywhere', () => {
    const steps = longestWay(
      graph,
      () => true,
      isSafe,
      ({ input }) => input.stopped,
    );
    expect(steps).toBeLessThanOrEqual(FADE_S / STEP_S + 1);
    expect(steps).toBeGreaterThan(0);
  });
});
