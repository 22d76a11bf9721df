import type { ActionPlan, Show } from '../../show/model/model.js';
import { truthIn } from '../../signals/conditions.js';
import { NO, YES } from '../../signals/kleene.js';
import type { EngineEvent } from '../events/events.js';
import type { Counters } from '../values/counters.js';
import type { Cues } from './cues.js';
import type { Signals } from './signals.js';

/** Most times one action is sent in any second; the rest are only counted. */
const MOST_A_SECOND = 10;

/** Messages for other machines, as values: the shell sends them. */
export interface Actions {
  readonly all: readonly Trigger[];
  /** The cue that was on at the end of the last tick; -1 in a show without cues, and before the first tick. */
  cue: number;
  readonly counters: Pick<Counters, 'actionsSent' | 'actionsHeld'>;
}

interface Trigger {
  readonly plan: ActionPlan;
  /** For each condition: it was known to be false in the last tick. */
  wasNo: boolean;
  /** For each condition: it was entered, and has not been left since. */
  entered: boolean;
  /** Times of the last sends, the latest at the end; monotonic seconds. */
  readonly sentS: number[];
}

export function createActions({ actions }: Show, counters: Actions['counters']): Actions {
  const all = actions.map((plan): Trigger => ({ plan, wasNo: false, entered: false, sentS: [] }));
  return { all, cue: -1, counters };
}

/** Conditions, the cue that is on -> messages to send, as events. */
export function act(
  actions: Actions,
  { network: { conditions } }: Signals,
  cues: Cues,
  nowS: number,
  events: EngineEvent[],
): void {
  const before = actions.cue;
  actions.cue = cues.on;
  // A cue that is resumed after a restart does not count as entered.
  const changed = before >= 0 && before !== cues.on && cues.cause !== 'restored';
  for (const trigger of actions.all) {
    const { plan } = trigger;
    const isDue =
      plan.of === 'cue'
        ? changed && plan.index === (plan.on === 'enter' ? cues.on : before)
        : turns(trigger, truthIn(conditions, plan.index), events);
    if (isDue) send(actions, trigger, nowS, events);
  }
}

/**
 * A condition is entered when it goes from no to yes. From unknown to yes is no entry: nobody knows how long it has
 * been true, and the end of a loss must start nothing. It is left as soon as it is known to be false.
 */
function turns(trigger: Trigger, truth: number, events: EngineEvent[]): boolean {
  const { wasNo, entered, plan } = trigger;
  trigger.wasNo = truth === NO;
  const turnsTo = truth === YES && wasNo ? true : truth === NO && entered ? false : undefined;
  if (turnsTo === undefined) return false;
  // If nobody is to be told when it is left, nothing has to be remembered.
  if (plan.on === 'leave' && entered !== turnsTo) {
    events.push({ kind: 'entered', condition: plan.name, entered: turnsTo });
  }
  trigger.entered = turnsTo;
  return (plan.on === 'enter') === turnsTo;
}

/**
 * It was entered before a restart.
 * @returns whether this changes anything; undefined: there is none of that name, or nobody is to be told when it is left
 */
export function enterAgain({ all }: Actions, condition: string): boolean | undefined {
  let changed: boolean | undefined;
  for (const one of all) {
    const { plan, entered } = one;
    if (plan.of !== 'condition' || plan.on !== 'leave' || plan.name !== condition) continue;
    changed = changed === true || !entered;
    one.entered = true;
  }
  return changed;
}

function send(
  { counters }: Actions,
  { plan, sentS }: Trigger,
  nowS: number,
  events: EngineEvent[],
): void {
  while (sentS.length > 0 && nowS - (sentS[0] as number) >= 1) sentS.shift();
  if (sentS.length >= MOST_A_SECOND) {
    counters.actionsHeld += 1;
    return;
  }
  sentS.push(nowS);
  counters.actionsSent += 1;
  const { of, name, on, receiver, address, args } = plan;
  events.push({ kind: 'action', of, name, on, receiver, address, args });
}
