import type { CueTarget } from '../../protocols/osc/orders.js';
import { hearEnable } from '../../safety/enable.js';
import { keptAwayBy } from '../../safety/watchdog.js';
import { followIn, type IdlePin, idlePinIn, unchosenIn } from '../../show/model/choosing-heads.js';
import type { Show } from '../../show/model/model.js';
import { unreachable } from '../../stage/unreachable.js';
import { type Actions, enterAgain } from '../cues/actions.js';
import { type Cues, comingOf, goToCue, hasMovedOn, turnMapping } from '../cues/cues.js';
import type { EngineEvent, Kept, KeptAway } from '../events/events.js';
import { namesOfStopped, type Orders, sendOff, sendOffHere, setStopped } from '../events/orders.js';
import type { Choices } from '../heads/chooser.js';
import type { KeepOuts } from '../heads/keep-out.js';
import { pinHead } from '../heads/pins.js';
import type { Fades } from '../light/fades.js';
import type { OffStage } from '../people/off-stage.js';
import type { Watched } from '../people/watch.js';
import type { Reception } from '../reports/receive.js';
import { putOn, type Roster, type RosterChange, takeOff } from '../reports/roster.js';
import type { Tracks } from '../reports/tracks.js';
import { type Whereabouts, whereaboutsOf } from '../reports/whereabouts.js';
import type { Lights } from '../values/lights.js';
import type { OperatorAction } from '../values/operator-action.js';
import { type Hazards, keptOff, keptOffOf } from './hazards.js';
import { type Highlight, keptDark, keptShut, orderHighlight } from './highlight.js';

/** What it changes, and what it reads. */
interface Operated {
  readonly show: Show;
  readonly roster: Roster;
  readonly orders: Orders;
  readonly cues: Cues;
  readonly reception: Reception;
  readonly tracks: Tracks;
  readonly offStage: OffStage;
  readonly highlight: Highlight;
  readonly lights: Lights;
  readonly watched: Watched;
  readonly choices: Choices;
  readonly actions: Actions;
  readonly keepOuts: KeepOuts;
  readonly fades: Fades;
  readonly hazards: Hazards;
}

const NO_CHANGES: readonly RosterChange[] = [];

/**
 * Carries out what people ask, in order; what can't be done is refused in an event that says why.
 * @returns the performers whose trackers changed
 */
export function operate(
  operated: Operated,
  actions: readonly OperatorAction[],
  nowS: number,
  events: EngineEvent[],
): readonly RosterChange[] {
  if (actions.length === 0) return NO_CHANGES;
  const { orders, cues } = operated;
  const changes: RosterChange[] = [];
  for (const action of actions) {
    const result = lateFor(action, nowS) ?? carryOut(operated, action, nowS);
    if (typeof result === 'string') {
      events.push({ kind: 'operator-refused', action, reason: result });
      continue;
    }
    changes.push(...result.changes);
    const { cause, by } = action;
    const asked = by === undefined ? { cause } : { cause, by };
    const { tracker, highlights, replaced, mapping, pinned } = result;
    if (pinned !== undefined) events.push({ kind: 'pin', ...pinned, ...asked });
    if (mapping !== undefined) events.push({ kind: 'mapping', ...mapping, ...asked });
    if (replaced !== undefined) {
      events.push({ kind: 'highlight', fixture: replaced, on: false, reason: 'replaced' });
    }
    if (highlights !== undefined) events.push({ kind: 'highlight', ...highlights, ...asked });
    // One order is one event, even if it takes the tracker from one performer and gives it to another.
    if (tracker !== undefined) events.push({ kind: 'tracker', ...tracker, ...asked });
    if (action.id === undefined) continue;
    events.push({
      kind: 'operator-done',
      action,
      changed: result.changed,
      ...(result.takenFrom === undefined ? {} : { takenFrom: result.takenFrom }),
      ...(result.idlePin === undefined ? {} : { idlePin: result.idlePin }),
      ...(result.unpinned === undefined ? {} : { unpinned: result.unpinned }),
      ...(result.pinWaits === true ? { pinWaits: true as const } : {}),
      ...(result.pinIsOffStage === true ? { pinIsOffStage: true as const } : {}),
      ...(result.pinIsDark === undefined ? {} : { pinIsDark: result.pinIsDark }),
      ...(result.notInCue === true ? { notInCue: true as const } : {}),
      ...keptAwayAfter(operated, action),
      ...result.kept,
      ...(result.areAllOff === true ? { areAllOff: true as const } : {}),
      ...result.whereabouts,
      ...cueNow(cues),
      stillStopped: namesOfStopped(orders),
      stopOfEverybody: orders.allStopped,
    });
  }
  return changes;
}

