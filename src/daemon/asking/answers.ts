import {
  allOffInWords,
  keptInWords,
  listed,
  whereaboutsInWords,
} from '../../engine/events/event-words.js';
import type { EngineEvent } from '../../engine/events/events.js';
import type { OperatorAction } from '../../engine/values/operator-action.js';
import type { CueTarget } from '../../protocols/osc/orders.js';
import { titleOf } from '../../safety/watchdog-table.js';
import { idlePinInWords } from '../../show/model/choosing-heads.js';
import type { Labels } from '../../show/model/labels.js';
import { unreachable } from '../../stage/unreachable.js';
import type { Status } from './status.js';

/** The answer to a request of `lampwright tell`. */
export interface Answer {
  /** `not kept`: it holds now, and a restart of the daemon would lose it. */
  readonly outcome:
    | 'done'
    | 'already so'
    | 'refused'
    | 'incomplete'
    | 'not kept'
    | 'failed'
    | 'no daemon';
  /** It is done and saved. */
  readonly ok: boolean;
  readonly text: string;
  /** Who is stopped after it, and whether the stop of everybody holds. */
  readonly stops?: Stops;
  /** Who wore the tracker until now. */
  readonly takenFrom?: string;
  readonly takenFromLabel?: string;
  /** After `assign`: how far the tracker was from where the performer was last tracked, metres. */
  readonly distanceM?: number;
  /** After `assign`: nothing came from the tracker lately. */
  readonly unheard?: true;
  /** Names of the outputs that the order does not reach, as other machines send them. */
  readonly elsewhere?: readonly string[];
  /** What is wrong with a show that was not loaded, as `check` prints it. */
  readonly problems?: readonly string[];
  readonly status?: Status;
}

interface Stops {
  readonly everybody: boolean;
  readonly performers: readonly string[];
  /** What people call them, in the same order. */
  readonly performerLabels: readonly string[];
}

type Done = Extract<EngineEvent, { kind: 'operator-done' }>;

/**
 * The result of an action, and what holds now, in one sentence.
 * @param here ' here': of a stop or resume that does not reach the light which other machines send; empty: it does
 */
export function answerInWords(done: Done, labels: Labels, here = ''): string {
  const { action, changed } = done;
  const takenFrom = done.takenFrom && labels.performer(done.takenFrom);
  switch (action.kind) {
    case 'assign': {
      const { tracker } = action;
      const performer = labels.performer(action.performer);
      if (!changed) return `${performer} is already wearing tracker ${tracker}.`;
      const from = takenFrom === undefined ? '' : ` taken from ${takenFrom} and`;
      return `Tracker ${tracker}${from} given to ${performer}${whereaboutsInWords(done, performer)}.`;
    }
    case 'unassign':
      return changed
        ? `Tracker ${action.tracker} taken from ${takenFrom}. Nobody is wearing it now.`
        : `Nobody is wearing tracker ${action.tracker}.`;
    case 'stop':
      return `${whom(action.performer, labels)} ${changed ? 'stopped' : 'is already stopped'}${here}.${restOf(done, labels)}`;
    case 'off':
    case 'on':
      return stageInWords(whom(action.performer, labels), action, changed);
    case 'resume':
      return `${resumedInWords(action.performer && labels.performer(action.performer), changed)}${here}.${keptAwayInWords(done, labels)}${restOf(done, labels)}`;
    case 'highlight':
      return highlightAnswer(done, action.fixture, labels);
    case 'cue':
      return cueInWords(action.to, labels.cue(done.cue ?? ''), changed);
    case 'pin':
      return pinAnswer(action, labels, done);
    case 'mapping':
      return mappingInWords(action.mapping, action.off, done);
    case 'entered':
      return `Condition ${action.condition} ${changed ? 'was entered before' : 'is known to be entered'}.`;
    case 'safe-look':
      return action.held ? 'All light is at the safe look.' : 'The engine has the light.';
    case 'hold':
      if (!action.held) return `The enable of ${action.hazard} is released.`;
      return done.areAllOff === true
        ? `Refused: ${allOffInWords(done.keptOff ?? [], labels.fixture)}.`
        : `The enable of ${action.hazard} is held${keptInWords(done, labels.fixture)}.`;
    default:
      return unreachable(action);
  }
}

