import {
  ENABLED_CLASSES,
  type EnabledClass,
  type Order,
  type OrderRejectReason,
} from '../protocols/osc/orders.js';
import { createEnable, type Enable, hearEnable } from '../safety/enable.js';
import type { Show } from '../show/model.js';
import { unreachable } from '../stage/unreachable.js';
import type { OperatorCause } from './operator-action.js';
import type { EngineState } from './state.js';

/** What operators and desks have said, as it stands. */
export interface Orders {
  /** Since when orders are heard: the first tick, monotonic seconds; NaN before it. */
  sinceS: number;
  /** Everybody is stopped, also those who belong to no performer. */
  allStopped: boolean;
  readonly enables: Readonly<Record<EnabledClass, Enable>>;
  /** When anything last came from the desk, monotonic seconds; NaN before that. */
  deskHeardS: number;
  deskLost: boolean;
  /** Address from which the desk, and the enable of each class, was last heard. */
  deskFrom: string | undefined;
  readonly enablesFrom: Record<EnabledClass, string | undefined>;
  /** What the events have said of all this; and why, and by whom, the last change was ordered. */
  readonly said: { allStopped: boolean; deskLost: boolean };
  cause: OperatorCause;
  by: string | undefined;
}

export function createOrders(): Orders {
  return {
    sinceS: Number.NaN,
    allStopped: false,
    enables: Object.fromEntries(ENABLED_CLASSES.map(one => [one, createEnable()])) as Readonly<
      Record<EnabledClass, Enable>
    >,
    deskHeardS: Number.NaN,
    deskLost: false,
    deskFrom: undefined,
    enablesFrom: { atmospheric: undefined, strobe: undefined, laser: undefined },
    said: { allStopped: false, deskLost: false },
    cause: 'command',
    by: undefined,
  };
}

/**
 * Takes an order as it comes in, whatever its time tag says: a stop does not wait. What it changes is told
 * in the next tick, so that a flood of orders is no flood of events.
 * @param from address of the sender
 */
export function take(
  state: EngineState,
  order: Order,
  nowS: number,
  from: string | undefined,
): OrderRejectReason | 'unknown-performer' | undefined {
  const { orders } = state;
  orders.deskHeardS = nowS;
  orders.deskFrom = from;
  switch (order.kind) {
    case 'desk':
      return undefined;
    case 'enable':
      hearEnable(orders.enables[order.hazard], order.held, nowS);
      orders.enablesFrom[order.hazard] = from;
      return undefined;
    case 'stop':
    case 'resume':
      orders.cause = 'command';
      orders.by = from;
      return setStopped(state, order.performers, order.kind === 'stop');
    default:
      return unreachable(order);
  }
}

/** @param names none means everybody; where one is unknown the others are stopped all the same */
export function setStopped(
  state: EngineState,
  names: readonly string[],
  stopped: boolean,
): 'unknown-performer' | undefined {
  if (names.length === 0) {
    state.orders.allStopped = stopped;
    for (const performer of state.performers) performer.observation.stopped = stopped;
    return undefined;
  }
  let unknown = false;
  for (const name of names) {
    const performer = state.performers.find(one => one.name === name);
    if (performer === undefined) unknown = true;
    else performer.observation.stopped = stopped;
  }
  return unknown ? 'unknown-performer' : undefined;
}

/** Once a tick, before the watch: is the desk there, and what is there to tell? */
export function weighOrders(state: EngineState, nowS: number): void {
  const { orders, show } = state;
  if (Number.isNaN(orders.sinceS)) orders.sinceS = nowS;
  orders.deskLost = isDeskLost(show, orders, nowS);
  const required = show.operator?.desk === 'required';
  const stopped: string[] = [];
  const resumed: string[] = [];
  for (const performer of state.performers) {
    const { observation } = performer;
    observation.deskLost = required && orders.deskLost;
    if (observation.stopped === performer.saidStopped) continue;
    performer.saidStopped = observation.stopped;
    (observation.stopped ? stopped : resumed).push(performer.name);
  }
  const { said } = orders;
  const everybody = orders.allStopped;
  if (stopped.length > 0 || (everybody && !said.allStopped)) {
    state.events.push({ kind: 'stopped', performers: stopped, everybody, ...stops(state) });
  }
  if (resumed.length > 0 || (!everybody && said.allStopped)) {
    const now = stops(state);
    const nobody = !everybody && now.stillStopped.length === 0;
    state.events.push({ kind: 'resumed', performers: resumed, everybody: nobody, ...now });
  }
  said.allStopped = everybody;
  if (orders.deskLost !== said.deskLost) {
    said.deskLost = orders.deskLost;
    const by = orders.deskFrom === undefined ? {} : { by: orders.deskFrom };
    state.events.push({ kind: 'desk', lost: orders.deskLost, required, ...by });
  }
}

export function namesOfStopped({ performers }: EngineState): string[] {
  return performers.filter(one => one.observation.stopped).map(({ name }) => name);
}

function stops(state: EngineState) {
  const { cause, by, allStopped } = state.orders;
  return {
    cause,
    ...(by === undefined ? {} : { by }),
    stillStopped: namesOfStopped(state),
    stopOfEverybody: allStopped,
  };
}

function isDeskLost({ operator, watchdog }: Show, orders: Orders, nowS: number): boolean {
  if (operator === undefined) return false;
  switch (operator.desk) {
    case 'ignored':
      return false;
    case 'reported':
      // Until it was heard once, its time runs from the first tick.
      if (Number.isNaN(orders.deskHeardS)) orders.deskHeardS = nowS;
      return !(nowS - orders.deskHeardS <= watchdog.deskLost.afterS);
    case 'required':
      return !(nowS - orders.deskHeardS <= watchdog.deskLost.afterS);
    default:
      return unreachable(operator.desk);
  }
}
