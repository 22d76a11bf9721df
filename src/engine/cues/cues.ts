import type { CueOrder, MappingsOrder } from '../../protocols/osc/orders.js';
import { rise } from '../../safety/ramp.js';
import { mappingsOf } from '../../show/model/basis.js';
import { mappingTitle } from '../../show/model/mapping-words.js';
import type { CuePlan, FixturePlan, MappingPlan, Show } from '../../show/model/model.js';
import { findNamed } from '../../show/problems/names.js';
import type { SignalSet } from '../../signals/plan.js';
import { movedOn } from '../events/event-words.js';
import type { EngineEvent } from '../events/events.js';
import { actingIn, flatOf, followMappings, intensityOf, type Lights } from '../values/lights.js';
import type { OperatorCause } from '../values/operator-action.js';

/**
 * Which mappings act and how far, and the present base and safe values. A new cue crossfades from whatever these are
 * at that moment, so that a cue taken during a crossfade is no jump.
 */
export interface Cues {
  readonly plans: readonly CuePlan[];
  /** Index of the cue that is on, or coming on; -1 in a show without cues. */
  on: number;
  /** The cue before it; -1 until there has been one. */
  before: number;
  /** How far the crossfade to it has come, 0..1. */
  share: number;
  /** The cues that still show, and each cue's share of the light, 0..1; the shares add up to 1. */
  blend: readonly number[];
  readonly weights: Float64Array;
  /** For each mapping how far it acts now, 0..1: as far as the cue lets it, unless an operator has turned it off. */
  readonly levels: Float64Array;
  readonly inCue: Float64Array;
  /** For each mapping 1 while an operator has it off; and how far it still acts while it fades, 0..1. */
  readonly titles: readonly string[];
  readonly off: Uint8Array;
  readonly kept: Float64Array;
  /** By title, the mappings that an order over the network has turned off (true) or on; reported in the next tick. */
  readonly turned: Map<string, { readonly off: boolean; readonly by: string | undefined }>;
  /**
   * For each mapping how far its performers count in its fixtures, 0..1. Where it is off they don't: they may be lost
   * and nothing happens.
   */
  readonly says: Float64Array;
  /** For each mapping 1 where it acts in the cue that is on. */
  readonly acts: Uint8Array;
  /** A crossfade has begun, or gone on, in this tick. */
  began: boolean;
  moved: boolean;
  /** Where the crossfade has begun, and where it goes. */
  readonly from: CueLook & { readonly weights: Float64Array };
  readonly looks: readonly CueLook[];
  /** Channels whose base or safe value differs between cues, in the arrays by channel. */
  readonly changing: Int32Array;
  /** The cue to be on from the next tick; -1: no change. */
  wanted: number;
  cause: OperatorCause;
  by: string | undefined;
  /** When next and back were last heard without a release in between, monotonic seconds; NaN: they are not held. */
  readonly heldS: Record<'next' | 'back', number>;
  /** For each cue 1 while the condition that takes it is no: it has to be no first, before a yes counts. */
  readonly wasNo: Uint8Array;
}

/** Everything a cue says, in flat arrays like those of the lights. */
export interface CueLook {
  readonly levels: Float64Array;
  readonly says: Float64Array;
  readonly base: Float64Array;
  readonly safe: Float64Array;
  /** For each light the mapping by which it follows somebody, -1 for none. */
  readonly follows: Int32Array;
  /** For each light 1 where nothing asks it for light. */
  readonly dark: Uint8Array;
}

/** How long a mapping takes to fade when an operator turns it off or on, seconds. */
const OFF_FADE_S = 1;
/** A desk repeats a button that is held several times a second (common practice): it is one press. */
const HELD_S = 0.5;

