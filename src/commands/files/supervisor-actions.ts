import type { LateCause } from '../../daemon/engine/lateness.js';
import type { SupervisorEvent } from '../../daemon/supervisor.js';
import { describe } from '../../daemon/words/describe.js';
import { counted } from '../../engine/events/event-words.js';
import { type RecordedDelays, readDelays } from '../../live/recorded-delays.js';
import type { RecordedItem } from '../../recording/decode.js';
import type { SafeAction } from '../../reporting/causes/actions.js';
import { CAUSES, ENGINE_ENDS, type EngineEnd, endOf } from '../../reporting/causes/causes.js';
import {
  besideOutages,
  type DeskSilence,
  type HeldLight,
  type InterfaceOutage,
  type OutageCause,
  type StandbyTime,
} from '../../reporting/causes/held-light.js';
import type { LateFlashes } from '../../reporting/measures/flash-watch.js';
import { inWords, flashesInWords as inWordsOf } from '../../reporting/words/words.js';
import { type Labels, NAMES_AS_LABELS } from '../../show/model/labels.js';
import { readParts } from './recording-files.js';
import { type Act, standbyTimes } from './standby-times.js';

const BY_WHOM = 'by hand, or because memory ran out';

export interface EndedEngine {
  readonly atS: number;
  readonly how: EngineEnd;
  /** Its last message, or how it ended. */
  readonly reason: string;
}

export interface SlowSpell {
  readonly atS: number;
  readonly ticks: number;
  readonly frames: number;
  /** Missing: it was the machine. */
  readonly because?: LateCause;
}

export interface Flashes extends LateFlashes {
  readonly atS: number;
}

export interface SupervisorActs {
  /** What it did to the light, and what happened to everything else that it looks after, in words. */
  readonly actionsFor: (labels: Labels, at: (atS: number) => string) => readonly SafeAction[];
  /** When another show, or another version of it, took over, monotonic seconds. */
  readonly reloadsS: readonly number[];
  /** Engines that ended when they should not have, including those that failed before they ran. */
  readonly ends: readonly EndedEngine[];
  /** When ticks or frames were late. */
  readonly slowSpells: readonly SlowSpell[];
  /** When and how often the flash limit held light back. */
  readonly flashes: readonly Flashes[];
  /** When it held all light at the safe look, or was fading there. */
  readonly held: readonly HeldLight[];
  readonly outages: readonly InterfaceOutage[];
  readonly deskSilences: readonly DeskSilence[];
  /** When the standby of two machines had the light. */
  readonly standbyLight: readonly StandbyTime[];
  /** Whether it stopped properly; `lastS` is the time of its last record. */
  readonly stopped: boolean;
  readonly lastS: number | undefined;
  /** How long positions took to become light; empty in recordings of earlier versions. */
  readonly delays: readonly RecordedDelays[];
}

/** Read from the supervisor's part of a recording. */
export function supervisorActs(paths: readonly string[]): SupervisorActs {
  const acts: Act[] = [];
  const reloadsS: number[] = [];
  const ends: EndedEngine[] = [];
  const slowSpells: SlowSpell[] = [];
  const flashes: Flashes[] = [];
  const delays: RecordedDelays[] = [];
  let stopped = false;
  let lastS: number | undefined;
  readParts(paths, item => {
    if (item.type === 'delays') {
      const read = readDelays(item.value);
      if (read !== undefined) delays.push(read);
    }
    const act = actIn(item);
    if (act === undefined) return undefined;
    const { atS, event } = act;
    if (event.kind === 'reloaded') reloadsS.push(atS);
    if (event.kind === 'engine-ended') {
      // Recordings of earlier versions don't say how.
      const reason = firstLine(event.reason);
      ends.push({ atS, how: endOf(event.how ?? 'crashed', reason), reason });
    }
    if (event.kind === 'ticks-late' || event.kind === 'frames-lost') {
      const because = event.because === undefined ? {} : { because: event.because };
      const { late } = event;
      const counts =
        event.kind === 'ticks-late'
          ? { ticks: late, frames: 0 }
          : { ticks: 0, frames: late + event.skipped };
      slowSpells.push({ atS, ...counts, ...because });
    }
    if (event.kind === 'flashes-held') {
      const { fixtures, times = 1, longestS = 0 } = event;
      flashes.push({ atS, fixtures, times, longestS });
    }
    if (event.kind === 'stopped') stopped = true;
    lastS = atS;
    acts.push({ atS, event });
    return undefined;
  });
  return {
    actionsFor: (labels, at) => actionsOf(acts, at, labels),
    reloadsS,
    ends,
    slowSpells,
    flashes,
    ...heldIn(acts),
    standbyLight: standbyTimes(acts),
    stopped,
    lastS,
    delays,
  };
}

