import {
  type CueOrder,
  ENABLED_CLASSES,
  type EnabledClass,
  type MappingsOrder,
  type Order,
  type OrderRejectReason,
  type PerformersOrder,
  type PinOrder,
  type ShowOrder,
} from '../../protocols/osc/orders.js';
import { createEnable, type Enable, hearEnable } from '../../safety/enable.js';
import { hasHazard } from '../../show/model/hazards.js';
import type { CuePlan, Show } from '../../show/model/model.js';
import { findNamed, type Named, nameMeant } from '../../show/problems/names.js';
import { unreachable } from '../../stage/unreachable.js';
import type { OperatorCause } from '../values/operator-action.js';
import type { StageState } from '../values/stage-state.js';
import type { EngineEvent } from './events.js';

/** The same order for an unknown performer or cue is reported again only after this long, seconds; and how many at a time. */
const TOLD_AGAIN_AFTER_S = 10;
const MOST_REFUSED = 8;
const MOST_REMEMBERED = 256;
/** How many stops and resumes of one tick are reported one by one, and how many a tick over time; from a flood only the outcome is reported. */
const MOST_TOLD = 8;

type StopEvent = Extract<EngineEvent, { kind: 'stopped' | 'resumed' }>;
type RefusedOrder = Extract<EngineEvent, { kind: 'operator-refused' }>;

/** What operators and desks have ordered, as it stands. */
export interface Orders {
  readonly performers: Show['performers'];
  /** Of the performers, in the order of the show. */
  readonly names: readonly string[];
  /** Since when orders have been heard: the first tick, monotonic seconds; NaN before it. */
  sinceS: number;
  /** Everybody is stopped, also those who belong to no performer. */
  allStopped: boolean;
  /** The supervisor keeps all light at the safe look; always false without a supervisor. */
  safeLookHeld: boolean;
  /** For each performer 1 while they are stopped. */
  readonly stopped: Uint8Array;
  /** For each stopped performer 1 if only the main machine of a pair says so: it may take back that stop, and no other. */
  readonly stopToldByMain: Uint8Array;
  /** The same for the stop of everybody. */
  allStoppedToldByMain: boolean;
  /** For each performer 1: ordered off stage at this machine, since they were last on stage. */
  readonly sentOffHere: Uint8Array;
  /** For each performer 1: the main machine has said that they are off stage, and not yet that they are on it. */
  readonly offToldByMain: Uint8Array;
  /** For each performer how many orders said where they are, and the last one; see `leave`. */
  readonly stageAsks: Int32Array;
  readonly stageWants: StageState[];
  readonly enables: Readonly<Record<EnabledClass, Enable>>;
  /** Classes of hazard that the show has an output of. */
  readonly hazards: ReadonlySet<EnabledClass>;
  /** When anything last came from the desk, monotonic seconds; NaN before that. */
  deskHeardS: number;
  deskLost: boolean;
  /** The desk is lost, and the show requires it. */
  needsDesk: boolean;
  /** Address from which the desk, and the enable of each class, was last heard. */
  deskFrom: string | undefined;
  readonly enablesFrom: Record<EnabledClass, string | undefined>;
  /** Orders for performers and cues that the show does not have: those still to be reported, and all recent ones. */
  readonly refused: RefusedOrder[];
  readonly refusedS: Map<string, number>;
  /** What the events have said about all this, and the events still to be reported. */
  readonly said: {
    allStopped: boolean;
    deskLost: boolean;
    readonly stopped: Uint8Array;
    readonly stopToldByMain: Uint8Array;
    allStoppedToldByMain: boolean;
  };
  readonly untold: StopEvent[];
  /** How many more may be reported one by one. */
  mayTell: number;
  /** How many since the last tick were carried out and are not reported one by one. */
  merged: number;
  /** The last stop or resume, and who asked. */
  stopAsk: StopAsk;
  /** Of stops that a restart brought back, and of which nothing is told yet: who had asked, by performer. */
  readonly restoredBy: Map<string, string>;
  /** The last order about who is off stage: why, and by whom. */
  cause: OperatorCause;
  by: string | undefined;
}

