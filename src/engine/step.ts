import { aim } from './aim.js';
import type { EngineEvent } from './events.js';
import { weighFeeds } from './feeds.js';
import { guard, trust } from './guard.js';
import { gateHazards, stepGates } from './hazards.js';
import type { TickInputs } from './inputs.js';
import { map } from './map.js';
import { operate } from './operator.js';
import { weighOrders } from './orders.js';
import { patch } from './patch.js';
import { receive } from './receive.js';
import { beginAfterStall } from './stall.js';
import type { EngineState } from './state.js';
import { follow } from './track.js';
import { watch } from './watch.js';
import { weighTrackers } from './worn.js';
import { zones } from './zones.js';

export interface Tick {
  /** Levels of all universes, 512 each in the order of the show; the engine's own, copy to keep. */
  readonly levels: Uint8Array;
  readonly events: readonly EngineEvent[];
}

/** A tick that comes late moves fades by no more than this, so that a stall is never a jump of light. */
const LONGEST_STEP_S = 0.1;
/** Four of its beats: a silence that is so much longer than it may be, the supervisor has noticed. */
const NOTICED_WITHIN_S = 0.1;

/**
 * Takes in what has arrived so far, ahead of the tick. The tick would do the same; done before, it is
 * not in the way between a tick and its light.
 */
export function absorb(state: EngineState, inputs: TickInputs, nowS: number): void {
  receive(state, inputs, nowS);
}

/** Takes a section's levels as soon as they are final: they may leave while the next is computed. */
export type SectionTaker = (section: number, levels: Uint8Array) => void;

/**
 * One tick, from datagrams to slots. No I/O, no clock, no randomness: the same state, inputs and time
 * give the same levels.
 * @param nowS monotonic seconds, never before the last tick's
 * @param take called for each section, in order
 */
export function step(
  state: EngineState,
  inputs: TickInputs,
  nowS: number,
  take?: SectionTaker,
): Tick {
  const elapsedS = nowS - (state.lastTickS ?? nowS);
  const dtS = Math.min(Math.max(elapsedS, 0), LONGEST_STEP_S);
  state.lastTickS = nowS;
  state.events = [];
  if (elapsedS > state.show.watchdog.engineSilent.afterS + NOTICED_WITHIN_S) {
    beginAfterStall(state, elapsedS);
  }

  operate(state, inputs.operator ?? [], nowS); // orders -> who wears what
  receive(state, inputs, nowS); // datagram -> message -> position in the stage frame -> track
  follow(state, nowS); //          tracks -> estimates at the moment of light, confidence
  weighOrders(state, nowS); //      orders -> who is stopped, is the desk there
  weighTrackers(state, nowS); //   trackers -> which of several is silent, whose battery is low
  weighFeeds(state); //            trackers -> whose feed hangs, whose clock has stepped
  watch(state, nowS, dtS); //      estimates -> whom to believe
  zones(state); //                 estimates -> presence in each zone
  map(state, dtS); //              presence -> wanted attribute values, merged
  trust(state, dtS); //            whom to believe -> how far; mappings -> intensities asked
  stepGates(state, nowS); //       orders -> which hazardous outputs are enabled
  for (const [index, section] of state.sections.entries()) {
    aim(state, section, dtS); //   wanted points -> pan and tilt
    guard(state, section, dtS); // wanted values -> allowed values: the last word
    gateHazards(state, section); // hazardous outputs: safe values, unless they are enabled
    patch(state, section); //      values -> slots
    take?.(index, state.levels);
  }

  return { levels: state.levels, events: state.events };
}
