import type { PinOrder } from '../../protocols/osc/orders.js';
import type { FixturePlan } from '../../show/model/model.js';
import { findNamed } from '../../show/problems/names.js';
import type { EngineEvent } from '../events/events.js';
import { noteRefusedPin, type Orders } from '../events/orders.js';
import type { Choices } from './chooser.js';

/**
 * Pins a head to somebody whatever its rules say, or unpins it (undefined).
 * @returns whether that changes anything; or why it can't be done
 */
export function pinHead(
  { all }: Choices,
  fixture: string,
  performer: string | undefined,
): boolean | string {
  const mine = all.filter(
    ({ plan, choice }) => plan.name === fixture && choice.rule.kind !== 'middle',
  );
  if (mine.length === 0) {
    return `"${fixture}" is not a head that chooses whom it follows (follow by nearest, first or share)`;
  }
  const places = mine.map(({ follows }) =>
    performer === undefined ? -1 : follows.findIndex(({ name }) => name === performer),
  );
  if (performer !== undefined && places.every(place => place < 0)) {
    return `"${fixture}" can't follow "${performer}": its mapping doesn't list them`;
  }
  const changed = mine.some(({ pinned }, i) => pinned !== places[i]);
  for (const [i, one] of mine.entries()) one.pinned = places[i] as number;
  return changed;
}

/**
 * An order over the network: pins heads from this tick on, or unpins them. Reported by `tellPins`.
 * @param from address of the sender
 */
export function orderPins(
  choices: Choices,
  orders: Orders,
  { pins, repeated }: PinOrder,
  nowS: number,
  from: string | undefined,
): 'pin-impossible' | undefined {
  const { all, pinned } = choices;
  const heads = [...new Set(all.map(({ plan }) => plan))];
  const by = from === undefined ? {} : { by: from };
  let refused: 'pin-impossible' | undefined;
  const named = new Set<FixturePlan>();
  for (const [head, whom] of pins) {
    const plan = findNamed(head, heads);
    const fixture = plan?.name ?? head;
    if (plan !== undefined) named.add(plan);
    const performer =
      whom === undefined ? undefined : (findNamed(whom, orders.performers)?.name ?? whom);
    const done = pinHead(choices, fixture, performer);
    if (typeof done === 'string') {
      const action = { kind: 'pin', fixture, performer, cause: 'command', ...by } as const;
      noteRefusedPin(orders, action, done, nowS);
      refused = 'pin-impossible';
    } else if (done) pinned.set(fixture, { performer, ...by });
  }
  if (repeated !== true) return refused;
  // The main machine names all of its pins.
  for (const { plan, pinned: is } of all) {
    if (is < 0 || named.has(plan)) continue;
    pinHead(choices, plan.name, undefined);
    pinned.set(plan.name, { performer: undefined, ...by });
  }
  return refused;
}

/** Reports what orders have changed since the last tick: a flood of them is no flood of events. */
export function tellPins({ pinned }: Choices, events: EngineEvent[]): void {
  if (pinned.size === 0) return;
  for (const [fixture, to] of pinned)
    events.push({ kind: 'pin', fixture, ...to, cause: 'command' });
  pinned.clear();
}