/** Which of the resumed performers who are on stage are not tracked well, as of the last tick. */
function keptAwayAfter(
  { orders, watched, show, roster }: Operated,
  action: OperatorAction,
): { readonly keptAway?: readonly KeptAway[] } {
  if (action.kind !== 'resume') return {};
  const keptAway = orders.names.flatMap((performer, p): KeptAway[] => {
    const one = watched.performers[p];
    const isResumed = action.performer === undefined || action.performer === performer;
    if (!isResumed || one === undefined || orders.stopped[p] === 1) return [];
    const cause = keptAwayBy(one.observation, show.watchdog);
    if (cause === undefined) return [];
    const wearsNone = !roster.trackers.some(tracker => tracker.performer === p);
    return [{ performer, cause, ...(wearsNone ? { wearsNone } : {}) }];
  });
  return keptAway.length === 0 ? {} : { keptAway };
}

/** The cue that is on, or coming. */
function cueNow(cues: Cues): { readonly cue?: string } {
  const name = cues.plans[comingOf(cues)]?.name;
  return name === undefined ? {} : { cue: name };
}

function noSuchCue({ plans }: Cues, to: CueTarget): string {
  if (plans.length === 0) return 'the show has no cues';
  return `the show has no cue "${typeof to === 'string' ? to : to.name}"`;
}

interface Done {
  readonly changed: boolean;
  readonly changes: readonly RosterChange[];
  /** Who wore the tracker until now. */
  readonly takenFrom?: string | undefined;
  /** What the event says of it. */
  readonly tracker?: {
    readonly tracker: string;
    readonly performer: string;
    readonly change: 'assigned' | 'unassigned';
    readonly takenFrom?: string;
  } & Whereabouts;
  readonly whereabouts?: Whereabouts;
  /** What the event says of it. */
  /** What was highlighted before, and ends. */
  readonly replaced?: string;
  readonly highlights?: { readonly fixture: string; readonly on: boolean } & Kept;
  /** For a pin that changes nothing in this cue. */
  readonly idlePin?: IdlePin;
  /** And for a pin to somebody who is not tracked now. */
  readonly pinWaits?: boolean;
  /** They are off stage. */
  readonly pinIsOffStage?: boolean;
  /** Title of the mapping by which the head follows, if an operator has turned it off. */
  readonly pinIsDark?: string;
  /** For a mapping turned on: the cue that is on, or coming on, does not name it. */
  readonly notInCue?: boolean;
  /** For a head that is unpinned in a cue in which it has no choice. */
  readonly unpinned?: IdlePin;
  /** For a highlight: the parts that don't show. For a held enable: what stays off. */
  readonly kept?: Kept;
  /** For a held enable: that is the whole class. */
  readonly areAllOff?: boolean;
  readonly mapping?: { readonly mapping: string; readonly off: boolean };
  readonly pinned?: { readonly fixture: string; readonly performer: string | undefined };
}

const CHANGED: Done = { changed: true, changes: NO_CHANGES };
const AS_IT_WAS: Done = { changed: false, changes: NO_CHANGES };