interface StopAsk {
  readonly stops: boolean;
  readonly cause: OperatorCause;
  readonly by: string | undefined;
  /** By the main machine of a pair; also if that was before a restart of this engine. */
  readonly toldByMain?: boolean;
}

export function createOrders({ performers, fixtures }: Show): Orders {
  return {
    performers,
    refused: [],
    refusedS: new Map(),
    names: performers.map(({ name }) => name),
    sinceS: Number.NaN,
    restoredBy: new Map(),
    allStopped: false,
    safeLookHeld: false,
    stopped: new Uint8Array(performers.length),
    stopToldByMain: new Uint8Array(performers.length),
    allStoppedToldByMain: false,
    sentOffHere: new Uint8Array(performers.length),
    offToldByMain: new Uint8Array(performers.length),
    stageAsks: new Int32Array(performers.length),
    stageWants: performers.map(() => 'on'),
    enables: Object.fromEntries(ENABLED_CLASSES.map(one => [one, createEnable()])) as Readonly<
      Record<EnabledClass, Enable>
    >,
    hazards: new Set(
      ENABLED_CLASSES.filter(one => fixtures.some(fixture => hasHazard(fixture, one))),
    ),
    deskHeardS: Number.NaN,
    deskLost: false,
    needsDesk: false,
    deskFrom: undefined,
    enablesFrom: { atmospheric: undefined, strobe: undefined, laser: undefined },
    said: {
      allStopped: false,
      deskLost: false,
      stopped: new Uint8Array(performers.length),
      stopToldByMain: new Uint8Array(performers.length),
      allStoppedToldByMain: false,
    },
    untold: [],
    mayTell: MOST_TOLD,
    merged: 0,
    stopAsk: { stops: true, cause: 'command', by: undefined },
    cause: 'command',
    by: undefined,
  };
}

/**
 * Takes an order as it comes in, whatever its time tag says: a stop does not wait. What it changes is reported in the
 * next tick, the same order for several performers together, so that a flood of orders is no flood of events.
 * @param from address of the sender
 */
export function takeOrder(
  orders: Orders,
  order: Exclude<Order, CueOrder | PinOrder | MappingsOrder | PerformersOrder | ShowOrder>,
  nowS: number,
  from: string | undefined,
): OrderRejectReason | 'unknown-performer' | 'unknown-hazard' | undefined {
  hearDesk(orders, nowS, from);
  switch (order.kind) {
    case 'desk':
      return undefined;
    case 'enable':
      hearEnable(orders.enables[order.hazard], order.held, nowS, from ?? '');
      orders.enablesFrom[order.hazard] = from;
      // A desk may release all classes at once.
      return order.held && !orders.hazards.has(order.hazard)
        ? noteUnknownHazard(orders, order.hazard, nowS, from)
        : undefined;
    case 'stop':
    case 'resume':
      noteUnknown(orders, order, nowS, from);
      return setStopped(orders, order.performers, {
        stops: order.kind === 'stop',
        cause: 'command',
        by: from,
      });
    case 'off':
    case 'on':
      orders.cause = 'command';
      orders.by = from;
      noteUnknown(orders, order, nowS, from);
      return sendOffHere(orders, order.performers, order.kind === 'off' ? 'leaving' : 'on');
    default:
      return unreachable(order);
  }
}

/** A stop that changes nothing is reported at once, but not each time that a desk repeats it. */
function noteUnknown(
  orders: Orders,
  { kind, performers }: Extract<Order, { readonly performers: readonly string[] }>,
  nowS: number,
  from: string | undefined,
): void {
  for (const performer of performers) {
    if (performerAt(orders, performer) >= 0) continue;
    const action = { kind, performer, cause: 'command', ...askedBy(from) } as const;
    noteRefused(orders, action, performer, nowS, () => {
      return `the show has no performer "${performer}"${hint(performer, orders.performers)}`;
    });
  }
}

