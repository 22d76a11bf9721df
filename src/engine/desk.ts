import { hearEnable } from '../safety/enable.js';
import type { DeskDoes, DeskInputPlan, DeskOrderPlan, Show } from '../show/model/model.js';
import { SLOTS_PER_UNIVERSE } from '../show/model/model.js';
import { unreachable } from '../stage/unreachable.js';
import { type Cues, goToCue } from './cues/cues.js';
import { noteUnknownCue, type Orders, sendOffHere, setStopped } from './events/orders.js';
import type { Reception } from './reports/receive.js';
import type { DeskLevels } from './values/inputs.js';

/** The desk's slots that drive signals, and those that give orders. */
export interface Desk {
  readonly universes: readonly HeardUniverse[];
  /** Slots that enable something: they count for as long as they are held. */
  readonly enables: readonly SlotOrder[];
}

interface HeardUniverse {
  readonly plan: DeskInputPlan;
  readonly signals: readonly SlotSignal[];
  readonly orders: readonly SlotOrder[];
  /** Since when the desk has been heard with the same sources, monotonic seconds. */
  sinceS: number;
  /** The first second after that is not over. */
  settles: boolean;
  /** Whose levels they are; see `DeskLevels`. */
  from: string;
  /** The desk is heard; and its last levels, 512 slots, undefined before it was ever heard. */
  isHeard: boolean;
  levels: Uint8Array | undefined;
}

interface SlotSignal {
  readonly signal: number;
  readonly coarse: number;
  readonly fine: number | undefined;
  readonly gone: DeskInputPlan['gone'];
}

interface SlotOrder {
  readonly plan: DeskOrderPlan;
  /** The name under which the log says who asked. */
  readonly by: string;
  /** Its value in the packet before; -1: none since the desk came or its sources changed. */
  level: number;
  /** It has gone up and not come down. A slot that stops while it is up stays held when the desk is gone. */
  isHeld: boolean;
  /** Who holds it. */
  heldBy: string;
}

type PeopleOrder = Extract<DeskDoes, { performers: unknown }>;

/** A slot counts as up from here: above a half. */
const UP = 128;
/** A desk that is switched on sends zeros first, and then what its faders are at. */
const SETTLES_S = 1;
const MOST_8 = 255;
const MOST_16 = 65535;

export function createDesk(show: Show, { numbers }: Pick<Reception, 'numbers'>): Desk {
  const orders = show.orders.map((plan): SlotOrder => {
    return { plan, by: `desk ${show.desk[plan.desk]?.name}`, level: -1, isHeld: false, heldBy: '' };
  });
  const universes = show.desk.map((plan, index): HeardUniverse => {
    const signals = show.signals.signals.flatMap(({ source }, signal): SlotSignal[] =>
      source.kind === 'slot' && source.desk === index ? [{ signal, ...source }] : [],
    );
    const own = orders.filter(one => one.plan.desk === index);
    return {
      plan,
      signals,
      orders: own,
      isHeard: false,
      sinceS: Number.NaN,
      settles: false,
      from: '',
      levels: undefined,
    };
  });
  for (const { signals } of universes) {
    for (const one of signals) {
      if (typeof one.gone === 'number') setNumber(numbers, one.signal, one.gone, 0);
    }
  }
  return { universes, enables: orders.filter(({ plan }) => plan.does.kind === 'enable') };
}

/** What the desk's slots change. */
interface Ordered {
  readonly reception: Pick<Reception, 'numbers'>;
  readonly orders: Orders;
  readonly cues: Cues;
}

/** Universes of the desk -> numbers of signals, and orders; a held enable counts as heard in each tick. */
export function stepDesk(
  { universes, enables }: Desk,
  heard: readonly DeskLevels[],
  engine: Ordered,
  nowS: number,
): void {
  for (const one of heard) {
    const universe = universes[one.input];
    if (universe === undefined) continue;
    // Its last packet may have come together with the news that it is gone.
    if (one.heard || universe.isHeard) take(universe, one, engine, nowS);
    if (one.silent === true) dropEnables(universe, engine.orders, nowS);
    if (!one.heard) leave(universe, engine, nowS);
  }
  for (const universe of universes) settle(universe, engine.orders, nowS);
  for (const { plan, isHeld, by } of enables) {
    if (!isHeld || plan.does.kind !== 'enable') continue;
    hearEnable(engine.orders.enables[plan.does.hazard], true, nowS, by);
    engine.orders.enablesFrom[plan.does.hazard] = by;
  }
}

