import { isEmitter, isFilter } from '../../fixtures/attributes.js';
import type { Channel } from '../../fixtures/profile.js';
import { fall, rise } from '../../safety/ramp.js';
import { fixtureNames, isFixtureName } from '../../show/model/fixture-groups.js';
import { shinesInto } from '../../show/model/keep-out.js';
import type { Show } from '../../show/model/model.js';
import { isShut } from '../../show/model/shutter.js';
import type { EngineEvent, KeptDark, KeptShut } from '../events/events.js';
import type { Orders } from '../events/orders.js';
import { type KeepOuts, wouldTouch } from '../heads/keep-out.js';
import { type CrossfadeGroup, type Crossfades, goesLive, governorOf } from '../light/crossfade.js';
import { mix } from '../light/cue-asks.js';
import type { Fades } from '../light/fades.js';
import type { Watched } from '../people/watch.js';
import type { Lights } from '../values/lights.js';
import type { OperatorAction } from '../values/operator-action.js';
import type { Places } from '../values/places.js';

/** In and out: fast enough for whoever asked, slow enough not to bump. */
const FADE_S = 0.5;
/** It ends by itself: a lamp that somebody forgot would be lit at the first cue. */
const LASTS_S = 60;

/**
 * One fixture or group that is shown while somebody focuses, over everything that the show makes of it; limits,
 * enables and the patch come after.
 */
export interface Highlight {
  /** Name of the fixture or group; undefined: nothing is highlighted. */
  name: string | undefined;
  /** For each light whether it is. */
  readonly on: Uint8Array;
  untilS: number;
  /** It was asked for although somebody is tracked. */
  whileTracked: boolean;
  /** For each light how far its highlight shows, 0..1. */
  readonly shares: Float64Array;
  /** How many of these are above 0. */
  shown: number;
  /** For each channel its value, physical; NaN leaves it as it is. */
  readonly values: Float64Array;
  /** How much was stopped at the last look. */
  stops: number;
}

export function createHighlight({ plans }: Lights): Highlight {
  return {
    name: undefined,
    on: new Uint8Array(plans.length),
    untilS: 0,
    whileTracked: false,
    shares: new Float64Array(plans.length),
    shown: 0,
    values: Float64Array.from(plans.flatMap(({ profile }) => profile.channels.map(shownAt))),
    stops: 0,
  };
}

/**
 * Values that show the beam: those of the profile's highlight; without one, Dimmer and emitters at full and filters
 * out. Aim, wheels and shutter without a value stay as they are.
 */
function shownAt({ attribute, from, to, highlight }: Channel): number {
  if (attribute === 'Pan' || attribute === 'Tilt') return Number.NaN;
  if (highlight !== undefined) return highlight;
  const [least, most] = [Math.min(from, to), Math.max(from, to)];
  if (attribute === 'Dimmer' || isEmitter(attribute)) return most;
  return isFilter(attribute) ? Math.min(most, Math.max(least, 0)) : Number.NaN;
}

/** The part of the engine that it reads. */
interface Seen {
  readonly show: Pick<Show, 'fixtures' | 'groups'>;
  readonly watched: Watched;
  readonly orders: Orders;
  readonly lights: Lights;
  readonly crossfades: Crossfades;
  readonly fades: Fades;
}

/** @returns whether that changes anything, or why not */
export function orderHighlight(
  highlight: Highlight,
  { fixture, whileTracked }: Extract<OperatorAction, { kind: 'highlight' }>,
  { show, watched, orders }: Pick<Seen, 'show' | 'watched' | 'orders'>,
  nowS: number,
): boolean | string {
  if (fixture === undefined) {
    const changed = highlight.name !== undefined;
    end(highlight);
    return changed;
  }
  const named = fixtureNames(show).find(({ name }) => name === fixture);
  if (named === undefined) return `the show has no fixture "${fixture}"`;
  if (whileTracked !== true && isAnybodyLive(watched)) {
    return 'performers are tracked, and a highlight is for focusing; stop everybody first, or say while-tracked after the fixture';
  }
  const changed = highlight.name !== fixture;
  end(highlight);
  highlight.name = fixture;
  for (const light of named.fixtures) highlight.on[light] = 1;
  highlight.untilS = nowS + LASTS_S;
  highlight.whileTracked = whileTracked === true;
  highlight.stops = stopsOf(orders);
  return changed;
}

function end(highlight: Highlight): void {
  highlight.name = undefined;
  highlight.on.fill(0);
}

/** Time, stops, tracked performers -> how far each light is highlighted. */
export function stepHighlight(
  highlight: Highlight,
  seen: Omit<Seen, 'show'>,
  nowS: number,
  dtS: number,
  events: EngineEvent[],
): void {
  const { name, on, shares } = highlight;
  const { watched, orders } = seen;
  if (name === undefined && highlight.shown === 0) return;
  const reason = name === undefined ? undefined : whyEnds(highlight, watched, orders, nowS);
  if (name !== undefined && reason !== undefined) {
    events.push({ kind: 'highlight', fixture: name, on: false, reason });
    end(highlight);
  }
  highlight.stops = stopsOf(orders);
  highlight.shown = 0;
  for (let light = 0; light < shares.length; light++) {
    const share = shares[light] as number;
    if (on[light] === 1 && !movesSoon(seen, light)) shares[light] = rise(share, dtS, FADE_S);
    else if (share > 0) shares[light] = fall(share, dtS, FADE_S);
    if ((shares[light] as number) > 0) highlight.shown += 1;
  }
}