function actIn(item: RecordedItem): Act | undefined {
  if (item.type !== 'supervisor') return undefined;
  const { atS, event } = item.value as Partial<Act>;
  return atS === undefined || event === undefined ? undefined : { atS, event };
}

/** When it took all light from the engine until it gave it back, and when nothing could be sent. */
export function heldIn(
  acts: readonly Act[],
): Pick<SupervisorActs, 'held' | 'outages' | 'deskSilences'> {
  const held: HeldLight[] = [];
  const outages: InterfaceOutage[] = [];
  let taken: Omit<HeldLight, 'untilS'> | undefined;
  let ended: { readonly atS: number; readonly why: string } | undefined;
  /** By interface: since when nothing has been sent on it, why, and which of the two is still missing. */
  const gone = new Map<string, { fromS: number; cause: OutageCause; missing: Set<OutageCause> }>();
  const failing: InterfaceOutage[] = [];
  /** Outputs whose sends fail. */
  const fails = new Map<string, { readonly interface: string; readonly fromS: number }>();
  const sendsAgain = (output: string, untilS: number) => {
    const one = fails.get(output);
    if (one !== undefined) failing.push({ ...one, output, cause: 'sends failed', untilS });
    fails.delete(output);
  };
  const deskSilences: DeskSilence[] = [];
  const silent = new Map<string, number>();
  let rejoinsS: number | undefined;
  /** When this process last stood still: it says so when it goes on. */
  let still = { fromS: Number.NEGATIVE_INFINITY, untilS: Number.NEGATIVE_INFINITY };
  for (const { atS, event } of acts) {
    if (event.kind === 'stood-still') still = { fromS: atS - event.forS, untilS: atS };
    const isAfterStill = atS - still.untilS <= AFTER_STILL_S;
    // Of one universe among several the rest has gone on.
    if (event.kind === 'light-rejoins' && event.all) rejoinsS ??= atS;
    if (event.kind === 'light-rejoined') {
      if (rejoinsS !== undefined) held.push({ fromS: rejoinsS, untilS: atS, ...REJOINS });
      rejoinsS = undefined;
    }
    if (event.kind === 'engine-ended') {
      ended = { atS, why: ENGINE_ENDS[endOf(event.how ?? 'crashed', event.reason)].why };
    }
    // It says so when it goes on: it was late for that.
    if (event.kind === 'engine' && event.event.kind === 'stalled') {
      const why = `the engine stood still for ${event.event.stalledS.toFixed(2)} s`;
      if (taken?.cause === 'engine-late' && !isAfterStill) taken = { ...taken, why };
    }
    if (event.kind === 'lights') {
      if (event.to === 'losing') {
        const isOfEnd = ended !== undefined && atS - ended.atS <= ONE_FAILURE_S;
        const fromS = isAfterStill ? still.fromS : atS;
        taken ??= { fromS, ...takenFor(event, isOfEnd ? ended?.why : undefined) };
      }
      // After a stop nothing comes back.
      else if (event.to === 'returning' || event.to === 'live') {
        if (taken !== undefined) held.push({ ...taken, untilS: atS });
        taken = undefined;
      }
    } else if (event.kind === 'desk') {
      const { event: of } = event;
      if (of.kind === 'desk-gone' || of.kind === 'desk-silent') {
        if (!silent.has(of.input)) silent.set(of.input, atS);
      } else if (of.kind === 'desk-heard') {
        const fromS = silent.get(of.input);
        // It is this process that did not listen.
        const isOurs = fromS !== undefined && fromS >= still.fromS && isAfterStill;
        if (fromS !== undefined && !isOurs)
          deskSilences.push({ input: of.input, fromS, untilS: atS });
        silent.delete(of.input);
      }
    } else if (event.kind === 'lighting') {
      const { event: of } = event;
      if (of.kind === 'interface-lost' || of.kind === 'carrier-lost') {
        const cause = of.kind === 'interface-lost' ? 'interface lost' : 'no carrier';
        const one = gone.get(of.interface) ?? { fromS: atS, cause, missing: new Set() };
        one.missing.add(cause);
        gone.set(of.interface, one);
      } else if (of.kind === 'interface-back' || of.kind === 'carrier-back') {
        const one = gone.get(of.interface);
        one?.missing.delete(of.kind === 'interface-back' ? 'interface lost' : 'no carrier');
        if (one === undefined || one.missing.size > 0) continue;
        const { fromS, cause } = one;
        outages.push({ interface: of.interface, cause, fromS, untilS: atS });
        gone.delete(of.interface);
      } else if (of.kind === 'send-failed') {
        if (of.sent > 0) sendsAgain(of.output, atS);
        else if (!fails.has(of.output)) {
          fails.set(of.output, { interface: of.interface, fromS: atS });
        }
      } else if (of.kind === 'sent-again') {
        // It is reported a while after the first packet that failed.
        const { fromS = atS } = fails.get(of.output) ?? {};
        sendsAgain(of.output, Math.min(atS, fromS + of.forS));
      } else if (of.kind === 'sends-ended') {
        for (const { output } of of.outputs) sendsAgain(output, atS);
      }
    }
  }
  const untilS = Number.POSITIVE_INFINITY;
  if (taken !== undefined) held.push({ ...taken, untilS });
  for (const [name, { fromS, cause }] of gone) {
    outages.push({ interface: name, cause, fromS, untilS });
  }
  for (const output of fails.keys()) sendsAgain(output, untilS);
  outages.push(...besideOutages(failing, outages));
  for (const [input, fromS] of silent) deskSilences.push({ input, fromS, untilS });
  return { held, outages, deskSilences };
}

