import type { CueTarget } from '../../protocols/osc/orders.js';
import type { Condition } from '../../safety/watchdog-table.js';
import type { Labels } from '../../show/model/labels.js';
import { unreachable } from '../../stage/unreachable.js';
import type { Whereabouts } from '../reports/whereabouts.js';
import { ENABLE_WORDS } from '../values/enable-reasons.js';
import type { OperatorAction } from '../values/operator-action.js';
import type { EnabledOutput, EngineEvent, Kept, KeptOff } from './events.js';

/** Words of events that the log, the status and the reports share. */

interface Asked {
  readonly by?: string | undefined;
}

/** Who asked, as people say it: an address, a signal, or "anna"; undefined: not known. The data have the uid. */
export function whoAsked({ by }: Asked): string | undefined {
  if (by === undefined) return undefined;
  const who = /^control socket \((.+)\)$/.exec(by)?.[1] ?? by;
  const name = /^user (.+?)(?: uid \d+)?$/.exec(who)?.[1] ?? who;
  return name.startsWith('panel at ') ? `the ${name}` : name;
}

/**
 * A performer whose last tracker was taken off is lost for that reason, whichever row of the watchdog's table acts
 * first: nothing comes any more, or the last report repeats.
 */
export function isForWantOfTracker(event: {
  readonly cause: Condition | undefined;
  readonly wearsNone?: true;
}): boolean {
  const { cause, wearsNone } = event;
  if (wearsNone !== true || cause === undefined) return false;
  return cause === 'tracker-silent' || cause === 'frozen' || cause === 'confidence-low';
}

/** For the end of a sentence; empty if not known. */
export function askedBy(asked: Asked): string {
  const who = whoAsked(asked);
  return who === undefined ? '' : ` (asked by ${who})`;
}

/** "Ines, Tobias and the Gull". */
export function listed(names: readonly string[]): string {
  if (names.length < 2) return names[0] ?? '';
  return `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
}

/** "1 order", "3 orders". */
export function counted(count: number, what: string): string {
  return `${count} ${what}${count === 1 ? '' : 's'}`;
}

/** "hazer (atmospheric) and strobe-left (strobe) refused: tracking is silent ... (asked by 10.0.0.5)". */
export function enableInWords(
  event: Extract<EngineEvent, { kind: 'enable' }>,
  label: (fixture: string) => string,
): string {
  const { outputs, gate, wasOn, reason } = event;
  const done = gate === 'on' ? 'on' : gate === 'off' ? 'off' : wasOn ? 'dropped' : 'refused';
  if (reason === 'hand-gone') {
    return `${outputsInWords(outputs, label)} ${done}: ${handGoneInWords(event)}`;
  }
  const why = reason === undefined ? '' : `: ${ENABLE_WORDS[reason]}`;
  return `${outputsInWords(outputs, label)} ${done}${why}${askedBy(event)}`;
}

/** "a page of the panel at 10.0.0.5 held the enable and is no longer heard". */
function handGoneInWords(event: Extract<EngineEvent, { kind: 'enable' }>): string {
  const who = whoAsked(event)?.replace(/^the panel /, 'a page of the panel ');
  const gone =
    who === undefined ? ENABLE_WORDS['hand-gone'] : `${who} held the enable and is no longer heard`;
  return event.gate === 'latched-off' ? `${gone}. Release, and press again` : gone;
}

/** "hazer (atmospheric) and strobe-left (strobe)". */
export function outputsInWords(
  outputs: readonly EnabledOutput[],
  label: (fixture: string) => string,
): string {
  const fixtures = (some: readonly EnabledOutput[]) =>
    listed(some.map(({ fixture }) => label(fixture)));
  const [first] = outputs;
  if (first !== undefined && outputs.every(({ hazard }) => hazard === first.hazard)) {
    return `${fixtures(outputs)} (${first.hazard})`;
  }
  return listed(outputs.map(({ fixture, hazard }) => `${label(fixture)} (${hazard})`));
}

/** "front 1 is pinned to Mara (asked by anna)", and so it was before a restart. */
export function pinInWords(
  event: Extract<EngineEvent, { kind: 'pin' }>,
  labels: { fixture(name: string): string; performer(name: string): string },
): string {
  const { fixture, performer, cause, reason } = event;
  const how = cause === 'restored' ? ', as before' : askedBy(event);
  const head = labels.fixture(fixture);
  if (reason === 'reload') {
    return `${head} is no longer pinned: in the reloaded show it can't follow that performer`;
  }
  return performer === undefined
    ? `${head} chooses by itself again${how}`
    : `${head} is pinned to ${labels.performer(performer)}${how}`;
}

