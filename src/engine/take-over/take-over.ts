import { wearersOf } from '../../show/model/wearers.js';
import { whole } from '../../stage/in-parts.js';
import { hasStarted } from '../../tracking/track.js';
import { withTrackers } from '../../tracking/trackers.js';
import { takeOff } from '../cues/cues.js';
import { takeDesk } from '../desk.js';
import type { Engine } from '../engine.js';
import { takeDeskGround } from '../ground.js';
import { takeChoices } from '../heads/choices.js';
import { crossOver, stepReloadFade } from '../light/reload-fade.js';
import { takeHighlight } from '../operator/highlight.js';
import { takeWatched, type WatchedPerformer } from '../people/watch.js';
import { NOBODY, type Tracker } from '../reports/roster.js';
import type { TrackedPerformer } from '../reports/tracks.js';
import type { Places } from '../values/places.js';
import { takeCue } from './cue.js';
import { beginFade, takeLights } from './light.js';
import { takeMappings } from './mappings.js';
import { type Pairs, pairsOf } from './pairs.js';
import { takeSignals } from './signals.js';

/**
 * Makes a new engine go on where the old one stands, with all that is known of performers, trackers, orders and
 * fixtures that both shows have, by name. Its light begins at what is out, and goes to what its show wants over that
 * show's `reload` time. The patch must be the same in both shows (see `goesOn`), and the old engine must not be
 * stepped any more.
 * @param pairs what is the same in both; worked out ahead if there is little time
 */
export function takeOver(next: Engine, old: Engine, pairs: Pairs = pairsOf(next, old)): void {
  whole(takeOverInParts(next, old, pairs));
}

/** After this many runs most of it is compiled. */
const REHEARSALS = 3;

/**
 * Warms up with an engine that is thrown away: code that has not run for a while takes several times as long, and all
 * of it has to fit into one tick. Takes over and crosses over in steps, each between two ticks.
 */
export function* rehearseInParts(
  next: Engine,
  old: Engine,
  pairs: Pairs,
): Generator<undefined, void> {
  for (let time = 0; time < REHEARSALS; time++) {
    yield* takeOverInParts(next, old, pairs);
    yield;
  }
  const { reloadFade, lights, crossfades, fades } = next;
  if (reloadFade === undefined) return;
  stepReloadFade(reloadFade, 0);
  for (let section = 0; section < lights.sections.length; section++) {
    crossOver(reloadFade, section, lights, crossfades, fades, 0);
    yield;
  }
}

/** In steps; a tick in between changes what later steps find. */
function* takeOverInParts(next: Engine, old: Engine, pairs: Pairs): Generator<undefined, void> {
  const { performers: who } = pairs;
  next.lastTickS = old.lastTickS;
  Object.assign(next.counters, old.counters);
  const trackers = takeTrackers(next, old, who);
  takeTracks(next, old, who);
  takeOrders(next, old, who);
  takeReception(next, old, who, trackers);
  takeTrackerWatch(next, old, who, trackers);
  takeStage(next, old, who);
  takePresences(next, old, pairs);
  yield;
  takeSignals(next, old, pairs.signals);
  takeDesk(next.desk, old.desk, next.reception, old.lastTickS ?? 0);
  takeOff(next.cues, old.cues, pairs.mappings);
  takeCue(next, old, pairs);
  yield;
  takeChoices(
    next.choices,
    old.choices,
    next.show,
    old.show.performers.map(({ name }) => name),
    pairs.mappings,
    next,
  );
  takeDeskGround(next.ground, old.ground, next);
  takeMappings(next, old, pairs);
  yield;
  takeLights(next, old, pairs);
  takeHighlight(next.highlight, old.highlight, next.show, pairs.fixtures);
  yield;
  next.hazards.all.forEach(output => {
    const { fixture, hazard } = output;
    const same = old.hazards.all.find(one => one.fixture === fixture && one.hazard === hazard);
    if (same === undefined) return;
    output.gate = same.gate;
    output.told = same.told;
    output.reason = same.reason;
  });
  takeActions(next, old, pairs.signals.conditions);
  next.actions.cue = next.cues.on;
  next.reloadFade = beginFade(next, old, pairs);
}

/**
 * What was entered is left, whoever is told now. Nobody knows whether a changed condition was no before: saving a
 * file starts nothing.
 */