/** What comes within this time of a standstill comes of it, seconds: the light taken, a desk that is not heard yet. */
const AFTER_STILL_S = 2;

/** As `light-rejoins` says. */
const REJOINS = {
  cause: 'output-down',
  why: 'light left this machine again: what had changed meanwhile went by way of the safe look',
} as const;

/** A time in which the supervisor had all light, until the engine had all of it again. */
export interface OfSupervisor {
  readonly fromS: number;
  /** Infinity: it did not end within the recording. */
  readonly untilS: number;
  /** In words, such as "the engine was killed". */
  readonly why: string;
}

/** When what was sent differed from what the engine asked for: fading to safe, held there, on the way back, or before the first engine. */
export function ofSupervisorIn(paths: readonly string[]): OfSupervisor[] {
  const spells: OfSupervisor[] = [];
  let taken: Omit<OfSupervisor, 'untilS'> | undefined;
  let ended: string | undefined;
  let isFirst = true;
  readParts(paths, item => {
    const act = actIn(item);
    if (act === undefined) return undefined;
    const { atS, event } = act;
    if (event.kind === 'engine-ended') {
      ended = ENGINE_ENDS[endOf(event.how ?? 'crashed', event.reason)].why;
    }
    if (event.kind !== 'lights') return undefined;
    if (isFirst && event.from === 'safe') {
      taken = { fromS: Number.NEGATIVE_INFINITY, why: 'the daemon had just started' };
    }
    isFirst = false;
    if (event.to === 'losing') taken ??= { fromS: atS, ...takenFor(event, ended) };
    else if (event.to === 'live' && taken !== undefined) {
      spells.push({ ...taken, untilS: atS });
      taken = undefined;
      ended = undefined;
    }
    return undefined;
  });
  if (taken !== undefined) spells.push({ ...taken, untilS: Number.POSITIVE_INFINITY });
  return spells;
}

/** @param ended how the engine that it was taken from ended */
function takenFor(
  { cause, condition = 'engine-late' }: Extract<SupervisorEvent, { kind: 'lights' }>,
  ended: string | undefined,
): Pick<HeldLight, 'cause' | 'why'> {
  if (condition === 'engine-dead' && ended !== undefined) return { cause: condition, why: ended };
  const isLate = condition === 'engine-late';
  const why = isLate ? cause.replace(/^the engine is /, 'the engine was ') : CAUSES[condition];
  return { cause: condition, why };
}

