import { stepEnvelope } from '../../mapping/envelope.js';
import type { EnvelopeOptions } from '../../mapping/options.js';
import { fall, rise } from '../../safety/ramp.js';
import { performersOf } from '../../show/model/basis.js';
import type { FollowMappingPlan, Show, SignalMappingPlan } from '../../show/model/model.js';
import type { Network } from '../../signals/network.js';
import type { Cues } from '../cues/cues.js';
import type { Orders } from '../events/orders.js';
import type { Watched, WatchedPerformer } from '../people/watch.js';
import { type Crossfade, type Crossfades, isShown } from './crossfade.js';

/** A mapping that depends on signals or conditions, and whether these are known. */
export interface Drive {
  /** Index of the mapping. */
  readonly of: number;
  readonly mapping: SignalMappingPlan | FollowMappingPlan;
  /** Index of the condition, -1 for always. */
  readonly when: number;
  /** Index of the signal that is its master, -1 for none; how far the master lets it act, 0..1, and the least it may. */
  readonly by: number;
  master: number;
  masterLeast: number;
  /** Whom it follows, -1 for nobody: they have to be there too. With a choice, the one that `choose` picked. */
  follows: number;
  /** There is nobody to choose: it is off. */
  isFree: boolean;
  /** The performers it depends on. */
  readonly performers: readonly number[];
  readonly lanes: readonly Lane[];
  /** Between safe and live, as its fixtures fade. */
  readonly crossfades: readonly Crossfade[];
  /** What crossfades and fades read, as for a performer: while it is known it is followed, and its trust is a ramp of its own. */
  readonly believed: WatchedPerformer;
  /** It is known and dark, and stays so while its condition is no or its signals are 0. */
  rests: boolean;
  /** How far cue and master let it act, 0..1. */
  acts: number;
}

/** The part of a mapping that has one level: fixtures driven by one signal. */
export interface Lane {
  /** Index of the signal, -1 for none. */
  readonly by: number;
  readonly fixtures: readonly number[];
  /** Level after the fade, 0..1; if somebody is lost it goes on from where they were. */
  own: number;
  /** `own` when its condition was last known and not everybody was stopped: until that is so again, it comes up no further. */
  before: number;
  /** How far cue and master let it act, 0..1; the master alone; and the level that it shows. */
  acts: number;
  master: number;
  level: number;
  /** The range its level may be in, as far as is known. */
  least: number;
  greatest: number;
  /** Its least value, even if performers are lost; it comes up no faster than light returns. */
  sure: number;
  /** The same as far as cue and master let it act; and the least by the master alone. */
  shownSure: number;
  masterLeast: number;
  /** For how many ticks it has been above 0; 0 while it is not. */
  risenFor: number;
}

export function createDrives(
  show: Show,
  { byBeliever }: Crossfades,
  { believed }: Watched,
): Drive[] {
  return show.mappings.flatMap((mapping, of): Drive[] => {
    if (mapping.kind === 'zone') return [];
    const isPlain = mapping.kind === 'follow' && mapping.choice === undefined;
    if (isPlain && mapping.when === undefined && mapping.master === undefined) return [];
    const index = show.performers.length + of;
    return [
      {
        of,
        mapping,
        when: mapping.when ?? -1,
        by: mapping.master ?? -1,
        master: mapping.master === undefined ? 1 : 0,
        masterLeast: mapping.master === undefined ? 1 : 0,
        follows: mapping.kind === 'follow' ? mapping.performer : -1,
        isFree: false,
        performers: performersOf(show, mapping),
        lanes: mapping.kind === 'follow' ? [lane(-1, [])] : lanesOf(mapping),
        crossfades: byBeliever[index]?.mine ?? [],
        believed: believed[index] as WatchedPerformer,
        rests: false,
        acts: 1,
      },
    ];
  });
}