function takeActions({ actions, cues }: Engine, old: Engine, same: Places): void {
  for (const trigger of actions.all) {
    const { plan } = trigger;
    const alike = old.actions.all.filter(
      one => one.plan.of === plan.of && one.plan.on === plan.on && one.plan.name === plan.name,
    );
    const key = JSON.stringify({ ...plan, index: 0 });
    const was = alike.find(one => JSON.stringify({ ...one.plan, index: 0 }) === key);
    trigger.sentS.push(...(was?.sentS ?? []));
    const [one] = alike;
    if (plan.of !== 'condition' || one === undefined) continue;
    trigger.entered = one.entered;
    trigger.wasNo = one.wasNo && same[plan.index] === one.plan.index;
  }
  cues.plans.forEach(({ name, fire }, cue) => {
    if (fire === undefined) return;
    const then = old.cues.plans.findIndex(one => one.name === name);
    const before = old.cues.plans[then]?.fire;
    const isSame = before !== undefined && same[fire] === before;
    cues.wasNo[cue] = isSame ? (old.cues.wasNo[then] as number) : 0;
  });
}

/** Who wears what: as the new show says, except for what people have changed. @returns the old index of each tracker */
function takeTrackers(next: Engine, old: Engine, who: Places): (Tracker | undefined)[] {
  const before = wearersOf(old.show);
  for (const tracker of next.roster.trackers) {
    const was = old.roster.byId.get(tracker.id);
    if (was === undefined) continue;
    const wearer = old.show.performers[was.performer]?.name;
    if (wearer === before.get(tracker.id)) continue;
    const performer = was.performer === NOBODY ? NOBODY : who.indexOf(was.performer);
    tracker.performer = performer;
  }
  // Places in the order of the roster.
  const worn = next.show.performers.map(() => 0);
  for (const tracker of next.roster.trackers) {
    const { performer } = tracker;
    tracker.place = performer === NOBODY ? -1 : (worn[performer] as number);
    if (performer !== NOBODY) worn[performer] = tracker.place + 1;
  }
  return next.roster.trackers.map(({ id }) => old.roster.byId.get(id));
}

function takeTracks(next: Engine, old: Engine, who: Places): void {
  const { tracks, roster } = next;
  tracks.lastHeardS = old.tracks.lastHeardS;
  const options = next.show.tracking.track;
  const isSameTracking = JSON.stringify(options) === JSON.stringify(old.show.tracking.track);
  tracks.performers.forEach((one, p) => {
    const was = old.tracks.performers[who[p] as number];
    const worn = roster.trackers
      .filter(({ performer }) => performer === p)
      .sort((a, b) => a.place - b.place);
    const fits = worn.map(({ fit }) => fit);
    const from = worn.map(({ id }) => {
      const before = old.roster.byId.get(id);
      return before !== undefined && before.performer === who[p] ? before.place : undefined;
    });
    if (was === undefined) {
      one.track = withTrackers(
        one.track,
        fits,
        fits.map(() => undefined),
      );
      return;
    }
    const { scratchPool } = one.track;
    const known = isSameTracking ? was.track : { ...was.track, options, scratchPool };
    const isSame =
      isSameTracking &&
      from.every((place, k) => place === k) &&
      was.track.trackerCount === fits.length &&
      JSON.stringify(was.track.fits) === JSON.stringify(fits);
    one.track = isSame ? was.track : withTrackers(known, fits, from);
    if (hasStarted(was.track)) takeTracked(one, was);
  });
  for (const lead of tracks.leads) {
    const same = old.tracks.leads.find(
      ({ performer, lagS }) => performer === who[lead.performer] && lagS === lead.lagS,
    );
    const tracked = tracks.performers[lead.performer];
    Object.assign(lead.estimate, same?.estimate ?? tracked?.estimate);
  }
}

function takeTracked(one: TrackedPerformer, was: TrackedPerformer): void {
  Object.assign(one.estimate, was.estimate);
  Object.assign(one.confidence, was.confidence);
  const { heardS, stampS, hasJumped, seen, outsideM, silentForS, clockGone, jumped, fresh } = was;
  Object.assign(one, {
    heardS,
    stampS,
    hasJumped,
    seen,
    outsideM,
    silentForS,
    clockGone,
    jumped,
    fresh,
  });
}