/** Sends them off stage, or on: from this tick. */
function sendAway(
  orders: Orders,
  { performers }: OffStage,
  action: Extract<OperatorAction, { kind: 'off' | 'on' }>,
): Done | string {
  const { performer, kind } = action;
  const away = action.kind === 'off' && action.away === true;
  const wanted = kind === 'on' ? 'on' : away ? 'away' : 'leaving';
  const whom = performers.filter(({ name }) => performer === undefined || name === performer);
  const changed = whom.some(({ state }) => (state === 'on') !== (kind === 'on'));
  const send = action.cause === 'restored' ? sendOff : sendOffHere;
  const refusal = send(orders, performer === undefined ? [] : [performer], wanted);
  if (refusal !== undefined) return `the show has no performer "${performer}"`;
  orders.cause = action.cause;
  orders.by = action.by;
  return changed ? CHANGED : AS_IT_WAS;
}

/** Highlights a fixture, or none. */
function light(
  operated: Operated,
  action: Extract<OperatorAction, { kind: 'highlight' }>,
  nowS: number,
): Done | string {
  const { highlight, lights, keepOuts, fades, show } = operated;
  const before = highlight.name;
  const changed = orderHighlight(highlight, action, operated, nowS);
  if (typeof changed === 'string') return changed;
  const dark = keptDark(highlight, keepOuts, fades, lights, show);
  const off = keptOff(operated, highlight.on, highlight.values, nowS);
  const shut = keptShut(highlight, lights);
  const kept: Kept = {
    ...(dark.length === 0 ? {} : { keptDark: dark }),
    ...(off.length === 0 ? {} : { keptOff: off }),
    ...(shut.length === 0 ? {} : { keptShut: shut }),
  };
  if (!changed) return { ...AS_IT_WAS, kept };
  const fixture = action.fixture ?? before ?? '';
  return {
    ...CHANGED,
    kept,
    ...(before === undefined || action.fixture === undefined ? {} : { replaced: before }),
    highlights: { fixture, on: action.fixture !== undefined, ...kept },
  };
}

/** Pins a head to a performer, or unpins it. */
function pin(
  { choices, cues, show, watched }: Operated,
  { fixture, performer }: Extract<OperatorAction, { kind: 'pin' }>,
): Done | string {
  const changed = pinHead(choices, fixture, performer);
  if (typeof changed === 'string') return changed;
  const idle =
    performer === undefined ? undefined : idlePinIn(show, fixture, performer, comingOf(cues));
  const unpinned = performer === undefined ? unchosenIn(show, fixture, comingOf(cues)) : undefined;
  const whom = show.performers.findIndex(({ name }) => name === performer);
  const by = followIn(show, fixture, comingOf(cues));
  const isDark = performer !== undefined && idle === undefined && cues.off[by] === 1;
  const said: Partial<Done> = {
    ...(isDark ? { pinIsDark: cues.titles[by] ?? '' } : {}),
    ...(idle === undefined ? {} : { idlePin: idle }),
    ...(unpinned === undefined ? {} : { unpinned }),
    pinWaits: watched.performers[whom]?.follows === false,
    pinIsOffStage: watched.performers[whom]?.offStage === true,
  };
  if (!changed) return { ...AS_IT_WAS, ...said };
  return { ...CHANGED, ...said, pinned: { fixture, performer } };
}

/** Turns a mapping off, or on again. */
function turn(cues: Cues, action: Extract<OperatorAction, { kind: 'mapping' }>): Done | string {
  const { mapping, off, cause } = action;
  const done = turnMapping(cues, mapping, off, cause === 'restored');
  if (done === undefined) return `the show has no mapping "${mapping}"`;
  const levels = cues.plans[comingOf(cues)]?.levels;
  const isInCue = cues.titles.some((title, i) => title === done.title && (levels?.[i] ?? 1) > 0);
  const notInCue = !off && !isInCue;
  return done.changed
    ? { ...CHANGED, notInCue, mapping: { mapping: done.title, off } }
    : { ...AS_IT_WAS, notInCue };
}

/** @returns why it is too late; undefined if it came in time */
function lateFor({ untilS }: OperatorAction, nowS: number): string | undefined {
  if (untilS === undefined || nowS <= untilS) return undefined;
  return `it reached the engine ${(nowS - untilS).toFixed(1)} s too late, as that was starting or stood still, and nothing was done; look at what is on now, and ask again`;
}