function lanesOf({ fixtures, by }: SignalMappingPlan): Lane[] {
  const bySignal = new Map<number, number[]>();
  fixtures.forEach((fixture, i) => {
    const signal = by?.[i] ?? -1;
    bySignal.set(signal, [...(bySignal.get(signal) ?? []), fixture]);
  });
  return [...bySignal].map(([signal, mine]) => lane(signal, mine));
}

function lane(by: number, fixtures: readonly number[]): Lane {
  return {
    by,
    fixtures,
    own: 0,
    before: 0,
    acts: 1,
    master: 1,
    level: 0,
    least: 0,
    greatest: 1,
    sure: 0,
    shownSure: 0,
    masterLeast: 1,
    risenFor: 0,
  };
}

/** Signals and conditions -> the level of each mapping that depends on them, and whether it is known. */
export function stepDrives(
  drives: readonly Drive[],
  network: Network,
  orders: Orders,
  { levels }: Cues,
  watched: Watched,
  { watchdog }: Show,
  dtS: number,
): void {
  // Somebody who stops everybody wants to see it work; so does a show that requires the desk.
  const stopS = orders.allStopped
    ? watchdog.operatorStop.fadeS
    : orders.needsDesk
      ? watchdog.deskLost.fadeS
      : Number.POSITIVE_INFINITY;
  let isAnybodyComing = false;
  for (const { risesInS } of watched.performers) if (risesInS > 0) isAnybodyComing = true;
  const isStopped = stopS < Number.POSITIVE_INFINITY;
  for (const drive of drives) {
    const isMastered = stepMaster(drive, network, isStopped);
    const [most, least] = [levels[drive.of] as number, drive.masterLeast];
    const acts = most * drive.master;
    if (drive.rests && isMastered && acts === drive.acts && !isStopped && isNothing(drive, network))
      continue;
    const fade = isAnybodyComing ? fadeOf(drive, watched.performers) : drive.mapping.fade;
    stepDrive(drive, network, watched, fade, stopS, watchdog.returnS, dtS);
    drive.acts = acts;
    drive.rests = isAtRest(drive);
    for (const lane of drive.lanes) {
      lane.acts = acts;
      lane.level = acts * lane.own;
      lane.master = drive.master;
      lane.masterLeast = least;
      lane.shownSure = most * least * lane.sure;
    }
  }
}

/**
 * Keeps its master while that is not known; it comes up no further while everybody is stopped.
 * @returns whether it is known
 */
function stepMaster(drive: Drive, { out: { lo, hi } }: Network, isStopped: boolean): boolean {
  const { by } = drive;
  if (by < 0) return true;
  const isKnown = lo[by] === hi[by];
  drive.masterLeast = unit(lo[by] as number);
  if (isKnown) {
    drive.master = isStopped ? Math.min(drive.master, drive.masterLeast) : drive.masterLeast;
  }
  return isKnown;
}