export function* createCues(ofShow: Show, lights: Lights): Generator<undefined, Cues> {
  const { cues: plans, mappings } = ofShow;
  const follows = lights.plans.map((one, light) => followMappings(mappings, one, light));
  const askers = lights.plans.map((one, light) => askersOf(mappings, one, light));
  yield;
  const looks: CueLook[] = [];
  for (const [cue, plan] of plans.entries()) {
    const before = { plan: plans[cue - 1], look: looks[cue - 1] };
    looks.push({
      levels: Float64Array.from(plan.levels),
      says: Float64Array.from(plan.levels, level => (level > 0 ? 1 : 0)),
      base: flatOf(plan.base, lights, before.plan?.base, before.look?.base),
      safe: flatOf(plan.safe, lights, before.plan?.safe, before.look?.safe),
      follows: Int32Array.from(follows, all => actingIn(plan, all)),
      dark: Uint8Array.from(askers, (one, light) => (isDarkIn(plan, one, light) ? 1 : 0)),
    });
    yield;
  }
  const [first] = looks;
  const all = () => new Float64Array(mappings.length).fill(1);
  const changes = new Uint8Array(lights.base.length);
  for (const { base, safe } of looks) markOthers(changes, first as CueLook, base, safe);
  const changing = [...lights.base.keys()].filter(c => changes[c] === 1);
  return {
    plans,
    on: plans.length === 0 ? -1 : 0,
    before: -1,
    share: 1,
    blend: plans.length === 0 ? [] : [0],
    weights: Float64Array.from(plans, (_, cue) => (cue === 0 ? 1 : 0)),
    levels: first === undefined ? all() : Float64Array.from(first.levels),
    inCue: first === undefined ? all() : Float64Array.from(first.levels),
    titles: mappings.map((_, index) => mappingTitle(ofShow, index)),
    off: new Uint8Array(mappings.length),
    kept: all(),
    turned: new Map(),
    says: first === undefined ? all() : Float64Array.from(first.says),
    acts: first === undefined ? new Uint8Array(mappings.length).fill(1) : actsOf(first),
    began: false,
    moved: false,
    from: {
      weights: new Float64Array(plans.length),
      levels: new Float64Array(mappings.length),
      says: new Float64Array(mappings.length),
      base: new Float64Array(lights.base.length),
      safe: new Float64Array(lights.base.length),
      follows: new Int32Array(0),
      dark: new Uint8Array(0),
    },
    looks,
    changing: Int32Array.from(changing),
    wanted: -1,
    cause: 'command',
    by: undefined,
    heldS: { next: Number.NaN, back: Number.NaN },
    wasNo: new Uint8Array(plans.length),
  };
}

function markOthers(
  changes: Uint8Array,
  first: CueLook,
  base: Float64Array,
  safe: Float64Array,
): void {
  for (let c = 0; c < changes.length; c++) {
    if (base[c] !== first.base[c] || safe[c] !== first.safe[c]) changes[c] = 1;
  }
}

/** A fixture's intensity, and the mappings that ask for some of it. */
interface Askers {
  /** -1 for none. */
  readonly channel: number;
  readonly mappings: readonly number[];
}

function askersOf(mappings: readonly MappingPlan[], plan: FixturePlan, light: number): Askers {
  const channel = intensityOf(plan);
  const asks = (mapping: MappingPlan) =>
    !(mapping.kind === 'signal' && mapping.isMaster === true) &&
    mapping.values.some(one => one.fixture === light && one.channel === channel);
  const all = mappingsOf(mappings, light);
  return { channel, mappings: all.filter(index => asks(mappings[index] as MappingPlan)) };
}

/** Whether nothing in a cue asks it for light, so that it is dark in that cue. */
function isDarkIn({ base, levels }: CuePlan, { channel, mappings }: Askers, light: number) {
  if (channel < 0 || base[light]?.[channel] !== 0) return false;
  return !mappings.some(index => (levels[index] as number) > 0);
}

function actsOf({ says }: CueLook): Uint8Array {
  return Uint8Array.from(says);
}

/**
 * An order that has come over the network: takes effect in the next tick.
 * @param from address of the sender
 */
export function orderCue(
  cues: Cues,
  { to, pressed }: CueOrder,
  nowS: number,
  from: string | undefined,
): 'unknown-cue' | undefined {
  if (to === 'next' || to === 'back') {
    const { heldS } = cues;
    const isHeld = nowS - heldS[to] <= HELD_S;
    heldS[to] = pressed ? nowS : Number.NaN;
    if (!pressed || isHeld) return undefined;
  } else if (!pressed) return undefined;
  const index = cueOf(cues, to);
  if (index === undefined) return 'unknown-cue';
  want(cues, index, 'command', from);
  return undefined;
}

/** The cue to be on from this tick. @returns whether that changes anything; undefined: the show has no such cue */
export function goToCue(
  cues: Cues,
  to: CueOrder['to'],
  cause: OperatorCause,
  by: string | undefined,
): boolean | undefined {
  const index = cueOf(cues, to);
  return index === undefined ? undefined : want(cues, index, cause, by);
}

/** Why no step is made from this cue; undefined: it is the cue that is on, or none was named. */
export function hasMovedOn(cues: Cues, from: string | undefined): string | undefined {
  const on = cues.plans[comingOf(cues)]?.name;
  return from === undefined || on === undefined || on === from ? undefined : movedOn(from, on);
}

function want(cues: Cues, index: number, cause: OperatorCause, by: string | undefined): boolean {
  if (index === comingOf(cues)) return false;
  cues.wanted = index;
  cues.cause = cause;
  cues.by = by;
  return true;
}