/** A fade and the end of an engine that are closer than this are one failure, seconds. */
const ONE_FAILURE_S = 5;

/**
 * The actions in words. A failure and the fade that it caused are one line, at the time of the earlier one. The attempts
 * of an engine that can't start are also one line, as long as they fail in the same way.
 * @param at a time of the recording for people
 */
export function actionsOf(
  acts: readonly Act[],
  at: (atS: number) => string,
  labels = NAMES_AS_LABELS,
): SafeAction[] {
  const actions: SafeAction[] = [];
  /** An engine that ended, and a fade because there was none, each still without the other. */
  let ended: Pending | undefined;
  let fade: Pending | undefined;
  let stoodStill: string | undefined;
  let failing: { readonly index: number; readonly what: string; times: number } | undefined;
  for (const { atS, event } of acts) {
    if (event.kind === 'engine-started') failing = undefined;
    const what = wordsFor(event, labels);
    if (what === undefined) continue;
    const action: SafeAction = {
      atS,
      what: firstLine(what),
      ...(isMinor(event) ? { minor: true } : {}),
    };
    const isNear = (one: Pending | undefined): one is Pending =>
      one !== undefined && atS - one.atS <= ONE_FAILURE_S;
    if (stoodStill !== undefined && event.kind === 'lights' && event.to === 'losing') {
      // Standing still and the fade that followed are one line.
      actions.pop();
    } else if (event.kind === 'engine-ended') {
      const first = failing?.what === action.what ? actions[failing.index] : undefined;
      if (failing !== undefined && first !== undefined) {
        failing.times += 1;
        const rest = first.what.endsWith(THEN_FADED) ? THEN_FADED : '';
        const said = `${failing.what}, ${inWords.times(failing.times)} until ${at(atS)}${rest}`;
        actions[failing.index] = { ...first, what: said };
        continue;
      }
      const index = isNear(fade) ? fade.index : actions.length;
      failing = event.how === 'did not start' ? { index, what: action.what, times: 1 } : undefined;
      if (isNear(fade)) {
        actions[fade.index] = { atS: fade.atS, what: `${action.what}${THEN_FADED}` };
        fade = undefined;
        continue;
      }
      ended = { atS, index: actions.length };
    } else if (isFadeForEngine(event)) {
      const end = isNear(ended) ? actions[ended.index] : undefined;
      if (end !== undefined && ended !== undefined) {
        actions[ended.index] = { ...end, what: `${end.what}${THEN_FADED}` };
        ended = undefined;
        continue;
      }
      fade = { atS, index: actions.length };
    } else if (event.kind === 'lights' && event.to === 'returning') fade = undefined;
    stoodStill = event.kind === 'stood-still' ? action.what : undefined;
    actions.push(action);
  }
  return actions;
}

interface Pending {
  readonly atS: number;
  readonly index: number;
}

const THEN_FADED = '; all light began to fade to its safe values';

function isFadeForEngine(event: SupervisorEvent): boolean {
  if (event.kind !== 'lights' || event.to !== 'losing') return false;
  return event.condition === 'engine-dead' || event.condition === 'engine-late';
}

/** Events after which the light may not have arrived; after all others levels were sent all the same. */
const AFFECTS_SENDING = [
  'interface-lost',
  'interface-back',
  'send-failed',
  'sent-again',
  'carrier-lost',
  'carrier-back',
];

function isMinor(event: SupervisorEvent): boolean {
  // A desk that is there from the start is nothing to report.
  if (event.kind === 'desk') {
    return event.event.kind === 'desk-heard' && event.event.afterS === undefined;
  }
  if (event.kind !== 'lighting') return false;
  return 'quiet' in event.event || !AFFECTS_SENDING.includes(event.event.kind);
}

