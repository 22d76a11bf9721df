import type { Order } from '../protocols/osc/orders.js';
import type { CuePlan } from '../show/model/model.js';
import { act } from './cues/actions.js';
import { orderCue, orderMappings, settleCues, stepCues } from './cues/cues.js';
import { stepSignals } from './cues/signals.js';
import { stepDesk } from './desk.js';
import { countDrops, type Engine } from './engine.js';
import type { EngineEvent } from './events/events.js';
import { hearDesk, noteUnknownCue, sendByCue, takeOrder, weighOrders } from './events/orders.js';
import { noteResting, stepDeskGround } from './ground.js';
import { guard } from './guard.js';
import { aim, dropAims, steer } from './heads/aim.js';
import { choose } from './heads/choices.js';
import { settleHeads, takeHeads } from './heads/cue-heads.js';
import { keepClear } from './heads/keep-out.js';
import { orderPins } from './heads/pins.js';
import { crossfade, dropCrossfades, weighCrossfades } from './light/crossfade.js';
import { type Explaining, noteOut, noteWanted } from './light/explaining.js';
import { dropFades, markShown } from './light/fades.js';
import { noteFalling } from './light/falling.js';
import { ask } from './light/intensity.js';
import { dropDrives, markDrives, stepDrives } from './light/lanes.js';
import { map } from './light/map.js';
import { patch } from './light/patch.js';
import { crossOver, stepReloadFade } from './light/reload-fade.js';
import { askByLanes } from './light/wishes.js';
import { dropHazards, gateHazards, stepGates } from './operator/hazards.js';
import { dropHighlight, showHighlight, stepHighlight } from './operator/highlight.js';
import { operate } from './operator/operator.js';
import { leave, takeTold } from './people/off-stage.js';
import { forgetContacts, watchTrackers } from './people/tracker-watch.js';
import { dropWatched, watch } from './people/watch.js';
import { zones } from './people/zones.js';
import { receive, release } from './reports/receive.js';
import { follow, refit, track } from './reports/tracks.js';
import type { DeskLevels, TickInputs } from './values/inputs.js';

export interface Tick {
  /** Levels of all universes, 512 each in the order of the show; owned by the engine: copy to keep. */
  readonly levels: Uint8Array;
  readonly events: readonly EngineEvent[];
}

/** A tick that comes late moves fades by no more than this, so that a stall is never a jump of light. */
const LONGEST_STEP_S = 0.1;
/** Requests based on what somebody sees are not carried out later than this: the daemon's `doneWithinS`. */
const ORDERS_LAST_S = 3;
/** After a stall the datagrams of that time are read, all with an arrival time of now. */
const READS_WITHIN_S = 0.5;
const NO_LEVELS: readonly DeskLevels[] = [];
/** Four of its beats: a silence this much longer than allowed has been noticed by the supervisor. */
const NOTICED_WITHIN_S = 0.1;

/**
 * Takes in what has arrived: datagrams -> reports and orders -> tracks. The tick does the same first; done ahead of
 * the tick, it does not delay the light.
 */
export function absorb(engine: Engine, { datagrams, unixOffsetS }: TickInputs, nowS: number): void {
  const { reception, tracks, orders, cues } = engine;
  noteStall(engine, nowS);
  const due = release(reception, nowS); // what was held for its time tag
  track(tracks, due, due.length);
  for (const datagram of datagrams) {
    const received = receive(reception, datagram, unixOffsetS, nowS);
    track(tracks, received.reports, received.count);
    for (const order of received.orders) {
      const { arrivalS, from } = datagram;
      if (isTooOld(engine, order, arrivalS)) {
        countDrops(engine, 'order-too-late', 1, from);
        continue;
      }
      const refusal = take(engine, order, arrivalS, from);
      const isSaidAnew = order.kind === 'cue' || order.kind === 'pin';
      if (isSaidAnew && order.repeated !== true) hearDesk(orders, arrivalS, from);
      if (refusal !== undefined) countDrops(engine, refusal, 1, from);
      if (refusal === 'unknown-cue' && order.kind === 'cue' && typeof order.to !== 'string') {
        noteUnknownCue(orders, order.to.name, cues.plans, arrivalS, from);
      }
    }
  }
}