function stepDrive(
  drive: Drive,
  { conditions, doubts, out, kept }: Network,
  { performers }: Watched,
  fade: EnvelopeOptions,
  stopS: number,
  returnS: number,
  dtS: number,
): void {
  const { when, follows, lanes, believed } = drive;
  const { watch } = believed;
  const always = when < 0;
  const most = drive.isFree ? 0 : 1;
  const whenLeast = most * (always ? 1 : (conditions.surely[when] as number));
  const whenMost = most * (always ? 1 : (conditions.possibly[when] as number));
  const whenKept = most * (always ? 1 : (conditions.kept[when] as number));
  let isLost = !always && conditions.doubts.lost[when] === 1;
  let isHeld = !always && conditions.doubts.known[when] === 1;
  let fadeS = always ? stopS : Math.min(stopS, conditions.doubts.fadeS[when] as number);
  const isStopped = stopS < Number.POSITIVE_INFINITY;
  let known = !isStopped;
  if (drive.by >= 0) {
    if (out.lo[drive.by] !== out.hi[drive.by]) known = false;
    isLost ||= doubts.lost[drive.by] === 1;
    isHeld ||= doubts.known[drive.by] === 1;
    fadeS = Math.min(fadeS, doubts.fadeS[drive.by] as number);
  }
  const followed = follows < 0 || drive.isFree ? undefined : performers[follows];
  const lostS =
    followed?.follows === false ? followed.watch.fadeS : fadeOfNobody(drive, performers);
  const isGone = lostS !== undefined;
  if (isGone) {
    isLost = true;
    fadeS = Math.min(fadeS, lostS);
  }
  // None of the old light is left: it starts where people are now, without a fade.
  const isDark = showsNothing(drive);
  for (const one of lanes) {
    const { by } = one;
    let least = isGone ? 0 : whenLeast;
    let most = isGone ? 1 : whenMost;
    let keeps = whenKept;
    let lost = isLost;
    // What is not known stays as it was; a known signal goes on under an unknown condition, but no further up
    // than it was.
    const isCapped = isStopped || least !== most;
    let stays = by < 0;
    if (by >= 0) {
      stays = out.lo[by] !== out.hi[by];
      least *= out.lo[by] as number;
      most *= out.hi[by] as number;
      keeps *= kept[by] as number;
      lost ||= doubts.lost[by] === 1;
      isHeld ||= doubts.known[by] === 1;
      fadeS = Math.min(fadeS, doubts.fadeS[by] as number);
    }
    // Whatever a signal gives, a mapping never goes beyond its full values.
    least = unit(least);
    most = unit(most);
    const wants = least === most ? least : unit(stays ? one.own : keeps);
    stepLane(
      one,
      least,
      most,
      isCapped ? Math.min(wants, one.before) : wants,
      lost,
      isDark,
      fade,
      dtS,
    );
    if (!isCapped) one.before = one.own;
    if (one.least !== one.greatest || one.own !== one.least) known = false;
  }
  if (!known) {
    // As with performers: a cause that joins in mid-fade can speed it up, and never slows it.
    const hastened = believed.follows ? fadeS : Math.min(fadeS, watch.fadeS);
    watch.fadeS = Number.isFinite(hastened) ? hastened : returnS;
  }
  believed.follows = known;
  believed.isKnown = known;
  // A head whose performer has left goes dark just as it does without a condition.
  watch.phase = known ? 'live' : followed?.watch.phase === 'off' ? 'off' : 'losing';
  watch.trust = known ? rise(watch.trust, dtS, returnS) : fall(watch.trust, dtS, watch.fadeS);
  for (const one of lanes) {
    if (known && watch.trust === 1) one.sure = one.own;
    else if (!isHeld || isStopped) one.sure = 0;
    else one.sure = rises(one.sure, one.least, dtS, returnS);
  }
}

/**
 * Nobody is chosen, because nobody who could be is tracked: that is a loss, not a choice.
 * @returns the shortest of their fades, seconds; undefined if somebody is known, or there is no choice
 */
function fadeOfNobody(
  { isFree, mapping }: Drive,
  performers: readonly WatchedPerformer[],
): number | undefined {
  if (!isFree || mapping.kind !== 'follow' || mapping.choice === undefined) return undefined;
  const { people } = mapping.choice;
  let fadeS = Number.POSITIVE_INFINITY;
  for (let i = 0; i < people.length; i++) {
    const { isKnown, watch } = performers[people[i] as number] as WatchedPerformer;
    if (isKnown) return undefined;
    fadeS = Math.min(fadeS, watch.fadeS);
  }
  return fadeS;
}

/** It is known that it asks for nothing now. */
function isNothing({ when, lanes }: Drive, { conditions, out: { lo, hi } }: Network): boolean {
  if (when >= 0 && conditions.possibly[when] === 0) return true;
  for (let i = 0; i < lanes.length; i++) {
    const { by } = lanes[i] as Lane;
    if (by < 0 || lo[by] !== 0 || hi[by] !== 0) return false;
  }
  return true;
}

