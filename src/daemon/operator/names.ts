import type { OperatorAction } from '../../engine/operator-action.js';
import type { PerformerPlan, Show } from '../../show/model.js';
import { suggestion } from '../../show/problem.js';
import { enumerated } from '../../stage/enumerated.js';

/** The action with the performer's name where their label was given, or their name in other letters. */
export function withNames(action: OperatorAction, show: Show): OperatorAction {
  if (action.kind === 'unassign' || action.performer === undefined) return action;
  const name = nameOf(action.performer, show.performers);
  return name === undefined ? action : { ...action, performer: name };
}

/** What would be right where a name is none; begins with a space, and is empty where all are known. */
export function nameHint(action: OperatorAction, show: Show): string {
  const names = show.performers.map(({ name }) => name);
  const trackers = [...show.performers.flatMap(one => one.trackers), ...show.spares].map(
    ({ id }) => id,
  );
  const performer = action.kind === 'unassign' ? undefined : action.performer;
  const isPerformer = performer === undefined || names.includes(performer);
  if (action.kind === 'assign' || action.kind === 'unassign') {
    const { tracker } = action;
    if (performer !== undefined && trackers.includes(performer) && nameOf(tracker, show.performers))
      return ` The tracker comes first: assign ${performer} ${tracker}.`;
    if (!trackers.includes(tracker))
      return `${suggestion(tracker, trackers)} The show has ${enumerated(trackers)}.`;
  }
  return isPerformer ? '' : `${suggestion(performer, names)} The show has ${enumerated(names)}.`;
}

/** By name, by label, or by one of them in other letters, where that is one performer's only. */
function nameOf(word: string, performers: readonly PerformerPlan[]): string | undefined {
  const plain = (text: string) => text.trim().toLowerCase().replace(/\s+/g, ' ');
  const found =
    performers.find(({ name }) => name === word) ??
    only(performers.filter(({ label }) => label === word)) ??
    only(performers.filter(one => [one.name, one.label].map(plain).includes(plain(word))));
  return found?.name;
}

function only<T>(list: readonly T[]): T | undefined {
  return list.length === 1 ? list[0] : undefined;
}