function takeOrders({ orders }: Engine, { orders: was }: Engine, who: Places): void {
  const { sinceS, allStopped, safeLookHeld, deskHeardS, deskLost, needsDesk, deskFrom, cause, by } =
    was;
  Object.assign(orders, {
    sinceS,
    allStopped,
    safeLookHeld,
    deskHeardS,
    deskLost,
    needsDesk,
    deskFrom,
    cause,
    by,
  });
  for (const hazard of Object.keys(orders.enables) as (keyof typeof orders.enables)[]) {
    const { hands, ...rest } = was.enables[hazard];
    Object.assign(orders.enables[hazard], { ...rest, hands: new Map(hands) });
  }
  Object.assign(orders.enablesFrom, was.enablesFrom);
  orders.untold.push(...was.untold);
  orders.mayTell = was.mayTell;
  orders.stopAsk = was.stopAsk;
  orders.allStoppedToldByMain = was.allStoppedToldByMain;
  orders.said.allStopped = was.said.allStopped;
  orders.said.allStoppedToldByMain = was.said.allStoppedToldByMain;
  orders.said.deskLost = was.said.deskLost;
  who.forEach((old, p) => {
    orders.stopped[p] = was.stopped[old] ?? (allStopped ? 1 : 0);
    orders.said.stopped[p] = was.said.stopped[old] ?? 0;
    orders.stopToldByMain[p] = was.stopToldByMain[old] ?? (was.allStoppedToldByMain ? 1 : 0);
    orders.said.stopToldByMain[p] = was.said.stopToldByMain[old] ?? 0;
    orders.sentOffHere[p] = was.sentOffHere[old] ?? 0;
    orders.offToldByMain[p] = was.offToldByMain[old] ?? 0;
  });
}

function takeReception(
  { reception, roster }: Engine,
  { reception: was }: Engine,
  who: Places,
  trackers: readonly (Tracker | undefined)[],
): void {
  reception.clocks.forEach((clock, input) => {
    Object.assign(clock, was.clocks[input]);
  });
  who.forEach((old, p) => {
    reception.inputOf[p] = was.inputOf[old] ?? -1;
    reception.untagged[p] = was.untagged[old] ?? 0;
  });
  trackers.forEach((old, index) => {
    if (old === undefined) return;
    reception.heardS[index] = was.heardS[old.index] as number;
    reception.battery[index] = was.battery[old.index] as number;
    reception.batteryOutside[index] = was.batteryOutside[old.index] as number;
    reception.feedsOf[index]?.push(...(was.feedsOf[old.index] ?? []));
    reception.places.set(was.places.subarray(2 * old.index, 2 * old.index + 2), 2 * index);
  });
  for (const report of was.held) {
    const tracker = roster.byId.get(report.tracker.id);
    if (tracker !== undefined) reception.held.push({ ...report, tracker });
  }
}

function takeTrackerWatch(
  { trackerWatch: watch }: Engine,
  { trackerWatch: was }: Engine,
  who: Places,
  trackers: readonly (Tracker | undefined)[],
): void {
  trackers.forEach((old, index) => {
    if (old === undefined) return;
    for (const key of [
      'awaitedS',
      'steadySinceS',
      'wasGiven',
      'saidSilent',
      'saidLow',
      'saidFrozen',
    ] as const) {
      watch[key][index] = was[key][old.index] as number;
    }
  });
  who.forEach((old, p) => {
    if (old < 0) return;
    watch.saidApart[p] = was.saidApart[old] as number;
    watch.apartTurnedS[p] = was.apartTurnedS[old] as number;
    watch.wasFollowed[p] = was.wasFollowed[old] as number;
    watch.saidBut[p] = was.saidBut[old];
    watch.butTurnedS[p] = was.butTurnedS[old] as number;
  });
  watch.saidUnit = was.saidUnit;
  was.saidSteps.forEach((steps, input) => {
    if (input < watch.saidSteps.length) watch.saidSteps[input] = steps;
  });
}

/** Who is off stage, and whose tracking is trusted. */
function takeStage(next: Engine, old: Engine, who: Places): void {
  const { watched, offStage } = next;
  watched.beganS = old.watched.beganS;
  watched.feedSilent = old.watched.feedSilent;
  watched.feedToldSilent = old.watched.feedToldSilent;
  who.forEach((place, p) => {
    const stage = old.offStage.performers[place];
    const was = old.watched.performers[place];
    const one = watched.performers[p] as WatchedPerformer;
    const here = offStage.performers[p];
    if (stage === undefined || was === undefined || here === undefined) return;
    const exit = old.offStage.exits[stage.exit]?.name;
    here.state = stage.state;
    here.heardS = stage.heardS;
    here.exit = next.offStage.exits.findIndex(({ name }) => name === exit);
    // Asked for since the last tick, and still to be done.
    const isOpen = stage.asked !== old.orders.stageAsks[place];
    next.orders.stageAsks[p] = isOpen ? 1 : 0;
    next.orders.stageWants[p] = old.orders.stageWants[place] ?? 'on';
    takeWatched(one, was);
  });
}

function takePresences(
  { presences: all }: Engine,
  old: Engine,
  { performers: who, zones }: Pairs,
): void {
  all.zones.forEach(({ presences }, zone) => {
    const was = old.presences.zones[zones[zone] as number];
    presences.forEach((presence, p) => {
      Object.assign(presence, was?.presences[who[p] as number]);
      if (presence.level > 0) all.near[zone * presences.length + p] = 1;
    });
  });
}