/** A follow mapping is updated in each tick: its performer may leave. */
function isAtRest({ follows, believed, lanes }: Drive): boolean {
  if (follows >= 0 || !believed.follows || believed.watch.trust < 1) return false;
  for (let i = 0; i < lanes.length; i++) {
    const { own, before, least, greatest, sure } = lanes[i] as Lane;
    if (own !== 0 || before !== 0 || least !== 0 || greatest !== 0 || sure !== 0) return false;
  }
  return true;
}

/** NaN counts as 0. */
function unit(level: number): number {
  return level > 0 ? Math.min(1, level) : 0;
}

/** Up to `to` in the time that light takes to return; down at once. */
function rises(level: number, to: number, dtS: number, returnS: number): number {
  return returnS > 0 ? Math.min(to, level + (to * dtS) / returnS) : to;
}

/** Somebody who comes back from off stage must not make a step in the light. */
function fadeOf(
  { mapping: { fade }, performers: all }: Drive,
  performers: readonly WatchedPerformer[],
): EnvelopeOptions {
  let inS = fade.inS;
  for (const p of all) inS = Math.max(inS, (performers[p] as WatchedPerformer).risesInS);
  return inS === fade.inS ? fade : { inS, outS: fade.outS };
}

function showsNothing({ crossfades, believed }: Drive): boolean {
  if (believed.watch.trust > 0) return false;
  for (const one of crossfades) if (isShown(one)) return false;
  return true;
}

/**
 * Fades both ends of the level's range, and the level shown between them.
 * @param wants the target of the level shown
 * @param lost somebody it depends on is lost, whether that makes a difference or not
 */
function stepLane(
  lane: Lane,
  least: number,
  most: number,
  wants: number,
  lost: boolean,
  isDark: boolean,
  fade: EnvelopeOptions,
  dtS: number,
): void {
  const isKnown = least === most;
  const comesBack = isKnown && !lost;
  if (comesBack && isDark) {
    lane.least = least;
    lane.greatest = least;
    lane.own = least;
  } else {
    if (comesBack && lane.least !== lane.greatest) {
      lane.least = lane.own;
      lane.greatest = lane.own;
    }
    lane.least = stepEnvelope(lane.least, least, dtS, fade);
    lane.greatest = stepEnvelope(lane.greatest, most, dtS, fade);
    const own = stepEnvelope(lane.own, wants, dtS, fade);
    // With somebody lost it is where it was; without the loss it could still be on its way up.
    lane.own = Math.min(own, Math.max(lane.own, lane.least));
  }
  lane.risenFor = lane.own > 0 ? lane.risenFor + 1 : 0;
}

/** As after a loss that is over: the supervisor has taken all light to its safe values. */
export function dropDrives(drives: readonly Drive[]): void {
  for (const drive of drives) {
    drive.rests = false;
    drive.believed.watch.trust = 0;
    for (const one of drive.lanes) one.sure = 0;
  }
}

/** By this mapping the head is on nobody, and the light on its last performer is out. */
export function isOnNobody({ isFree, lanes }: Drive): boolean {
  return isFree && lanes[0]?.own === 0;
}

/** Lost performers count as shown while a mapping that depends on them is on its way to safe: they come back after it. */
export function markDrives(shown: Uint8Array, drives: readonly Drive[], watched: Watched): void {
  for (const drive of drives) {
    const { believed, crossfades, performers } = drive;
    if (believed.follows) continue;
    if (!crossfades.some(isShown)) continue;
    for (const p of performers) {
      if (watched.performers[p]?.isKnown === false && !isOnOther(drive, p)) shown[p] = 1;
    }
  }
}

/** A head that chooses shows nothing of those whom it is not on. */
function isOnOther({ mapping, when, follows }: Drive, p: number): boolean {
  if (mapping.kind !== 'follow' || mapping.choice === undefined || when >= 0) return false;
  return mapping.choice.rule.kind !== 'middle' && p !== follows;
}