function take(
  universe: HeardUniverse,
  { levels, from = '' }: DeskLevels,
  { reception: { numbers }, orders, cues }: Ordered,
  nowS: number,
): void {
  if (!universe.isHeard || universe.from !== from) begin(universe, from, orders, nowS);
  universe.levels ??= new Uint8Array(SLOTS_PER_UNIVERSE);
  universe.levels.set(levels);
  say(universe, universe.levels, numbers, nowS);
  // A desk that starts up sends levels that nobody has just pressed.
  universe.settles = nowS - universe.sinceS < SETTLES_S;
  for (const one of universe.orders) {
    const level = levels[one.plan.slot] as number;
    const before = one.level;
    one.level = level;
    obey(one, universe, universe.settles ? -1 : before, { orders, cues }, nowS);
  }
}

/**
 * The desk has come, or its sources have changed: a fader that is already up was not just raised, and one that is
 * down was not just released.
 */
function begin(universe: HeardUniverse, from: string, orders: Orders, nowS: number): void {
  dropEnables(universe, orders, nowS);
  for (const one of universe.orders) one.level = -1;
  Object.assign(universe, { isHeard: true, from, sinceS: nowS, settles: true });
}

/** After a desk comes, a release counts only once it has sent its fader levels. */
function settle(universe: HeardUniverse, orders: Orders, nowS: number): void {
  if (!universe.settles || !universe.isHeard || nowS - universe.sinceS < SETTLES_S) return;
  universe.settles = false;
  for (const one of universe.orders) letGo(one, universe, false, orders);
}

function say(
  { signals }: HeardUniverse,
  levels: Uint8Array,
  numbers: Reception['numbers'],
  nowS: number,
): void {
  for (const { signal, coarse, fine } of signals) {
    const high = levels[coarse] as number;
    const value =
      fine === undefined ? high / MOST_8 : (256 * high + (levels[fine] as number)) / MOST_16;
    setNumber(numbers, signal, value, nowS);
  }
}

/** Nobody holds anything any more; its other orders stay. */
function leave(
  universe: HeardUniverse,
  { reception: { numbers }, orders }: Ordered,
  nowS: number,
): void {
  universe.isHeard = false;
  sayGone(universe, numbers, nowS);
  dropEnables(universe, orders, nowS);
}

function dropEnables(universe: HeardUniverse, orders: Orders, nowS: number): void {
  for (const one of universe.orders) {
    const { does } = one.plan;
    if (does.kind !== 'enable' || !one.isHeld) continue;
    hearEnable(orders.enables[does.hazard], false, nowS, one.by);
    one.isHeld = false;
  }
}

function sayGone({ signals }: HeardUniverse, numbers: Reception['numbers'], nowS: number): void {
  for (const { signal, gone } of signals) {
    if (typeof gone === 'number') setNumber(numbers, signal, gone, nowS);
    else if (gone === 'unknown') numbers.heardS[signal] = Number.NEGATIVE_INFINITY;
  }
}

function setNumber(
  numbers: Reception['numbers'],
  signal: number,
  value: number,
  nowS: number,
): void {
  numbers.value[signal] = value;
  numbers.heardS[signal] = nowS;
}

