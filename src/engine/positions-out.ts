import type { PositionsPlan, Show } from '../show/model/model.js';
import { createEstimate } from '../tracking/sighting.js';
import type { EngineView, PerformerView } from './view.js';

/** In this order, so that a number stands for each. */
export const POSITION_STATES = ['tracked', 'lost', 'off stage', 'not heard'] as const;
export type PositionState = (typeof POSITION_STATES)[number];

/** Where we say somebody is: stage frame, metres and metres a second. */
export interface PositionNow {
  readonly state: PositionState;
  /** 0 for somebody who is not tracked. */
  readonly confidence: number;
  readonly at: readonly [x: number, y: number, z: number];
  readonly velocity: readonly [x: number, y: number, z: number];
}

/** Everybody of an output of positions, in its order. */
export interface PositionRound {
  /** Name of the output. */
  readonly output: string;
  /** The time the positions are for, monotonic seconds. */
  readonly atS: number;
  readonly performers: readonly PositionNow[];
}

/** When each output is due next, and where everybody was last tracked. */
export interface PositionsOut {
  readonly plans: readonly PositionsPlan[];
  readonly dueS: Float64Array;
  /** For each performer, by name, x, y, z: stage frame, metres. */
  readonly places: ReadonlyMap<string, [x: number, y: number, z: number]>;
}

const NONE: readonly PositionRound[] = [];
const STANDING = [0, 0, 0] as const;
/** Ticks come a little early or late; a round due before half a tick from now leaves now. */
const TICK_S = 0.02;

/** @param before outputs of the old show: whoever is in both stays where they were */
export function createPositionsOut(
  { positions, performers, bounds }: Show,
  before?: PositionsOut,
): PositionsOut {
  const places = performers.map(({ name, wornAtM }) => {
    const place = before?.places.get(name) ?? middleOf(bounds, wornAtM);
    return [name, [...place] as [number, number, number]] as const;
  });
  return { plans: positions, dueS: new Float64Array(positions.length), places: new Map(places) };
}

/** For somebody not heard yet: a place on the stage, rather than the origin, which may be a corner. */
export function middleOf({ min, max }: Show['bounds'], z: number): [number, number, number] {
  return [(min.x + max.x) / 2, (min.y + max.y) / 2, z];
}

const estimate = createEstimate();
/** To a tenth of a millimetre: no more is known, and it travels as text. */
const STEPS = 1e4;

/**
 * The rounds that are due now; after a tick, at its time. Positions are smoothed, and predicted as far as each output
 * says. Somebody who is not tracked stays where they were last tracked.
 */
export function positionsDue(
  out: PositionsOut,
  view: EngineView,
  nowS: number,
): readonly PositionRound[] {
  let rounds: PositionRound[] | undefined;
  for (let i = 0; i < out.plans.length; i++) {
    const plan = out.plans[i] as PositionsPlan;
    const dueS = out.dueS[i] as number;
    if (nowS < dueS - TICK_S / 2) continue;
    // After a pause it goes on from now.
    out.dueS[i] = Math.max(dueS, nowS - TICK_S) + 1 / plan.rateHz;
    rounds ??= [];
    rounds.push({
      output: plan.name,
      atS: nowS + plan.aheadS,
      performers: plan.performers.map(({ index }) =>
        positionOf(out, view.performers[index] as PerformerView, nowS + plan.aheadS),
      ),
    });
  }
  return rounds ?? NONE;
}

function positionOf({ places }: PositionsOut, performer: PerformerView, atS: number): PositionNow {
  const state = stateOf(performer);
  const place = places.get(performer.name) ?? [0, 0, 0];
  if (state !== 'tracked' || !performer.predict(atS, estimate)) {
    const said = state === 'tracked' ? 'lost' : state;
    return { state: said, confidence: 0, at: [...place], velocity: STANDING };
  }
  const { x, y, z, vx, vy, vz } = estimate;
  place[0] = rounded(x);
  place[1] = rounded(y);
  place[2] = rounded(z);
  return {
    state,
    confidence: rounded(performer.confidence.value),
    at: [...place],
    velocity: [rounded(vx), rounded(vy), rounded(vz)],
  };
}

function rounded(value: number): number {
  return Math.round(value * STEPS) / STEPS;
}

function stateOf({ offStage, seen, isTracked }: PerformerView): PositionState {
  if (offStage) return 'off stage';
  if (!seen) return 'not heard';
  return isTracked ? 'tracked' : 'lost';
}

/** The same with nobody tracked: sent while there is no engine. */
export function lostRound(round: PositionRound, atS: number): PositionRound {
  return {
    ...round,
    atS,
    performers: round.performers.map(one => ({
      state: one.state === 'tracked' ? 'lost' : one.state,
      confidence: 0,
      at: one.at,
      velocity: STANDING,
    })),
  };
}

/** Sent before an engine has said anything: nobody has been heard. */
export function silentRound({ places }: PositionsOut, plan: PositionsPlan): PositionRound {
  return {
    output: plan.name,
    atS: 0,
    performers: plan.performers.map(({ name }) => ({
      state: 'not heard',
      confidence: 0,
      at: places.get(name) ?? [0, 0, 0],
      velocity: STANDING,
    })),
  };
}