/** @returns why not, to be counted */
function take(engine: Engine, order: Order, arrivalS: number, from: string | undefined) {
  const { orders, cues, choices } = engine;
  switch (order.kind) {
    case 'cue':
      return orderCue(cues, order, arrivalS, from);
    case 'pin':
      return orderPins(choices, orders, order, arrivalS, from);
    case 'mappings':
      return orderMappings(cues, order, from);
    case 'performers':
      return takeTold(engine, order, from);
    case 'show':
      // The supervisor hears it too, and knows which one runs here.
      return undefined;
    default:
      return takeOrder(orders, order, arrivalS, from);
  }
}

/** Nobody knows when a datagram came that waited in the system while this process stood still. */
function noteStall(engine: Engine, nowS: number): void {
  const { lastTickS, stall } = engine;
  if (lastTickS === undefined || nowS - lastTickS <= ORDERS_LAST_S) return;
  stall.fromS = lastTickS + ORDERS_LAST_S;
  stall.untilS = nowS + READS_WITHIN_S;
}

/** Whether an order may be older than its sender's wait for an answer. Orders that make light safe are obeyed however old they are. */
function isTooOld({ stall }: Engine, order: Order, arrivalS: number): boolean {
  if (!(arrivalS > stall.fromS && arrivalS < stall.untilS)) return false;
  return (
    order.kind !== 'stop' && order.kind !== 'desk' && !(order.kind === 'enable' && !order.held)
  );
}

/** Takes a section's levels as soon as they are final: they may leave while the next section is computed. */
export type SectionTaker = (section: number, levels: Uint8Array) => void;

/**
 * One tick, from datagrams to slots. No I/O, no clock, no randomness: the same state, inputs and time
 * give the same levels. Each stage changes only its own state, and reads what the stages before it made;
 * `map`, `aim` and `watch` also read where fades stood at the end of the last tick, and `leave` who was believed.
 * @param nowS monotonic seconds, never before the last tick's
 * @param take called for each section, in order
 */
export function step(engine: Engine, inputs: TickInputs, nowS: number, take?: SectionTaker): Tick {
  const { show, orders, tracks, offStage, watched, presences, lights, crossfades, fades } = engine;
  const { mappings, aims, keepOuts, hazards, trackerWatch, signals, cues } = engine;
  const events: EngineEvent[] = [];
  const isFirst = engine.lastTickS === undefined;
  const elapsedS = nowS - (engine.lastTickS ?? nowS);
  const dtS = Math.min(Math.max(elapsedS, 0), LONGEST_STEP_S);
  noteStall(engine, nowS);
  engine.lastTickS = nowS;
  if (elapsedS > show.watchdog.engineSilent.afterS + NOTICED_WITHIN_S) {
    beginAfterStall(engine, elapsedS, events);
  }

  // Requests -> who wears what, who is stopped.
  const changes = operate(engine, inputs.operator ?? [], nowS, events);
  refit(tracks, changes, nowS);
  forgetContacts(trackerWatch, changes, nowS);
  // Datagrams -> tracks -> one estimate a performer at the moment of light, with its confidence.
  absorb(engine, inputs, nowS);
  // Slots of the desk -> numbers of signals, and orders.
  stepDesk(engine.desk, inputs.desk ?? NO_LEVELS, engine, nowS);
  follow(tracks, engine.reception, show, nowS);
  // Orders, trackers -> events. Estimates, orders -> who is off stage, whom to believe.
  engine.counters.ordersMerged += orders.merged;
  weighOrders(orders, show, nowS, events);
  watchTrackers(trackerWatch, engine, nowS, events);
  markShown(engine.shown, fades, crossfades, lights, mappings.driveOf);
  markDrives(engine.shown, mappings.drives, watched);
  leave(offStage, engine, nowS, events);
  watch(watched, engine, nowS, dtS, events);
  // Estimates -> presence in each zone -> signals and conditions -> wanted values, merged.
  zones(presences, tracks, watched, events);
  stepSignals(signals, tracks, watched, nowS, dtS, events);
  // Orders -> the cue that is on -> which mappings act and how far; base and safe values.
  stepCues(cues, signals.network, lights, dtS, events);
  // Levels of the desk -> the safe values that are its own.
  stepDeskGround(engine.ground, engine, dtS);
  if (isFirst) beginInCue(engine);
  // If the same cue stays on, who is off stage is remembered separately.
  if (cues.began && cues.cause !== 'restored') sendByCue(orders, cues.plans[cues.on] as CuePlan);
  act(engine.actions, signals, cues, nowS, events);
  if (cues.moved) weighCrossfades(crossfades, cues);
  takeHeads(cues, engine);
  choose(engine.choices, engine, dtS, events);
  stepDrives(mappings.drives, signals.network, orders, cues, watched, show, dtS);
  const explaining = beginExplaining(engine);
  map(mappings, presences, cues, watched, crossfades, fades, lights, dtS, explaining?.wishes);
  // Whom to believe -> how far each is from safe to live -> intensities asked; which hazards are enabled.
  crossfade(crossfades, watched, show, dtS);
  noteFalling(engine.falling, engine);
  ask(engine.asks, engine.cueAsks, mappings, crossfades, lights, explaining?.wishes);
  askByLanes(engine.wishes, engine.cueAsks, crossfades, lights, explaining?.wishes);
  if (explaining !== undefined) noteWanted(explaining.merged, lights);
  stepHighlight(engine.highlight, engine, nowS, dtS, events);
  stepGates(hazards, orders, cues, watched, show, nowS, events);
  if (engine.reloadFade !== undefined && !stepReloadFade(engine.reloadFade, dtS)) {
    engine.reloadFade = undefined;
  }
  const { reloadFade } = engine;
  for (let section = 0; section < lights.sections.length; section++) {
    aim(aims, section, watched, fades, lights, dtS, events); // points -> pan, tilt, optics
    keepClear(keepOuts, section, aims, fades, lights, show, dtS, events); // beams stay out of it
    if (explaining !== undefined) noteWanted(explaining.aimed, lights);
    guard(fades, engine, section, dtS); // wanted values -> allowed values: the last word
    if (explaining !== undefined) noteOut(explaining.guarded, lights, section);
    steer(aims, section, fades, lights, dtS); // dark heads -> where they really are
    if (explaining !== undefined) noteOut(explaining.steered, lights, section);
    // What is left of the old show's light.
    if (reloadFade) crossOver(reloadFade, section, lights, crossfades, fades, dtS);
    if (explaining !== undefined) noteOut(explaining.crossed, lights, section);
    showHighlight(engine.highlight, section, engine.keepOuts, fades, lights); // over everything, for whoever focuses
    if (explaining !== undefined) noteOut(explaining.highlighted, lights, section);
    gateHazards(hazards, section, lights); // hazardous outputs: safe values, unless enabled
    patch(engine.patch, section); // values -> slots
    take?.(section, engine.patch.levels);
  }
  noteResting(engine.ground, engine);
  return { levels: engine.patch.levels, events };
}