/** The same for a cue. @param key refusals with the same key are one: a fader that runs through numbers is reported once */
export function noteUnknownCue(
  orders: Orders,
  name: string,
  cues: Show['cues'],
  nowS: number,
  from: string | undefined,
  key = name,
): void {
  const action = { kind: 'cue', to: { name }, cause: 'command', ...askedBy(from) } as const;
  noteRefused(orders, action, key, nowS, () =>
    cues.length === 0 ? 'the show has no cues' : `the show has no cue "${name}"${hint(name, cues)}`,
  );
}

/** The same for the enable of a class that the show has nothing of: somebody may wait for haze that never comes. */
function noteUnknownHazard(
  orders: Orders,
  hazard: EnabledClass,
  nowS: number,
  from: string | undefined,
): 'unknown-hazard' {
  const action = { kind: 'hold', hazard, held: true, cause: 'command', ...askedBy(from) } as const;
  noteRefused(orders, action, hazard, nowS, () => `the show has nothing of the class ${hazard}`);
  return 'unknown-hazard';
}

/** The same for a head that can't be on somebody. @param reason why, in a technician's words */
export function noteRefusedPin(
  orders: Orders,
  action: Extract<RefusedOrder['action'], { kind: 'pin' }>,
  reason: string,
  nowS: number,
): void {
  noteRefused(orders, action, `${action.fixture} ${action.performer}`, nowS, () => reason);
}

function noteRefused(
  { refused, refusedS }: Orders,
  action: RefusedOrder['action'],
  name: string,
  nowS: number,
  reason: () => string,
): void {
  const key = `${action.kind} ${action.by} ${name}`;
  if (nowS - (refusedS.get(key) ?? Number.NEGATIVE_INFINITY) < TOLD_AGAIN_AFTER_S) return;
  if (refused.length >= MOST_REFUSED) return;
  if (refusedS.size >= MOST_REMEMBERED) refusedS.clear();
  refusedS.set(key, nowS);
  refused.push({ kind: 'operator-refused', action, reason: reason() });
}

function askedBy(by: string | undefined): { readonly by?: string } {
  return by === undefined ? {} : { by };
}

/** As the next sentence. */
function hint(word: string, all: readonly Named[]): string {
  const meant = nameMeant(word, all);
  return meant === '' ? '' : `.${meant}`;
}

/** By name or label. @returns -1 if the show has nobody of that name */
function performerAt({ names, performers }: Orders, word: string): number {
  const index = names.indexOf(word);
  if (index >= 0) return index;
  const found = findNamed(word, performers);
  return found === undefined ? -1 : performers.indexOf(found);
}

/** Anything from the desk is a sign of life. */
export function hearDesk(orders: Orders, nowS: number, from: string | undefined): void {
  orders.deskHeardS = nowS;
  orders.deskFrom = from;
}

/** @param names none means everybody; where one is unknown the others are stopped all the same */
export function setStopped(
  orders: Orders,
  names: readonly string[],
  ask: StopAsk,
): 'unknown-performer' | undefined {
  beginAsk(orders, ask);
  const value = ask.stops ? 1 : 0;
  if (ask.cause === 'restored' && ask.by !== undefined) {
    for (const name of names.length === 0 ? orders.names : names) {
      orders.restoredBy.set(name, ask.by);
    }
  }
  const told = ask.stops && ask.toldByMain === true;
  if (names.length === 0) {
    orders.allStopped = ask.stops;
    orders.allStoppedToldByMain = told;
    orders.stopped.fill(value);
    orders.stopToldByMain.fill(told ? 1 : 0);
    return undefined;
  }
  let unknown = false;
  for (const name of names) {
    const performer = performerAt(orders, name);
    if (performer < 0) unknown = true;
    else {
      orders.stopped[performer] = value;
      orders.stopToldByMain[performer] = told ? 1 : 0;
    }
  }
  return unknown ? 'unknown-performer' : undefined;
}

/**
 * The main machine of a pair says who is stopped there. That adds stops, and takes back only those that came from it:
 * a stop given at this machine holds until it is taken back here.
 */
