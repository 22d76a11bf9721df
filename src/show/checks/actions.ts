import { type Finding, type Path, suggestion } from '../problems/problem.js';
import type { ActionFile } from '../schema/actions.js';
import type { ShowFile } from '../schema/schema.js';
import { kindOf } from './outputs.js';

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

/** One host, or a group; also for positions. */
export function checkReceivers({ receivers }: ShowFile): Finding[] {
  return Object.entries(receivers).flatMap(([name, { address }]): Finding[] => {
    const kind = kindOf(address);
    if (kind === undefined || kind === 'a multicast group') return [];
    const message = `receiver "${name}" is at ${address}, ${kind}; write the address of a host, or a multicast group.`;
    return [{ code: 'bad-value', message, path: ['receivers', name, 'address'] }];
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