/** "mapping stove is off (asked by anna)", and so it was before a restart. */
export function mappingInWords(event: Extract<EngineEvent, { kind: 'mapping' }>): string {
  const { mapping, off, cause } = event;
  const how = cause === 'restored' ? ', as before' : askedBy(event);
  return off ? `mapping ${mapping} is off${how}` : `mapping ${mapping} acts again${how}`;
}

/** "tracker 7", "trackers 7 and 9". */
export function trackersNamed(ids: readonly string[]): string {
  return `${ids.length === 1 ? 'tracker' : 'trackers'} ${listed(ids)}`;
}

/** "battery 95 of tracker 7 (Ines) is outside 0 to 1: is it per cent?". */
export function batteryUnitInWords(
  { tracker, performer, charge }: Extract<EngineEvent, { kind: 'battery-unit' }>,
  label: (performer: string) => string,
): string {
  const whose = performer === undefined ? 'spare' : label(performer);
  const value = Number(charge.toFixed(2));
  return `battery ${value} of tracker ${tracker} (${whose}) is outside 0 to 1: is it per cent?`;
}

/** "signal train is no longer heard: what depends on it is at its safe values"; undefined: it is heard. */
export function silentSignalInWords({
  signal,
  silent,
  neverHeard,
}: Extract<EngineEvent, { kind: 'signal' }>): string | undefined {
  if (!silent) return undefined;
  const how = neverHeard === true ? 'has not been heard yet' : 'is no longer heard';
  return `signal ${signal} ${how}: what depends on it is at its safe values`;
}

/** "trackers 5 and 9 of dov are 3.4 m apart: who wears them?" */
export function apartInWords(
  performer: string,
  trackers: readonly string[],
  apartM: number,
): string {
  return `${trackersNamed(trackers)} of ${performer} are ${apartM.toFixed(1)} m apart: who wears them?`;
}

/** "go to cue storm", "go to the next cue". */
function cueOrderInWords(to: CueTarget, label: (cue: string) => string): string {
  if (to === 'next') return 'go to the next cue';
  return to === 'back' ? 'go back a cue' : `go to cue ${label(to.name)}`;
}

/** "Spot 3 is highlighted", "Spot 3 is no longer highlighted: its minute is over". */
export function highlightInWords(
  event: Extract<EngineEvent, { kind: 'highlight' }>,
  label: (fixture: string) => string,
  is = 'is',
): string {
  const { fixture, on, reason } = event;
  const which = label(fixture);
  if (on) return `${which} ${is} highlighted${askedBy(event)}${keptInWords(event, label)}`;
  const ended = `${which} ${is} no longer highlighted`;
  switch (reason) {
    case undefined:
      return `${ended}${askedBy(event)}`;
    case 'time':
      return `${ended}: its minute ${is === 'is' ? 'is' : 'was'} over`;
    case 'stopped':
      return `${ended}: somebody ${is} stopped`;
    case 'tracked':
      return `${ended}: a performer ${is} tracked`;
    case 'stalled':
      return `${ended}: the engine stood still`;
    case 'engine-ended':
      return `${ended}: the engine ended`;
    case 'reload':
      return `${ended}: the show was reloaded`;
    case 'replaced':
      return `${ended}: another fixture ${is} highlighted instead`;
    default:
      return unreachable(reason);
  }
}