/** The notes of the last tick are gone. */
function beginExplaining({ explaining }: Engine): Explaining | undefined {
  if (explaining !== undefined) explaining.wishes.length = 0;
  return explaining;
}

/**
 * After a tick so late that the supervisor has given the engine up: the supervisor takes the light to the safe look,
 * and accepts frames again only when that is done. The engine begins there too. If it went on from where it stood, it
 * might still be fading a lost performer out when the supervisor comes back to it, and that light would come up once
 * more with nobody tracked.
 */
function beginAfterStall(engine: Engine, stalledS: number, events: EngineEvent[]): void {
  dropWatched(engine.watched, engine.tracks, events);
  settleCues(engine.cues, engine.lights);
  if (engine.cues.on >= 0) weighCrossfades(engine.crossfades, engine.cues);
  settleHeads(engine.cues, engine);
  dropCrossfades(engine.crossfades);
  dropDrives(engine.mappings.drives);
  dropFades(engine.fades);
  dropAims(engine.aims, engine.lights);
  dropHazards(engine.hazards);
  const fixture = engine.highlight.name;
  if (fixture !== undefined)
    events.push({ kind: 'highlight', fixture, on: false, reason: 'stalled' });
  dropHighlight(engine.highlight);
  engine.reloadFade = undefined;
  events.push({ kind: 'stalled', stalledS });
}

/**
 * The first engine begins in the first cue; a restarted one in the cue that was on. Either starts at its safe look,
 * as the supervisor does.
 */
function beginInCue(engine: Engine): void {
  const { cues, lights, fades, aims, crossfades } = engine;
  if (cues.on <= 0) return;
  settleCues(cues, lights);
  weighCrossfades(crossfades, cues);
  settleHeads(cues, engine);
  lights.out.set(lights.safe);
  fades.from.set(lights.safe);
  dropAims(aims, lights);
}
