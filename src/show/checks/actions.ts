import { type Finding, type Path, suggestion } from '../problem.js';
import type { ShowFile } from '../schema.js';
import type { ActionFile } from '../schema-actions.js';

/** What an action refers to. */
export function checkActions(show: ShowFile): Finding[] {
  return show.actions.flatMap((action, index) => {
    const path = ['actions', index];
    return [
      ...checkTrigger(action, path),
      ...unknown(show.conditions, 'condition', action.condition, [...path, 'condition']),
      ...unknown(show.cues, 'cue', action.cue, [...path, 'cue']),
      ...unknown(show.receivers, 'receiver', action.send, [...path, 'send']),
    ];
  });
}

function checkTrigger({ condition, cue }: ActionFile, path: Path): Finding[] {
  if ((condition === undefined) !== (cue === undefined)) return [];
  const has = cue === undefined ? 'neither a condition nor a cue' : 'a condition and a cue';
  return [{ code: 'action-trigger', message: `it has ${has}; give it one of the two.`, path }];
}

function unknown(
  there: Readonly<Record<string, unknown>>,
  what: string,
  name: string | undefined,
  path: Path,
): Finding[] {
  if (name === undefined || Object.hasOwn(there, name)) return [];
  const names = Object.keys(there);
  const known = names.length === 0 ? ` The show has no ${what}s.` : suggestion(name, names);
  return [{ code: 'unknown-name', message: `there is no ${what} "${name}".${known}`, path }];
}