/** @returns the outcome, or why not, in a technician's words */
function carryOut(operated: Operated, action: OperatorAction, nowS: number): Done | string {
  const { roster, orders, cues, reception, tracks, offStage } = operated;
  if (action.kind === 'off' || action.kind === 'on') return sendAway(orders, offStage, action);
  if (action.kind === 'highlight') return light(operated, action, nowS);
  if (action.kind === 'mapping') return turn(cues, action);
  if (action.kind === 'pin') return pin(operated, action);
  if (action.kind === 'entered') {
    const changed = enterAgain(operated.actions, action.condition);
    if (changed === undefined)
      return `nobody is told when a condition "${action.condition}" is left`;
    return changed ? CHANGED : AS_IT_WAS;
  }
  if (action.kind === 'hold') {
    const { held, by = '', hand } = action;
    const before = orders.enables[action.hazard].heardS;
    const whose = hand === undefined ? by : `${by} ${hand}`;
    hearEnable(orders.enables[action.hazard], held, nowS, by, whose);
    orders.enablesFrom[action.hazard] = action.by;
    const done = Number.isNaN(before) === held ? CHANGED : AS_IT_WAS;
    if (!held) return done;
    const { keptOff, areAllOff } = keptOffOf(operated, action.hazard, nowS);
    return keptOff.length === 0 ? done : { ...done, kept: { keptOff }, areAllOff };
  }
  if (action.kind === 'safe-look') {
    const changed = orders.safeLookHeld !== action.held;
    orders.safeLookHeld = action.held;
    return changed ? CHANGED : AS_IT_WAS;
  }
  if (action.kind === 'cue') {
    const late = hasMovedOn(cues, action.from);
    if (late !== undefined) return late;
    const changed = goToCue(cues, action.to, action.cause, action.by);
    if (changed === undefined) return noSuchCue(cues, action.to);
    return changed ? CHANGED : AS_IT_WAS;
  }
  if (action.kind === 'stop' || action.kind === 'resume') {
    const names = action.performer === undefined ? [] : [action.performer];
    const before = orders.allStopped;
    const stopped = namesOfStopped(orders).length;
    const { cause, by } = action;
    const stops = action.kind === 'stop';
    const toldByMain = action.kind === 'stop' && action.toldByMain === true;
    const refusal = setStopped(orders, names, { stops, cause, by, toldByMain });
    if (refusal !== undefined) return `the show has no performer "${action.performer}"`;
    const changed = orders.allStopped !== before || namesOfStopped(orders).length !== stopped;
    return changed ? CHANGED : AS_IT_WAS;
  }
  const tracker = roster.byId.get(action.tracker);
  if (tracker === undefined) {
    return `the show has no tracker "${action.tracker}": it is worn by no performer and is not among the spares`;
  }
  const takenFrom = orders.names[tracker.performer];
  const taken = takenFrom === undefined ? {} : { takenFrom };
  switch (action.kind) {
    case 'assign': {
      const performer = orders.names.indexOf(action.performer);
      if (performer < 0) return `the show has no performer "${action.performer}"`;
      if (tracker.performer === performer) return AS_IT_WAS;
      // For a restored order, where it was before no longer matters.
      const whereabouts =
        action.cause === 'restored'
          ? {}
          : whereaboutsOf(reception, tracks, tracker, performer, nowS);
      const off = takeOff(roster, tracker);
      const on = putOn(roster, tracker, performer);
      return {
        changed: true,
        changes: off === undefined ? [on] : [off, on],
        tracker: {
          tracker: tracker.id,
          performer: action.performer,
          change: 'assigned',
          ...taken,
          ...whereabouts,
        },
        ...taken,
        whereabouts,
      };
    }
    case 'unassign': {
      const off = takeOff(roster, tracker);
      if (off === undefined || takenFrom === undefined) return AS_IT_WAS;
      return {
        changed: true,
        changes: [off],
        tracker: { tracker: tracker.id, performer: takenFrom, change: 'unassigned' },
        takenFrom,
      };
    }
    default:
      return unreachable(action);
  }
}