function pinAnswer(
  { fixture, performer }: Extract<OperatorAction, { kind: 'pin' }>,
  labels: Labels,
  { changed, idlePin, pinWaits, pinIsOffStage, pinIsDark, unpinned }: Done,
): string {
  const head = labels.fixture(fixture);
  if (performer === undefined) {
    if (!changed) return `${head} is pinned to nobody.`;
    if (unpinned === undefined) return `${head} chooses by itself again.`;
    const { mapping } = unpinned;
    return `${head} is no longer pinned. In this cue it ${mapping === undefined ? 'follows nobody' : `follows by the mapping "${mapping}"`}.`;
  }
  const who = labels.performer(performer);
  if (idlePin !== undefined) {
    const already = changed ? '' : ' already';
    return `${head} is pinned to ${who}${already}, but not in this cue: here ${idlePinInWords(idlePin, who)}.`;
  }
  if (pinIsDark !== undefined) {
    const already = changed ? '' : ' already';
    return `${head} is pinned to ${who}${already}, but lights nobody: the mapping "${pinIsDark}" is off.`;
  }
  if (pinWaits === true) {
    const already = changed ? '' : ' is pinned already, and';
    const where = pinIsOffStage === true ? 'off stage' : 'not tracked now';
    return `${head}${already} waits dark for ${who}, who is ${where}, until it is unpinned.`;
  }
  return changed
    ? `${head} goes to ${who}, and stays there until it is unpinned.`
    : `${head} is pinned to ${who} already.`;
}

function mappingInWords(mapping: string, off: boolean, { changed, notInCue }: Done): string {
  const isOnAlready = changed ? 'on' : 'on already';
  if (notInCue === true) return `Mapping ${mapping} is ${isOnAlready}, but not in this cue.`;
  if (!changed) return `Mapping ${mapping} is ${off ? 'off' : 'on'} already.`;
  return off ? `Mapping ${mapping} goes off.` : `Mapping ${mapping} acts again.`;
}

function highlightAnswer(done: Done, fixture: string | undefined, labels: Labels): string {
  if (fixture === undefined) {
    return done.changed ? 'The highlight is off.' : 'No fixture is highlighted.';
  }
  const which = labels.fixture(fixture);
  const kept = keptInWords({ ...done, fixture }, labels.fixture);
  if (!done.changed) return `${which} is highlighted for another minute${kept}.`;
  return kept === ''
    ? `${which} is highlighted for a minute; a stop${done.action.kind === 'highlight' && done.action.whileTracked === true ? '' : ', or somebody who is tracked,'} ends it.`
    : `${which} is highlighted for a minute${kept}.`;
}

function cueInWords(to: CueTarget, cue: string, changed: boolean): string {
  if (changed) return `Cue ${cue} comes on.`;
  if (to === 'next') return `Cue ${cue} is on already; it is the last.`;
  return `Cue ${cue} is on already${to === 'back' ? '; it is the first' : ''}.`;
}

/** At the beginning of a sentence. */
export function whom(performer: string | undefined, labels: Labels): string {
  return performer === undefined ? 'Everybody' : labels.performer(performer);
}

function stageInWords(
  who: string,
  { kind, performer }: Extract<OperatorAction, { kind: 'off' | 'on' }>,
  changed: boolean,
): string {
  if (kind === 'on') return changed ? `${who} counts as on stage.` : `${who} is not off stage.`;
  if (!changed) return `${who} is off stage already.`;
  // True also for those who are already gone: they have left the stage.
  const whose = performer === undefined ? 'Each comes' : 'They come';
  return `${who} counts as off stage. ${whose} back by leaving the stage and coming on again.`;
}

function resumedInWords(performer: string | undefined, changed: boolean): string {
  if (performer === undefined) return changed ? 'Everybody resumed' : 'Nobody is stopped';
  return changed ? `${performer} resumed` : `${performer} is not stopped`;
}

/** Whose light does not come back after the resume, and why; empty if everybody's does. */
function keptAwayInWords({ keptAway = [] }: Done, labels: Labels): string {
  const byCause = new Map<string, string[]>();
  for (const { performer, cause, wearsNone } of keptAway) {
    const why = wearsNone === true ? 'no tracker is worn' : titleOf(cause);
    byCause.set(why, [...(byCause.get(why) ?? []), labels.performer(performer)]);
  }
  if (byCause.size === 0) return '';
  const all = [...byCause].map(([why, names]) => `${listed(names)} (${why})`);
  return ` Not back yet: ${all.join('; ')}.`;
}

/** Who else is stopped; empty if nobody is. */
function restOf({ action, stillStopped, stopOfEverybody }: Done, labels: Labels): string {
  if (action.kind !== 'stop' && action.kind !== 'resume') return '';
  if (action.performer === undefined) return '';
  return stopsInWords(
    stillStopped.filter(name => name !== action.performer).map(labels.performer),
    stopOfEverybody,
  );
}

/** What is stopped besides what the previous sentence has named. */
export function stopsInWords(others: readonly string[], everybody: boolean): string {
  const names = others.length === 0 ? '' : ` Still stopped: ${listed(others)}.`;
  return everybody ? `${names} Hazardous outputs stay off until everybody is resumed.` : names;
}