function wordsFor(event: SupervisorEvent, labels: Labels): string | undefined {
  switch (event.kind) {
    case 'lights':
      switch (event.to) {
        case 'losing':
          // For these the event before says it.
          if (event.condition === 'shutdown' || event.condition === 'show-reload') return undefined;
          return `all light began to fade to its safe values (${event.cause})`;
        case 'safe':
          return event.from === 'losing' ? 'all light at its safe values' : undefined;
        case 'returning':
          return 'the engine began to take over from the safe values';
        default:
          return undefined;
      }
    case 'engine-ended': {
      const how = endOf(event.how ?? 'crashed', event.reason);
      const { why } = ENGINE_ENDS[how];
      return how === 'killed' ? `${why}: ${BY_WHOM}` : `${why}: ${event.reason}`;
    }
    // The engine's own part of the recording has these.
    case 'engine':
      return undefined;
    // It has nothing to do with the light.
    case 'state-saved':
      return undefined;
    // One line reports all of them.
    case 'ticks-late':
    case 'frames-lost':
    case 'flashes-held':
      return undefined;
    case 'stopping':
      return event.handsOver === true || event.waitsS !== undefined
        ? 'the daemon was told to stop: the light goes to the standby'
        : 'the daemon was told to stop: all light began to fade to its safe values';
    case 'stopped':
      return 'the daemon had stopped';
    default:
      return describe(event, labels).text;
  }
}

/** The first line of a message; the log has all of it. */
function firstLine(text: string): string {
  return text.split('\n')[0] ?? '';
}

/** When ticks or frames were late: for each cause all the times, as one line. */
export function slownessInWords(
  slowSpells: readonly SlowSpell[],
  at: (atS: number) => string,
): SafeAction[] {
  const causes = new Set(slowSpells.map(({ because }) => because));
  return [...causes].flatMap(because => {
    const spells = slowSpells.filter(one => one.because === because);
    const [first] = spells;
    const last = spells.at(-1);
    const frames = spells.reduce((all, one) => all + one.frames, 0);
    if (first === undefined || last === undefined) return [];
    if (frames === 0 && spells.every(({ ticks }) => ticks === 0)) return [];
    // Ticks are counted elsewhere in the report, and completely; the events here have only some of them.
    const told =
      frames === 0 ? '' : `: ${counted(frames, 'frame')} came late to the outputs or not at all`;
    // That it stood still, or was started, has a line of its own.
    if (told === '' && because !== undefined) return [];
    const until = at(first.atS) === at(last.atS) ? '' : `, the last time at ${at(last.atS)}`;
    const why = because === undefined ? 'the machine was too slow or busy' : LATE_BECAUSE[because];
    return [{ atS: first.atS, what: `${why}${told}${until}` }];
  });
}

const LATE_BECAUSE: Readonly<Record<LateCause, string>> = {
  'daemon-stood-still': 'the daemon stood still',
  'engine-stood-still': 'the engine stood still',
  'engine-started': 'the engine had just been started',
};

/** All the light that the flash limit held back, as one line. */
export function flashesInWords(flashes: readonly Flashes[]): SafeAction | undefined {
  const [first] = flashes;
  if (first === undefined) return undefined;
  const times = flashes.reduce((all, one) => all + one.times, 0);
  const longestS = Math.max(...flashes.map(one => one.longestS));
  const fixtures = [...new Set(flashes.flatMap(one => one.fixtures))];
  return { atS: first.atS, what: inWordsOf({ times, longestS, fixtures }) };
}

/** "The engine crashed once (it was ended by SIGKILL) and was restarted." @param at a time of the recording for people */
export function endsInWords(ends: readonly EndedEngine[], at: (atS: number) => string): string[] {
  const groups = new Map<string, EndedEngine[]>();
  for (const end of ends) groups.set(end.how, [...(groups.get(end.how) ?? []), end]);
  return [...groups.values()].map(some => {
    const [first] = some as [EndedEngine];
    const { why } = ENGINE_ENDS[first.how];
    const given = some.map(({ how, reason }) => (how === 'killed' ? BY_WHOM : reason));
    const reasons = [...new Set(given.map(reason => reason.replace(/\.$/, '')))];
    const rest = reasons.length > 2 ? ` and ${counted(reasons.length - 2, 'more reason')}` : '';
    const what = `${why.charAt(0).toUpperCase()}${why.slice(1)} ${inWords.times(some.length)}`;
    const because = `(${reasons.slice(0, 2).join('; ')}${rest})`;
    const last = some.at(-1) ?? first;
    const when = some.length === 1 ? '' : `, from ${at(first.atS)} to ${at(last.atS)}`;
    return first.how === 'did not start'
      ? `${what} before it ran${when} ${because}.`
      : `${what} ${because} and was restarted.`;
  });
}