/** The cue that is on once everything asked so far is done. */
export function comingOf({ wanted, on }: Cues): number {
  return wanted < 0 ? on : wanted;
}

/** There is nothing before the first or after the last: no change. */
function cueOf(cues: Cues, to: CueOrder['to']): number | undefined {
  const { plans } = cues;
  if (plans.length === 0) return undefined;
  const coming = comingOf(cues);
  if (to === 'next') return Math.min(coming + 1, plans.length - 1);
  if (to === 'back') return Math.max(coming - 1, 0);
  const named = findNamed(to.name, plans);
  return named === undefined ? undefined : plans.indexOf(named);
}

/** The part of the conditions that it looks at. */
interface Truths {
  readonly set: SignalSet;
  readonly conditions: { readonly surely: Uint8Array; readonly possibly: Uint8Array };
}

/** Orders, conditions -> the cue that is on -> levels of the mappings, base and safe values. */
export function stepCues(
  cues: Cues,
  truths: Truths,
  lights: Lights,
  dtS: number,
  events: EngineEvent[],
): void {
  cues.began = false;
  cues.moved = false;
  for (const [mapping, { off, by }] of cues.turned) {
    const asked = by === undefined ? {} : { by };
    events.push({ kind: 'mapping', mapping, off, cause: 'command', ...asked });
  }
  cues.turned.clear();
  if (cues.on >= 0) stepCue(cues, truths, lights, dtS, events);
  stepOff(cues, dtS);
}

function stepCue(
  cues: Cues,
  truths: Truths,
  lights: Lights,
  dtS: number,
  events: EngineEvent[],
): void {
  fire(cues, truths);
  const { plans, wanted, by, cause } = cues;
  if (wanted >= 0 && wanted !== cues.on) {
    const [from, to] = [plans[cues.on] as CuePlan, plans[wanted] as CuePlan];
    begin(cues, lights, wanted);
    events.push({
      kind: 'cue',
      cue: to.name,
      previous: from.name,
      fadeS: cause === 'restored' ? 0 : to.fadeS,
      cause,
      ...(by === undefined ? {} : { by }),
    });
  }
  cues.wanted = -1;
  if (cues.share === 1) return;
  cues.share = rise(cues.share, dtS, (plans[cues.on] as CuePlan).fadeS);
  show(cues, lights);
}

/**
 * Turns the mappings with a title off, or on again. Their performers still count: if they are lost, the fixtures go
 * to their safe values as if the mapping were on.
 * @param title upper or lower case
 * @param atOnce without a fade: there is no light yet that could jump
 * @returns whether that changes anything, and the title; undefined: there is no such mapping
 */
export function turnMapping(
  { titles, off, kept }: Cues,
  title: string,
  isOff: boolean,
  atOnce: boolean,
): { readonly changed: boolean; readonly title: string } | undefined {
  const named = titles.map(name => ({ name }));
  const found = named.find(({ name }) => name === title) ?? findNamed(title, named);
  if (found === undefined) return undefined;
  let changed = false;
  for (let i = 0; i < titles.length; i++) {
    if (titles[i] !== found.name) continue;
    changed ||= (off[i] === 1) !== isOff;
    off[i] = isOff ? 1 : 0;
    if (atOnce) kept[i] = isOff ? 0 : 1;
  }
  return { changed, title: found.name };
}

/**
 * The main machine of a pair says which mappings are off: from this tick on exactly those are.
 * @param from address of the sender
 */
export function orderMappings(
  cues: Cues,
  { off }: MappingsOrder,
  from: string | undefined,
): 'unknown-mapping' | undefined {
  const wanted = new Set(off);
  for (const title of new Set(cues.titles)) {
    const isOff = wanted.delete(title);
    if (turnMapping(cues, title, isOff, false)?.changed !== true) continue;
    cues.turned.set(title, { off: isOff, by: from });
  }
  return wanted.size === 0 ? undefined : 'unknown-mapping';
}

/** What an operator has turned off stays off in the next show. @param places where each mapping was, -1: nowhere */
export function takeOff(cues: Cues, old: Cues, places: ArrayLike<number>): void {
  for (let i = 0; i < cues.off.length; i++) {
    const was = places[i] as number;
    if (was < 0) continue;
    cues.off[i] = old.off[was] as number;
    cues.kept[i] = old.kept[was] as number;
  }
  applyOff(cues);
}