interface Highlighted extends Kept {
  /** Name of the fixture or group. */
  readonly fixture?: string | undefined;
}

/** ", but stays dark: where it points, ...; its laser output stays off: the enable is not held"; empty where all of it shows. */
export function keptInWords(event: Highlighted, label: (fixture: string) => string): string {
  const dark = (event.keptDark ?? []).length === 0 ? [] : [keptDarkInWords(event, label)];
  const parts = [...dark, ...keptShutInWords(event, label), ...keptOffInWords(event, label)];
  return parts.length === 0 ? '' : `, but ${parts.join('; ')}`;
}

/** "stays dark: its Shutter1 is closed, and its profile has no highlight for it"; of several with their names. */
function keptShutInWords(
  { fixture, keptShut = [] }: Highlighted,
  label: (fixture: string) => string,
): string[] {
  return [true, false].flatMap((byHighlight): string[] => {
    const alike = keptShut.filter(one => one.byHighlight === byHighlight);
    const [first] = alike;
    if (first === undefined) return [];
    if (alike.length > 1) {
      const why = byHighlight
        ? 'the highlight of their profiles leaves a shutter closed'
        : 'a shutter is closed, and their profiles have no highlight for it';
      return [`${listed(alike.map(one => label(one.fixture)))} stay dark: ${why}`];
    }
    const who = first.fixture === fixture ? '' : `${label(first.fixture)} `;
    const why = byHighlight
      ? `the highlight of its profile leaves ${first.attribute} closed`
      : `its ${first.attribute} is closed, and its profile has no highlight for it`;
    return [`${who}stays dark: ${why}`];
  });
}

/** "its laser output stays off: the enable is not held"; one for each class and reason. */
function keptOffInWords(
  { fixture, keptOff = [] }: Highlighted,
  label: (fixture: string) => string,
): string[] {
  const alike = new Map<string, string[]>();
  const keyOf = ({ hazard, reason }: KeptOff) => `${hazard} ${reason}`;
  for (const one of keptOff) {
    alike.set(keyOf(one), [...(alike.get(keyOf(one)) ?? []), one.fixture]);
  }
  return keptOff.flatMap((one): string[] => {
    const fixtures = alike.get(keyOf(one)) ?? [];
    if (fixtures[0] !== one.fixture) return [];
    const why = ENABLE_WORDS[one.reason];
    if (fixtures.length > 1) {
      return [`the ${one.hazard} outputs of ${listed(fixtures.map(label))} stay off: ${why}`];
    }
    const whose =
      one.fixture === fixture
        ? `its ${one.hazard} output`
        : `the ${one.hazard} output of ${label(one.fixture)}`;
    return [`${whose} stays off: ${why}`];
  });
}

/** Whoever holds it still has released nothing. */
const OTHER_LET_GO = 'somebody else who held the enable let go. Release, and press again';

/** Why nothing comes on while the enable is held, without a full stop: one reason, or one for each output. */
export function allOffInWords(
  keptOff: readonly KeptOff[],
  label: (fixture: string) => string,
): string {
  const [first, ...others] = keptOff;
  if (first === undefined) return '';
  return others.every(({ reason }) => reason === first.reason)
    ? first.reason === 'released'
      ? OTHER_LET_GO
      : ENABLE_WORDS[first.reason]
    : keptOffInWords({ keptOff }, label).join('; ');
}

/** "stays dark: where it points, its beam would touch the keep-out audience", of one of several with its name. */
function keptDarkInWords(
  { fixture, keptDark = [] }: Highlighted,
  label: (fixture: string) => string,
): string {
  const keepOuts = [...new Set(keptDark.map(one => one.keepOut))];
  const into = `the keep-out${keepOuts.length === 1 ? '' : 's'} ${listed(keepOuts)}`;
  const [first] = keptDark;
  if (keptDark.length === 1) {
    const who = first?.fixture === fixture ? '' : `${label(first?.fixture ?? '')} `;
    return `${who}stays dark: where it points, its beam would touch ${into}`;
  }
  const who = listed(keptDark.map(one => label(one.fixture)));
  return `${who} stay dark: where they point, their beams would touch ${into}`;
}