/** A head that is about to move, or moves, shows none of its highlight: it moves in the dark, as always. */
function movesSoon({ lights, crossfades, fades, watched }: Omit<Seen, 'show'>, light: number) {
  const stage = fades.safeFades[light]?.stage;
  if (stage === undefined || stage === 'live' || stage === 'rising') return false;
  if (stage !== 'safe') return true;
  const group = crossfades.ofLight[light] as CrossfadeGroup;
  const governor = governorOf(group, lights.governor[light] as number, watched, crossfades);
  return goesLive(governor, lights.followed[light] as number);
}

/** How much of it may show in this tick: it goes out together with the light of a head that fades out to move. */
function mostOf({ safeFades }: Fades, light: number): number {
  const safeFade = safeFades[light];
  if (safeFade?.stage === 'fading') return safeFade.live;
  return safeFade?.stage === 'to-safe' || safeFade?.stage === 'to-live' ? 0 : 1;
}

/**
 * A highlight continues when the show is reloaded, unless the next show has nothing of that name: it fades out then.
 * @param fixtures for each fixture of the new show its place in the old one
 */
export function takeHighlight(
  next: Highlight,
  old: Highlight,
  show: Pick<Show, 'fixtures' | 'groups'>,
  fixtures: Places,
): void {
  const { name, untilS, whileTracked, shown, stops } = old;
  Object.assign(next, { name, untilS, whileTracked, shown, stops });
  fixtures.forEach((before, light) => {
    next.on[light] = old.on[before] ?? 0;
    next.shares[light] = old.shares[before] ?? 0;
  });
  if (name !== undefined && !isFixtureName(show, name)) end(next);
}

export type HighlightEnd = 'time' | 'stopped' | 'tracked';

function whyEnds(
  { untilS, whileTracked, stops }: Highlight,
  watched: Watched,
  orders: Orders,
  nowS: number,
): HighlightEnd | undefined {
  if (stopsOf(orders) > stops) return 'stopped';
  if (nowS >= untilS) return 'time';
  return !whileTracked && isAnybodyLive(watched) ? 'tracked' : undefined;
}

/** The output of a section's lights, with the highlight over it. */
export function showHighlight(
  { shares, shown, values }: Highlight,
  section: number,
  keepOuts: KeepOuts,
  fades: Fades,
  { sections, start, stepped, out }: Lights,
): void {
  if (shown === 0) return;
  for (const light of sections[section] as Int32Array) {
    const share = Math.min(shares[light] as number, mostOf(fades, light));
    shares[light] = share;
    if (share === 0 || wouldTouch(keepOuts, light, fades) >= 0) continue;
    const end = start[light + 1] as number;
    for (let c = start[light] as number; c < end; c++) {
      const value = values[c] as number;
      if (!Number.isNaN(value)) out[c] = mix(out[c] as number, value, stepped[c] === 1 ? 1 : share);
    }
  }
}

/** The supervisor has taken the light. */
export function dropHighlight(highlight: Highlight): void {
  end(highlight);
  highlight.shown = 0;
  highlight.shares.fill(0);
}

/** The highlighted heads that stay dark where they point now: by the engine, or by the supervisor at the slots. */
export function keptDark(
  { on, values }: Highlight,
  keepOuts: KeepOuts,
  fades: Fades,
  { plans, start, out }: Lights,
  show: Pick<Show, 'fixtures' | 'keepOuts'>,
): KeptDark[] {
  return plans.flatMap(({ name }, light): KeptDark[] => {
    if (on[light] !== 1) return [];
    const shown = Array.from(out.subarray(start[light], start[light + 1]), (value, c) => {
      const own = values[(start[light] as number) + c] as number;
      return Number.isNaN(own) ? value : own;
    });
    const here = wouldTouch(keepOuts, light, fades);
    const touched = here >= 0 ? here : shinesInto(show, light, shown);
    const keepOut = show.keepOuts[touched ?? -1]?.name;
    return keepOut === undefined ? [] : [{ fixture: name, keepOut }];
  });
}

/** The highlighted fixtures that stay dark because a shutter is closed: their own, or the one that their cells share. */
export function keptShut({ on, values }: Highlight, { plans, start, out }: Lights): KeptShut[] {
  const shut = new Map<string, KeptShut>();
  const wanted = new Set(plans.flatMap(({ inFile }, light) => (on[light] === 1 ? [inFile] : [])));
  plans.forEach(({ profile, inFile, name }, light) => {
    const isShared = name !== inFile && name.endsWith('-body');
    if (on[light] !== 1 && !(isShared && wanted.has(inFile))) return;
    profile.channels.forEach((channel, c) => {
      const at = (start[light] as number) + c;
      const own = on[light] === 1 ? (values[at] as number) : Number.NaN;
      const byHighlight = !Number.isNaN(own);
      if (!isShut(channel, byHighlight ? own : (out[at] as number)) || shut.has(inFile)) return;
      shut.set(inFile, { fixture: inFile, attribute: channel.attribute, byHighlight });
    });
  });
  return [...shut.values()];
}

function isAnybodyLive({ performers }: Watched): boolean {
  return performers.some(({ follows }) => follows);
}

/** Grows with each stop. */
function stopsOf({ allStopped, stopped }: Orders): number {
  let count = allStopped ? 1 : 0;
  for (let p = 0; p < stopped.length; p++) count += stopped[p] as number;
  return count;
}
