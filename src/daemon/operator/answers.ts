import type { EngineEvent } from '../../engine/events.js';
import { unreachable } from '../../stage/unreachable.js';
import type { Status } from '../status/status.js';

/** What a request of `lampwright tell` is answered. */
export interface Answer {
  /** `not kept`: it holds now, and a restart of the daemon would lose it. */
  readonly outcome: 'done' | 'already so' | 'refused' | 'not kept' | 'failed' | 'no daemon';
  /** It is so now, and stays so. */
  readonly ok: boolean;
  readonly text: string;
  /** Who is stopped after it, and whether the stop of everybody holds. */
  readonly stops?: { readonly everybody: boolean; readonly performers: readonly string[] };
  /** Who wore the tracker until now. */
  readonly takenFrom?: string | undefined;
  /** What is wrong with a show that was not loaded, as `check` prints it. */
  readonly problems?: readonly string[];
  readonly status?: Status;
}

type Done = Extract<EngineEvent, { kind: 'operator-done' }>;

/** What has come of an action, and what is so now, in one sentence. */
export function answerInWords(done: Done): string {
  const { action, changed, takenFrom } = done;
  switch (action.kind) {
    case 'assign': {
      const { tracker, performer } = action;
      if (!changed) return `${performer} wears tracker ${tracker} already.`;
      return takenFrom === undefined
        ? `tracker ${tracker} given to ${performer}.`
        : `tracker ${tracker} taken from ${takenFrom} and given to ${performer}.`;
    }
    case 'unassign':
      return changed
        ? `tracker ${action.tracker} taken from ${takenFrom}: nobody wears it.`
        : `nobody wears tracker ${action.tracker} already.`;
    case 'stop':
      return `${action.performer ?? 'everybody'} ${changed ? 'stopped' : 'is stopped already'}.${restOf(done)}`;
    case 'resume':
      return `${resumedInWords(action.performer, changed)}.${restOf(done)}`;
    default:
      return unreachable(action);
  }
}

function resumedInWords(performer: string | undefined, changed: boolean): string {
  if (performer === undefined) return changed ? 'everybody resumed' : 'nobody is stopped';
  return changed ? `${performer} resumed` : `${performer} is not stopped`;
}

/** Who else is stopped; empty where nobody is. */
function restOf({ action, stillStopped, stopOfEverybody }: Done): string {
  if (action.kind !== 'stop' && action.kind !== 'resume') return '';
  if (action.performer === undefined) return '';
  return stopsInWords(
    stillStopped.filter(name => name !== action.performer),
    stopOfEverybody,
  );
}

/** What is stopped beside what the sentence before has named. */
export function stopsInWords(others: readonly string[], everybody: boolean): string {
  const names = others.length === 0 ? '' : ` Still stopped: ${others.join(', ')}.`;
  return everybody ? `${names} Hazardous outputs stay off until everybody is resumed.` : names;
}
