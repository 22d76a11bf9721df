import type { OperatorAction } from '../../engine/values/operator-action.js';
import { ENABLED_CLASSES } from '../../protocols/osc/orders.js';
import { choosingHeads } from '../../show/model/choosing-heads.js';
import { fixtureNames } from '../../show/model/fixture-groups.js';
import { mappingTitle } from '../../show/model/mapping-words.js';
import type { Show } from '../../show/model/model.js';
import { findNamed, nameAdvice } from '../../show/problems/names.js';
import { suggestion } from '../../show/problems/problem.js';
import { enumerated } from '../../stage/enumerated.js';
import type { Request } from '../asking/request-words.js';

/** The action with the name of the performer, or the cue, where the label was given, or the name in other letters. */
export function withNames(action: OperatorAction, show: Show): OperatorAction {
  if (action.kind === 'cue') {
    const { to, from } = action;
    const cue = typeof to === 'string' ? undefined : findNamed(to.name, show.cues);
    const before = from === undefined ? undefined : findNamed(from, show.cues);
    return {
      ...action,
      ...(cue && { to: { name: cue.name } }),
      ...(before && { from: before.name }),
    };
  }
  if (action.kind === 'highlight') {
    const fixture = action.fixture && findNamed(action.fixture, fixtureNames(show))?.name;
    return fixture === undefined ? action : { ...action, fixture };
  }
  if (action.kind === 'mapping') {
    const mapping = findNamed(action.mapping, mappingsOf(show))?.name;
    return mapping === undefined ? action : { ...action, mapping };
  }
  if (action.kind === 'pin') {
    const { fixture, performer } = action;
    return {
      ...action,
      fixture: findNamed(fixture, show.fixtures)?.name ?? fixture,
      performer: performer && (findNamed(performer, show.performers)?.name ?? performer),
    };
  }
  if (namesNobody(action) || action.kind === 'unassign') return action;
  if (action.performer === undefined) return action;
  const found = findNamed(action.performer, show.performers);
  return found === undefined ? action : { ...action, performer: found.name };
}

type NamesNobody = Extract<OperatorAction, { kind: 'hold' | 'entered' | 'safe-look' }>;

function namesNobody(action: OperatorAction): action is NamesNobody {
  return action.kind === 'hold' || action.kind === 'entered' || action.kind === 'safe-look';
}

/** What was left out of a request, and what there is to choose from. */
export function whatIsMissing(
  { verb, tracker }: Extract<Request, { kind: 'incomplete' }>,
  show: Show,
): string {
  const people = show.performers.map(({ name }) => name);
  const performers = `The show has ${people.length === 0 ? 'nobody' : enumerated(people)}`;
  switch (verb) {
    case 'assign':
      if (tracker !== undefined && findNamed(tracker, show.performers) !== undefined) {
        return `Which tracker is to be given to ${tracker}? The show has ${enumerated(trackersOf(show))}.`;
      }
      return tracker === undefined
        ? `Which tracker, and to whom? The show has ${enumerated(trackersOf(show))}; ${enumerated(people)}.`
        : `To whom is tracker ${tracker} to be given? ${performers}.`;
    case 'unassign':
      return `Which tracker? The show has ${enumerated(trackersOf(show))}.`;
    case 'cue':
      return show.cues.length === 0
        ? 'The show has no cues.'
        : `Which cue? The show has ${enumerated(show.cues.map(({ name }) => name))}; or next, or back.`;
    case 'highlight':
      return `Which fixture, or which group? The show has ${enumerated(fixtureNames(show).map(({ name }) => name))}; or off.`;
    case 'pin':
      return tracker === undefined
        ? `Which head, and to whom? ${choosersText(show)}`
        : `To whom is ${tracker} to be pinned? ${performers}.`;
    case 'unpin':
      return `Which head? ${choosersText(show)}`;
    case 'mapping':
      return `Off or on, and which mapping? The show has ${enumerated(mappingsOf(show).map(({ name }) => name))}.`;
    case 'hold':
    case 'release':
      return `Which hazard class? ${enumerated(ENABLED_CLASSES, 3, 'or')}.`;
    case 'stop':
    case 'resume':
    case 'off':
    case 'on':
      return `${QUESTIONS[verb]} ${performers}; or everybody.`;
    default:
      return verb satisfies never;
  }
}

const QUESTIONS = {
  stop: 'Stop whom?',
  resume: 'Resume whom?',
  off: 'Who is off stage?',
  on: 'Who is on stage?',
} as const;

/** By their titles, each once. */
function mappingsOf(show: Show): { readonly name: string }[] {
  const titles = show.mappings.map((_, index) => mappingTitle(show, index));
  return [...new Set(titles)].map(name => ({ name }));
}

/** Names of the heads that choose whom they are on. */
function choosersOf(show: Show): string[] {
  return choosingHeads(show).map(({ name }) => name);
}

function choosersText(show: Show): string {
  const names = choosersOf(show);
  return names.length === 0
    ? 'The show has no head that chooses whom it follows.'
    : `These choose whom they are on: ${enumerated(names)}.`;
}

function trackersOf({ performers, spares }: Show): string[] {
  return [...performers.flatMap(({ trackers }) => trackers), ...spares].map(({ id }) => id);
}

/** What would be right instead of an unknown name; begins with a space, and is empty if all names are known. */
export function nameHint(action: OperatorAction, show: Show): string {
  if (action.kind === 'cue') {
    const { to } = action;
    return typeof to === 'string' || show.cues.length === 0 ? '' : nameAdvice(to.name, show.cues);
  }
  if (action.kind === 'highlight') {
    const { fixture } = action;
    const names = fixtureNames(show);
    const isOne = names.some(({ name }) => name === fixture);
    return fixture === undefined || isOne ? '' : nameAdvice(fixture, names);
  }
  if (action.kind === 'mapping') {
    const all = mappingsOf(show);
    const isOne = all.some(({ name }) => name === action.mapping);
    return isOne ? '' : nameAdvice(action.mapping, all);
  }
  if (namesNobody(action)) return '';
  if (action.kind === 'pin' && !choosersOf(show).includes(action.fixture)) {
    const isFixture = show.fixtures.some(({ name }) => name === action.fixture);
    return isFixture ? ` ${choosersText(show)}` : nameAdvice(action.fixture, show.fixtures);
  }
  const names = show.performers.map(({ name }) => name);
  const trackers = trackersOf(show);
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
