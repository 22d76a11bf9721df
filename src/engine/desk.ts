import { hearEnable } from '../safety/enable.js';
import type { DeskDoes, DeskInputPlan, DeskOrderPlan, Show } from '../show/model.js';
import { SLOTS_PER_UNIVERSE } from '../show/model.js';
import { unreachable } from '../stage/unreachable.js';
import { type Cues, goToCue } from './cues.js';
import type { DeskLevels } from './inputs.js';
import { noteUnknownCue, type Orders, sendOff, setStopped } from './orders.js';
import type { Reception } from './receive.js';

/** What of the desk drives signals, and what it orders. */
export interface Desk {
  readonly universes: readonly HeardUniverse[];
  /** Those that enable something: they count for as long as they are held. */
  readonly enables: readonly SlotOrder[];
}

interface HeardUniverse {
  readonly plan: DeskInputPlan;
  readonly signals: readonly SlotSignal[];
  readonly orders: readonly SlotOrder[];
  /** Since when the desk is there, monotonic seconds. */
  sinceS: number;
  /** The desk is there; and what it said last, 512 slots, undefined before it was ever heard. */
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
  /** As whom the log has it who asked. */
  readonly by: string;
  /** Of the packet before; -1: there was none since the desk came. */
  level: number;
  /** It has risen since the desk was there, and has not fallen. */
  isHeld: boolean;
}

/** A slot counts as up from here: above a half. */
const UP = 128;
/** A desk that is switched on sends zeros first, and then what its faders are at. */
const SETTLES_S = 1;
const MOST_8 = 255;
const MOST_16 = 65535;

export function createDesk(show: Show, { numbers }: Pick<Reception, 'numbers'>): Desk {
  const orders = show.orders.map((plan): SlotOrder => {
    return { plan, by: `desk ${show.desk[plan.desk]?.name}`, level: -1, isHeld: false };
  });
  const universes = show.desk.map((plan, index): HeardUniverse => {
    const signals = show.signals.signals.flatMap(({ source }, signal): SlotSignal[] =>
      source.kind === 'slot' && source.desk === index ? [{ signal, ...source }] : [],
    );
    const own = orders.filter(one => one.plan.desk === index);
    return { plan, signals, orders: own, isHeard: false, sinceS: Number.NaN, levels: undefined };
  });
  for (const { signals } of universes) {
    for (const one of signals) {
      if (typeof one.gone === 'number') setNumber(numbers, one.signal, one.gone, 0);
    }
  }
  return { universes, enables: orders.filter(({ plan }) => plan.does.kind === 'enable') };
}

/** What is changed by what the desk says. */
interface Ordered {
  readonly reception: Pick<Reception, 'numbers'>;
  readonly orders: Orders;
  readonly cues: Cues;
}

/** Universes of the desk -> numbers of signals, and orders; an enable that is held is heard in each tick. */
export function stepDesk(
  { universes, enables }: Desk,
  heard: readonly DeskLevels[],
  engine: Ordered,
  nowS: number,
): void {
  for (const one of heard) {
    const universe = universes[one.input];
    if (universe === undefined) continue;
    if (one.heard) take(universe, one.levels, engine, nowS);
    else leave(universe, engine, nowS);
  }
  for (const { plan, isHeld, by } of enables) {
    if (!isHeld || plan.does.kind !== 'enable') continue;
    hearEnable(engine.orders.enables[plan.does.hazard], true, nowS);
    engine.orders.enablesFrom[plan.does.hazard] = by;
  }
}

function take(
  universe: HeardUniverse,
  levels: Uint8Array,
  { reception: { numbers }, orders, cues }: Ordered,
  nowS: number,
): void {
  if (!universe.isHeard) universe.sinceS = nowS;
  universe.isHeard = true;
  universe.levels ??= new Uint8Array(SLOTS_PER_UNIVERSE);
  universe.levels.set(levels);
  say(universe, universe.levels, numbers, nowS);
  // In what it says as it starts up nobody has pressed anything.
  const settles = nowS - universe.sinceS < SETTLES_S;
  for (const one of universe.orders) {
    const level = levels[one.plan.slot] as number;
    const before = one.level;
    one.level = level;
    obey(one, settles ? -1 : before, level, orders, cues, nowS);
  }
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

/** Nobody holds anything any more; what else it ordered stays. */
function leave(
  universe: HeardUniverse,
  { reception: { numbers }, orders }: Ordered,
  nowS: number,
): void {
  universe.isHeard = false;
  sayGone(universe, numbers, nowS);
  for (const one of universe.orders) {
    one.level = -1;
    const { does } = one.plan;
    if (does.kind === 'enable' && one.isHeld) hearEnable(orders.enables[does.hazard], false, nowS);
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
  before: number,
  level: number,
  orders: Orders,
  cues: Cues,
  nowS: number,
): void {
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
      // One that lasts as long as it is up counts at once: nobody is lit whom somebody holds stopped.
      if (rises || (does.held && isFirst && level >= UP)) {
        one.isHeld = true;
        carryOut(does, true, orders, one.by);
      } else if (does.held && one.isHeld && level < UP) {
        one.isHeld = false;
        carryOut(does, false, orders, one.by);
      }
      return;
    case 'resume':
    case 'on':
      if (rises) carryOut(does, false, orders, one.by);
      return;
    case 'enable':
      if (rises) one.isHeld = true;
      else if (one.isHeld && level < UP) {
        one.isHeld = false;
        hearEnable(orders.enables[does.hazard], false, nowS);
      }
      return;
    default:
      unreachable(does);
  }
}

/** The cue of this number, counted from 1. */
function bring(cues: Cues, number: number, orders: Orders, nowS: number, by: string): void {
  const plan = cues.plans[number - 1];
  if (plan === undefined) noteUnknownCue(orders, String(number), cues.plans, nowS, by);
  else goToCue(cues, { name: plan.name }, 'command', by);
}

function carryOut(
  does: Extract<DeskDoes, { performers: unknown }>,
  stops: boolean,
  orders: Orders,
  by: string,
): void {
  orders.cause = 'command';
  orders.by = by;
  if (does.kind === 'stop' || does.kind === 'resume') setStopped(orders, does.performers, stops);
  else sendOff(orders, does.performers, stops ? 'leaving' : 'on');
}

/** As a reload finds it: signals are what the desk says, and what is held stays held where the same slot orders the same. */
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
    universe.levels = was.levels;
    say(universe, was.levels, numbers, nowS);
    if (!was.isHeard) sayGone(universe, numbers, nowS);
    for (const one of universe.orders) {
      const same = was.orders.find(({ plan }) => isSame(plan, one.plan));
      if (same === undefined) continue;
      one.level = same.level;
      one.isHeld = same.isHeld;
    }
  }
}

function isSame(a: DeskOrderPlan, b: DeskOrderPlan): boolean {
  return a.slot === b.slot && JSON.stringify(a.does) === JSON.stringify(b.does);
}