function stepOff(cues: Cues, dtS: number): void {
  const { off, kept } = cues;
  const step = dtS / OFF_FADE_S;
  for (let i = 0; i < off.length; i++) {
    const to = off[i] === 1 ? 0 : 1;
    const from = kept[i] as number;
    if (from === to && (to === 1 || cues.levels[i] === 0)) continue;
    kept[i] = to === 1 ? Math.min(1, from + step) : Math.max(0, from - step);
    cues.moved = true;
  }
  if (cues.moved) applyOff(cues);
}

function applyOff({ levels, inCue, kept }: Cues): void {
  for (let i = 0; i < levels.length; i++) levels[i] = (inCue[i] as number) * (kept[i] as number);
}

/** A condition that becomes yes takes its cue, unless somebody has just asked for another one. */
function fire(cues: Cues, { set, conditions: { surely, possibly } }: Truths): void {
  const { plans, wasNo, wanted } = cues;
  for (let cue = 0; cue < plans.length; cue++) {
    const condition = (plans[cue] as CuePlan).fire;
    if (condition === undefined) continue;
    const isYes = surely[condition] === 1;
    if (isYes && wasNo[cue] === 1 && wanted < 0) {
      want(cues, cue, 'command', `condition ${set.conditions[condition]?.name}`);
    }
    // From unknown to yes does not count: it may have been yes before somebody was lost.
    wasNo[cue] = possibly[condition] === 1 ? 0 : 1;
  }
}

/** No crossfade: the light is already at this cue's safe look. */
export function settleCues(cues: Cues, lights: Lights, on = cues.on): void {
  if (on < 0) return;
  if (on !== cues.on) begin(cues, lights, on);
  cues.share = 1;
  show(cues, lights);
}

/**
 * The state that a new engine takes over: `from` has each cue's share of the light when the crossfade to `on` began.
 */
export function goOnCrossfade(
  cues: Cues,
  lights: Lights,
  { on, before, share, from }: Pick<Cues, 'on' | 'before' | 'share'> & { from: Float64Array },
): void {
  const { looks } = cues;
  cues.on = on;
  cues.before = before;
  cues.share = share;
  cues.acts.set(actsOf(looks[on] as CueLook));
  cues.blend = [...from.keys()].filter(cue => cue === on || (share < 1 && from[cue] !== 0));
  cues.weights.fill(0);
  cues.from.weights.set(from);
  for (const part of ['levels', 'says', 'base', 'safe'] as const) {
    const values = cues.from[part].fill(0);
    for (const [cue, weight] of from.entries()) {
      const of = looks[cue]?.[part];
      if (weight === 0 || of === undefined) continue;
      for (let i = 0; i < values.length; i++) {
        values[i] = (values[i] as number) + weight * (of[i] as number);
      }
    }
  }
  // Also what no two of them have in common.
  lights.base.set((looks[on] as CueLook).base);
  lights.safe.set((looks[on] as CueLook).safe);
  show(cues, lights);
}

function begin(cues: Cues, lights: Lights, index: number): void {
  const { from, inCue, says } = cues;
  from.levels.set(inCue);
  from.says.set(says);
  from.weights.set(cues.weights);
  from.base.set(lights.base);
  from.safe.set(lights.safe);
  cues.before = cues.on;
  cues.on = index;
  cues.share = 0;
  cues.blend = [...new Set([...cues.blend, index])].sort((a, b) => a - b);
  cues.acts.set(actsOf(cues.looks[index] as CueLook));
  cues.began = true;
}

/** Everything at the present point of the crossfade. */
function show(cues: Cues, lights: Lights): void {
  const { from, share, changing } = cues;
  const to = cues.looks[cues.on] as CueLook;
  cues.moved = true;
  between(cues.inCue, from.levels, to.levels, share);
  applyOff(cues);
  between(cues.says, from.says, to.says, share);
  for (const cue of cues.blend) {
    cues.weights[cue] = mixed(from.weights[cue] as number, cue === cues.on ? 1 : 0, share);
  }
  if (share === 1) cues.blend = [cues.on];
  const { base, safe, stepped, movement } = lights;
  for (let k = 0; k < changing.length; k++) {
    const c = changing[k] as number;
    // A wheel has nothing between two positions, and half way between two aims is neither.
    const s = stepped[c] === 1 || movement[c] === 1 ? 1 : share;
    base[c] = mixed(from.base[c] as number, to.base[c] as number, s);
    safe[c] = mixed(from.safe[c] as number, to.safe[c] as number, s);
  }
}

function between(out: Float64Array, from: Float64Array, to: Float64Array, share: number): void {
  for (let i = 0; i < out.length; i++) {
    out[i] = mixed(from[i] as number, to[i] as number, share);
  }
}

/** Exact at both ends. */
function mixed(from: number, to: number, share: number): number {
  return share === 1 ? to : from + share * (to - from);
}
