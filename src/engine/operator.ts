import { unreachable } from '../stage/unreachable.js';
import type { TrackerFit } from '../tracking/options.js';
import { beginAfresh, speaksFor, withTrackers } from '../tracking/trackers.js';
import type { OperatorAction } from './operator-action.js';
import { namesOfStopped, setStopped } from './orders.js';
import { type EngineState, NOBODY, type PerformerState, type Wearer } from './state.js';
import { forgetContact } from './worn.js';

/** A tracker that was not heard for this long doesn't speak for its performer's place, s. */
const SPEAKS_WITHIN_S = 1;

/** Carries out what people want, in order; what can't be done is refused in an event that says why. */
export function operate(
  state: EngineState,
  actions: readonly OperatorAction[],
  nowS: number,
): void {
  for (const action of actions) {
    const result = carryOut(state, action, nowS);
    if (typeof result === 'string') {
      state.events.push({ kind: 'operator-refused', action, reason: result });
    } else if (action.id !== undefined) {
      const { orders } = state;
      state.events.push({
        kind: 'operator-done',
        action,
        changed: result.changed,
        ...(result.takenFrom === undefined ? {} : { takenFrom: result.takenFrom }),
        stillStopped: namesOfStopped(state),
        stopOfEverybody: orders.allStopped,
      });
    }
  }
}

interface Done {
  readonly changed: boolean;
  readonly takenFrom?: string | undefined;
}

const CHANGED: Done = { changed: true };
const AS_IT_WAS: Done = { changed: false };

/** @returns what has come of it, or why not, in a technician's words */
function carryOut(state: EngineState, action: OperatorAction, nowS: number): Done | string {
  if (action.kind === 'stop' || action.kind === 'resume') {
    const { orders } = state;
    const names = action.performer === undefined ? [] : [action.performer];
    const before = orders.allStopped;
    const stopped = namesOfStopped(state).length;
    const refusal = setStopped(state, names, action.kind === 'stop');
    if (refusal !== undefined) return `the show has no performer "${action.performer}"`;
    const changed = orders.allStopped !== before || namesOfStopped(state).length !== stopped;
    if (!changed) return AS_IT_WAS;
    orders.cause = action.cause;
    orders.by = action.by;
    return CHANGED;
  }
  const tracker = state.wearers.get(action.tracker);
  if (tracker === undefined) {
    return `the show has no tracker "${action.tracker}": it is worn by no performer and is not among the spares`;
  }
  switch (action.kind) {
    case 'assign': {
      const performer = state.performers.findIndex(one => one.name === action.performer);
      if (performer < 0) return `the show has no performer "${action.performer}"`;
      if (tracker.performer === performer) return AS_IT_WAS;
      const takenFrom = state.performers[tracker.performer]?.name;
      takeOff(state, tracker, nowS);
      putOn(state, tracker, performer, nowS);
      tell(state, action, action.performer, takenFrom);
      return { changed: true, takenFrom };
    }
    case 'unassign': {
      if (tracker.performer === NOBODY) return AS_IT_WAS;
      const takenFrom = state.performers[tracker.performer]?.name;
      takeOff(state, tracker, nowS);
      if (takenFrom !== undefined) tell(state, action, takenFrom);
      return { changed: true, takenFrom };
    }
    default:
      return unreachable(action);
  }
}

function takeOff(state: EngineState, tracker: Wearer, nowS: number): void {
  const performer = state.performers[tracker.performer];
  if (performer === undefined) return;
  const worn = wornBy(state, tracker.performer);
  const rest = worn.filter(one => one !== tracker);
  refit(performer, rest, worn);
  // What it said last may be all that the track knows: who is left must not be drawn there.
  if (!isSpokenFor(performer, rest, nowS)) beginAfresh(performer.track);
  tracker.performer = NOBODY;
  tracker.place = -1;
  forgetContact(tracker, nowS);
}

function putOn(state: EngineState, tracker: Wearer, index: number, nowS: number): void {
  const performer = state.performers[index] as PerformerState;
  const worn = wornBy(state, index);
  // Nobody else knows where they are now: its first report is a new beginning, not a movement.
  if (!isSpokenFor(performer, worn, nowS)) beginAfresh(performer.track);
  tracker.performer = index;
  forgetContact(tracker, nowS);
  refit(performer, [...worn, tracker], worn);
}

type TrackerAction = Extract<OperatorAction, { kind: 'assign' | 'unassign' }>;

/** One order is one event, though it takes the tracker from one performer and gives it to another. */
function tell(
  state: EngineState,
  { kind, tracker, cause, by }: TrackerAction,
  performer: string,
  takenFrom?: string,
): void {
  state.events.push({
    kind: 'tracker',
    tracker,
    performer,
    change: kind === 'assign' ? 'assigned' : 'unassigned',
    ...(takenFrom === undefined ? {} : { takenFrom }),
    cause,
    ...(by === undefined ? {} : { by }),
  });
}

/** In the order of their places in the track. */
function wornBy(state: EngineState, performer: number): Wearer[] {
  return [...state.wearers.values()]
    .filter(one => one.performer === performer)
    .sort((a, b) => a.place - b.place);
}

function refit(
  performer: PerformerState,
  worn: readonly Wearer[],
  before: readonly Wearer[],
): void {
  const fits = worn.map(({ fit }): TrackerFit => fit);
  const from = worn.map(one => (before.includes(one) ? one.place : undefined));
  performer.track = withTrackers(performer.track, fits, from);
  worn.forEach((one, place) => {
    one.place = place;
  });
}

function isSpokenFor({ track }: PerformerState, worn: readonly Wearer[], nowS: number): boolean {
  return worn.some(({ place }) => speaksFor(track, place, nowS, SPEAKS_WITHIN_S));
}