export function takeToldStops(
  orders: Orders,
  { everybody, performers }: PerformersOrder,
  by: string,
): void {
  const { stopped, stopToldByMain } = orders;
  if (everybody !== orders.allStopped && (everybody || orders.allStoppedToldByMain)) {
    beginAsk(orders, { stops: everybody, cause: 'command', by });
    orders.allStopped = everybody;
    orders.allStoppedToldByMain = everybody;
  }
  for (const one of performers) {
    const p = orders.names.indexOf(one.name);
    if (p < 0 || one.stopped === (stopped[p] === 1)) continue;
    if (!one.stopped && stopToldByMain[p] === 0) continue;
    beginAsk(orders, { stops: one.stopped, cause: 'command', by });
    stopped[p] = one.stopped ? 1 : 0;
    stopToldByMain[p] = one.stopped ? 1 : 0;
  }
}

/**
 * Earlier orders are reported by themselves: a stop and a resume in one tick are two events, in that order. For
 * orders restored after a restart only the outcome is reported.
 */
function beginAsk(orders: Orders, ask: StopAsk): void {
  const { stops, cause, by } = orders.stopAsk;
  const isRestored = cause === 'restored' && ask.cause === 'restored';
  const isSame = stops === ask.stops && cause === ask.cause && by === ask.by;
  if (!isSame && !isRestored) {
    if (orders.mayTell > 0) {
      const before = orders.untold.length;
      noteStops(orders);
      orders.mayTell -= orders.untold.length - before;
    } else if (isUntold(orders)) orders.merged += 1;
  }
  // Of those who are restored each may be somebody else's: `restoredBy`.
  orders.stopAsk = ask.cause === 'restored' ? { ...ask, by: undefined } : ask;
}

/** @param names none means everybody; where one is unknown the others are sent off, or on, all the same */
export function sendOff(
  orders: Orders,
  names: readonly string[],
  wanted: StageState,
): 'unknown-performer' | undefined {
  const { stageAsks, stageWants } = orders;
  let unknown = false;
  for (const name of names.length === 0 ? orders.names : names) {
    const performer = performerAt(orders, name);
    if (performer < 0) unknown = true;
    else {
      stageAsks[performer] = (stageAsks[performer] as number) + 1;
      stageWants[performer] = wanted;
    }
  }
  return unknown ? 'unknown-performer' : undefined;
}

/** The same, ordered at this machine: what the main machine says about where they are doesn't change it. */
export function sendOffHere(
  orders: Orders,
  names: readonly string[],
  wanted: StageState,
): 'unknown-performer' | undefined {
  const value = wanted === 'on' ? 0 : 1;
  for (const name of names.length === 0 ? orders.names : names) {
    const performer = performerAt(orders, name);
    if (performer < 0) continue;
    orders.sentOffHere[performer] = value;
    orders.offToldByMain[performer] = 0;
  }
  return sendOff(orders, names, wanted);
}

/** A cue has come on; counts from the next tick. */
export function sendByCue(orders: Orders, { label, off, on }: CuePlan): void {
  if (off.length + on.length === 0) return;
  orders.cause = 'command';
  orders.by = `cue ${label}`;
  const namesOf = (all: readonly number[]) => all.map(p => orders.names[p] as string);
  // No names would mean everybody.
  if (off.length > 0) sendOff(orders, namesOf(off), 'leaving');
  if (on.length > 0) sendOff(orders, namesOf(on), 'on');
}

/** Once a tick, before the watch: is the desk there, and what is to be reported? */
export function weighOrders(orders: Orders, show: Show, nowS: number, events: EngineEvent[]): void {
  if (Number.isNaN(orders.sinceS)) orders.sinceS = nowS;
  orders.deskLost = isDeskLost(show, orders, nowS);
  const required = show.operator?.desk === 'required';
  orders.needsDesk = required && orders.deskLost;
  tellRefused(orders, events);
  noteStops(orders);
  events.push(...orders.untold);
  orders.untold.length = 0;
  orders.mayTell = Math.min(MOST_TOLD, orders.mayTell + 1);
  orders.merged = 0;
  const { said } = orders;
  if (orders.deskLost !== said.deskLost) {
    said.deskLost = orders.deskLost;
    const by = orders.deskFrom === undefined ? {} : { by: orders.deskFrom };
    events.push({ kind: 'desk', lost: orders.deskLost, required, ...by });
  }
}