function obey(
  one: SlotOrder,
  universe: HeardUniverse,
  before: number,
  { orders, cues }: Pick<Ordered, 'orders' | 'cues'>,
  nowS: number,
): void {
  const { level } = one;
  const { does } = one.plan;
  const isFirst = before < 0;
  const rises = !isFirst && before < UP && level >= UP;
  switch (does.kind) {
    case 'cue':
      if (does.to === 'number') {
        if (!isFirst && level !== before && level > 0) bring(cues, level, orders, nowS, one.by);
      } else if (rises) goToCue(cues, does.to, 'command', one.by);
      return;
    case 'stop':
    case 'off':
      // A stop that lasts while the fader is up counts at once: nobody is lit whom somebody holds stopped.
      if (rises || (does.held && isFirst && level >= UP)) {
        const isNews = rises || !one.isHeld;
        if (isNews || !universe.from.includes(one.heldBy)) one.heldBy = universe.from;
        one.isHeld = true;
        // If they are stopped already, as after a restart, nothing is new: the time and who asked stay.
        if (isNews && (rises || !isStopped(does, orders))) carryOut(does, true, orders, one.by);
      } else if (!universe.settles) letGo(one, universe, before >= UP, orders);
      return;
    case 'resume':
    case 'on':
      if (rises) carryOut(does, false, orders, one.by);
      return;
    case 'enable':
      if (rises) one.isHeld = true;
      else if (one.isHeld && level < UP) {
        one.isHeld = false;
        hearEnable(orders.enables[does.hazard], false, nowS, one.by);
      }
      return;
    default:
      unreachable(does);
  }
}

/**
 * A held stop ends when its fader comes down, or when the desk that held it is back with the fader down; another desk
 * whose fader was down all the time has not released it.
 */
function letGo(one: SlotOrder, { from }: HeardUniverse, hasFallen: boolean, orders: Orders): void {
  const { does } = one.plan;
  if ((does.kind !== 'stop' && does.kind !== 'off') || !does.held || !one.isHeld) return;
  if (one.level < 0 || one.level >= UP || !(hasFallen || from.includes(one.heldBy))) return;
  one.isHeld = false;
  carryOut(does, false, orders, one.by);
}

function isStopped({ kind, performers }: PeopleOrder, orders: Orders): boolean {
  if (kind !== 'stop') return false;
  if (performers.length === 0) return orders.allStopped;
  return performers.every(name => orders.stopped[orders.names.indexOf(name)] === 1);
}

/** The cue with this number, counted from 1. */
function bring(cues: Cues, number: number, orders: Orders, nowS: number, by: string): void {
  const plan = cues.plans[number - 1];
  if (plan === undefined) noteUnknownCue(orders, String(number), cues.plans, nowS, by, 'number');
  else goToCue(cues, { name: plan.name }, 'command', by);
}

function carryOut(does: PeopleOrder, stops: boolean, orders: Orders, by: string): void {
  if (does.kind === 'stop' || does.kind === 'resume') {
    setStopped(orders, does.performers, { stops, cause: 'command', by });
    return;
  }
  orders.cause = 'command';
  orders.by = by;
  sendOffHere(orders, does.performers, stops ? 'leaving' : 'on');
}

/** After a reload: signals are what the desk says, and a held slot stays held if it gives the same order in the new show. */
export function takeDesk(
  next: Desk,
  old: Desk,
  { numbers }: Pick<Reception, 'numbers'>,
  nowS: number,
): void {
  for (const universe of next.universes) {
    const was = old.universes.find(({ plan }) => plan.name === universe.plan.name);
    if (was?.levels === undefined) continue;
    universe.isHeard = was.isHeard;
    universe.sinceS = was.sinceS;
    universe.settles = was.settles;
    universe.from = was.from;
    universe.levels = was.levels;
    say(universe, was.levels, numbers, nowS);
    if (!was.isHeard) sayGone(universe, numbers, nowS);
    for (const one of universe.orders) {
      const same = was.orders.find(({ plan }) => isSame(plan, one.plan));
      if (same === undefined) continue;
      one.level = same.level;
      one.isHeld = same.isHeld;
      one.heldBy = same.heldBy;
    }
  }
}

function isSame(a: DeskOrderPlan, b: DeskOrderPlan): boolean {
  return a.slot === b.slot && JSON.stringify(a.does) === JSON.stringify(b.does);
}