/** "in 6 s", "at once". */
export function fadeInWords(fadeS: number): string {
  return fadeS === 0 ? 'at once' : `in ${Number(fadeS.toFixed(1))} s`;
}

/** "sound was sent /harbour 1, as condition two-at-table was entered". */
export function actionSentInWords(
  event: Extract<EngineEvent, { kind: 'action' }>,
  { cue, receiver }: Pick<Labels, 'cue' | 'receiver'>,
): string {
  const { address, args, of, name, on } = event;
  const what = [address, ...args].join(' ');
  const whose = of === 'cue' ? cue(name) : name;
  return `${receiver(event.receiver)} is sent ${what}: ${of} ${whose} ${on === 'enter' ? 'entered' : 'left'}`;
}

/** "the stage left wing": an exit by its label, which may have its article. */
export function exitInWords(label: string): string {
  return /^the\s/i.test(label) ? label : `the ${label}`;
}

/** "ines is off stage (by the stage left wing)", "ines and tobias are heard on the stage again". */
export function offStageInWords(
  event: Extract<EngineEvent, { kind: 'off-stage' }>,
  labels: Labels,
): string {
  const { performers, state, exit, cause } = event;
  const who = `${listed(performers.map(labels.performer))} ${performers.length === 1 ? 'is' : 'are'}`;
  const how =
    cause === 'restored'
      ? ', as before'
      : exit === undefined
        ? askedBy(event)
        : ` (by ${exitInWords(labels.exit(exit))})`;
  switch (state) {
    case 'on':
      return cause === undefined ? `${who} heard on the stage again` : `${who} on stage${how}`;
    case 'away':
      return `${who} off stage${how}`;
    case 'leaving':
      return `${who} sent off${how}: off stage, even while still heard there`;
    default:
      return unreachable(state);
  }
}

/**
 * Where a tracker is that was just assigned, as the end of a sentence; empty if not known.
 * @param performer as people call them
 */
export function whereaboutsInWords({ distanceM, unheard }: Whereabouts, performer: string): string {
  if (unheard === true) return ', but nothing has come from it in the last 5 s';
  if (distanceM === undefined) return '';
  return `, ${distanceM.toFixed(1)} m from where ${performer} was last tracked`;
}

/**
 * What was asked.
 * @param label of a performer
 * @param cueLabel of a cue
 */
export function actionInWords(
  action: OperatorAction,
  label: (performer: string) => string,
  cueLabel: (cue: string) => string = cue => cue,
): string {
  switch (action.kind) {
    case 'assign':
      return `assign tracker ${action.tracker} to ${label(action.performer)}`;
    case 'unassign':
      return `unassign tracker ${action.tracker}`;
    case 'stop':
    case 'resume':
    case 'off':
    case 'on':
      return `${action.kind} ${action.performer === undefined ? 'everybody' : label(action.performer)}`;
    case 'cue':
      return cueOrderInWords(action.to, cueLabel);
    case 'highlight':
      return action.fixture === undefined ? 'end the highlight' : `highlight ${action.fixture}`;
    case 'pin':
      return action.performer === undefined
        ? `let ${action.fixture} go`
        : `pin ${action.fixture} to ${label(action.performer)}`;
    case 'mapping':
      return `mapping ${action.mapping} ${action.off ? 'off' : 'on'}`;
    case 'entered':
      return `condition ${action.condition} was entered before`;
    case 'safe-look':
      return action.held ? 'all light is at the safe look' : 'the engine has the light';
    case 'hold':
      return action.held ? `hold the enable of ${action.hazard}` : `release ${action.hazard}`;
    default:
      return unreachable(action);
  }
}

/** Why a step from one cue is refused while another is on, without a full stop. */
export function movedOn(from: string, on: string): string {
  return `this was asked in cue "${from}", and cue "${on}" is on by now`;
}