/** Whether stops differ from what the events have said. */
function isUntold(is: Orders): boolean {
  const { said } = is;
  return (
    is.allStopped !== said.allStopped ||
    is.allStoppedToldByMain !== said.allStoppedToldByMain ||
    is.stopped.some((one, p) => one !== said.stopped[p]) ||
    is.stopToldByMain.some((one, p) => one !== said.stopToldByMain[p])
  );
}

/** Which stops differ from what the events have said. */
function noteStops(orders: Orders): void {
  const { said, names, untold } = orders;
  const stopped: string[] = [];
  const resumed: string[] = [];
  for (let p = 0; p < names.length; p++) {
    const is = orders.stopped[p] as number;
    const toldByMain = orders.stopToldByMain[p] as number;
    if (is === said.stopped[p] && toldByMain === said.stopToldByMain[p]) continue;
    said.stopped[p] = is;
    said.stopToldByMain[p] = toldByMain;
    (is === 1 ? stopped : resumed).push(names[p] as string);
  }
  const everybody = orders.allStopped;
  const isNew = !said.allStopped || said.allStoppedToldByMain !== orders.allStoppedToldByMain;
  if (stopped.length > 0 || (everybody && isNew)) {
    const now = stops(orders);
    // Some may have been resumed since, or in the same tick after a restart.
    const all = everybody && now.stillStopped.length === names.length;
    untold.push({ kind: 'stopped', performers: stopped, everybody: all, ...now });
  }
  if (resumed.length > 0 || (!everybody && said.allStopped)) {
    const now = stops(orders);
    const nobody = !everybody && now.stillStopped.length === 0;
    untold.push({ kind: 'resumed', performers: resumed, everybody: nobody, ...now });
  }
  said.allStopped = everybody;
  said.allStoppedToldByMain = orders.allStoppedToldByMain;
  orders.restoredBy.clear();
}

function tellRefused({ refused }: Orders, events: EngineEvent[]): void {
  events.push(...refused);
  refused.length = 0;
}

export function namesOfStopped({ names, stopped }: Orders): string[] {
  return names.filter((_, performer) => stopped[performer] === 1);
}

function stops(orders: Orders) {
  const { allStopped, allStoppedToldByMain, names, stopToldByMain } = orders;
  const told = names.filter((_, p) => stopToldByMain[p] === 1);
  const toldByMain = { everybody: allStoppedToldByMain, performers: told };
  const { cause, by } = orders.stopAsk;
  const stillStopped = namesOfStopped(orders);
  const had = [...orders.restoredBy].filter(([name]) => stillStopped.includes(name));
  return {
    cause,
    ...(by === undefined ? {} : { by }),
    ...(cause !== 'restored' || had.length === 0 ? {} : { byOf: Object.fromEntries(had) }),
    stillStopped,
    stopOfEverybody: allStopped,
    ...(told.length > 0 || allStoppedToldByMain ? { toldByMain } : {}),
  };
}

function isDeskLost({ operator, watchdog }: Show, orders: Orders, nowS: number): boolean {
  if (operator === undefined) return false;
  switch (operator.desk) {
    case 'ignored':
      return false;
    case 'reported':
      // Until it is first heard, its timeout runs from the first tick.
      if (Number.isNaN(orders.deskHeardS)) orders.deskHeardS = nowS;
      return !(nowS - orders.deskHeardS <= watchdog.deskLost.afterS);
    case 'required':
      return !(nowS - orders.deskHeardS <= watchdog.deskLost.afterS);
    default:
      return unreachable(operator.desk);
  }
}
