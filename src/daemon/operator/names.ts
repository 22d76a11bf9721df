import type { OperatorAction } from '../../engine/operator-action.js';
import type { Show } from '../../show/model.js';
import { findNamed, nameAdvice } from '../../show/names.js';
import { suggestion } from '../../show/problem.js';
import { enumerated } from '../../stage/enumerated.js';

/** The action with the name of the performer, or the cue, where the label was given, or the name in other letters. */
export function withNames(action: OperatorAction, show: Show): OperatorAction {
  if (action.kind === 'cue') {
    const { to } = action;
    const cue = typeof to === 'string' ? undefined : findNamed(to.name, show.cues);
    return cue === undefined ? action : { ...action, to: { name: cue.name } };
  }
  if (action.kind === 'unassign' || action.performer === undefined) return action;
  const found = findNamed(action.performer, show.performers);
  return found === undefined ? action : { ...action, performer: found.name };
}

/** What would be right where a name is none; begins with a space, and is empty where all are known. */
export function nameHint(action: OperatorAction, show: Show): string {
  if (action.kind === 'cue') {
    const { to } = action;
    return typeof to === 'string' || show.cues.length === 0 ? '' : nameAdvice(to.name, show.cues);
  }
  const names = show.performers.map(({ name }) => name);
  const trackers = [...show.performers.flatMap(one => one.trackers), ...show.spares].map(
    ({ id }) => id,
  );
  const performer = action.kind === 'unassign' ? undefined : action.performer;
  const isPerformer = performer === undefined || names.includes(performer);
  if (action.kind === 'assign' || action.kind === 'unassign') {
    const { tracker } = action;
    if (
      performer !== undefined &&
      trackers.includes(performer) &&
      findNamed(tracker, show.performers)
    )
      return ` The tracker comes first: assign ${performer} ${tracker}.`;
    if (!trackers.includes(tracker))
      return `${suggestion(tracker, trackers)} The show has ${enumerated(trackers)}.`;
  }
  return isPerformer ? '' : nameAdvice(performer, show.performers);
}
