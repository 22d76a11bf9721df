import { statSync } from 'node:fs';
import { whoAsked } from '../../engine/events/event-words.js';
import type { EngineEvent } from '../../engine/events/events.js';
import type { DeskLevels } from '../../engine/values/inputs.js';
import type { OperatorAction } from '../../engine/values/operator-action.js';
import { middleOf } from '../../readiness/places.js';
import { PART_SUFFIX } from '../../recording/layout.js';
import { Replay } from '../../recording/replay.js';
import { numberSignals } from '../../rehearsal/scenes/numbers.js';
import {
  explainMoment,
  type MomentExplanation,
  SENT,
  type SwitchedOff,
} from '../../sheets/explain-moment.js';
import { explanationText } from '../../sheets/explain-text.js';
import { stand } from '../../sheets/stand.js';
import { choosingHeads, idlePinIn, idlePinInWords } from '../../show/model/choosing-heads.js';
import { fixtureNames } from '../../show/model/fixture-groups.js';
import { type Show, SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import { findNamed, type Named, nameAdvice, nameMeant } from '../../show/problems/names.js';
import { enumerated } from '../../stage/enumerated.js';
import { type Vec3, vec3 } from '../../stage/vector.js';
import { findRecording, readParts } from '../files/recording-files.js';
import { loadShow } from '../files/show-file.js';
import { type OfSupervisor, ofSupervisorIn } from '../files/supervisor-actions.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { numberOption, textOption } from '../terminal/option-values.js';
import { refuse } from '../terminal/refuse.js';
import { print, styled } from '../terminal/terminal.js';
import { clock, dayAndClock, isTimeOfDay, timeOfDayIn } from '../terminal/times.js';

const misuse = misuseOf('explain');

export const EXPLAIN_HELP = `usage: lampwright explain SHOW --at "NAME X Y [Z]" [--lost NAME] [--off NAME] [--cue NAME]
         [--pin "HEAD NAME"] [--number "NAME N"] [--desk "NAME SLOT LEVEL"]
         [--for S] [--fixture NAME] [--json]
       lampwright explain REC --time TIME [--fixture NAME] [--json]

Why the light is as it is: for each attribute that is in use, who asks for what, who wins and why,
what the safety layer changes, and what is sent. For a show, with people standing where you say; or for one moment of a
recording made with \`lampwright run --record DIR\`. Opens no socket.

  --at "NAME X Y Z"   somebody stands there, metres (Z: height of the tracker), or in a zone: "ines stove";
                      repeat it, or separate with commas. Anybody not named counts as never heard
  --lost NAME         their tracker falls silent there, or in the middle of the stage: names with commas
  --off NAME          they are sent off stage there, or from the middle of the stage
  --cue NAME          in this cue (the first)
  --pin "HEAD NAME"   a head that chooses is pinned to them: "front-1 mara"; repeat it, or separate with commas
  --number "NAME N"   an OSC signal has this value, in the unit of its sender: "storm 0.7"; repeat it, or separate
                      with commas. A signal not named counts as never heard
  --desk "NAME SLOT LEVEL"
                      a universe of the desk is heard, with this level (0 to 255) in a slot, and 0 in the others:
                      "control 4 255"; repeat it, or separate with commas
  --for S             how long they stand there before the answer, or before they are lost, seconds (20)
  --time TIME         in a recording: the time of day, 19:42:10.5
  --fixture NAME      only this fixture, or those of this group
  --json              the same as JSON

examples:
  lampwright explain config/salt-lantern.show.yaml --at "ines 2.1 5.4 1.6"
  lampwright explain config/salt-lantern.show.yaml --at "ines stove, tobias window" --lost tobias
  lampwright explain my.show.yaml --at "ines stove" --number "storm 0.7"
  lampwright explain recordings/2026-11-25T19-30-00Z-the-salt-lantern --time 19:42:10.5 --fixture lantern-glow

exit codes: 0 ok, 1 a show with errors, 2 bad usage, no such file, or a time that the recording does not have`;

export async function explain(args: Arguments): Promise<number> {
  const path = args.positionals[0] ?? '';
  const time = textOption(args.values.time);
  if (time === undefined && isRecording(path)) {
    return misuse(`${path} is a recording: say which moment of it, such as --time 19:42:10.5.`);
  }
  return time === undefined ? explainShow(path, args) : explainRecording(path, time, args);
}

function isRecording(path: string): boolean {
  const found = statSync(path, { throwIfNoEntry: false });
  return found?.isDirectory() === true || path.endsWith(PART_SUFFIX);
}

function explainShow(file: string, args: Arguments): number {
  const faults: string[] = [];
  const forS = numberOption(args.values.for, 'for', 20, 0.1, 600, faults);
  const loaded = loadShow(file);
  if (!loaded.ok) return refuse(loaded.problems);
  const { show } = loaded;
  const places = placesOf(show, textOption(args.values.at) ?? '', faults);
  const lost = performersOf(show, args.values.lost, 'lost', faults);
  const off = performersOf(show, args.values.off, 'off', faults);
  const orders = [
    ...cueOrder(show, textOption(args.values.cue), faults),
    ...pinOrders(show, textOption(args.values.pin) ?? '', textOption(args.values.cue), faults),
  ];
  const numbers = numbersOf(show, textOption(args.values.number) ?? '', faults);
  const desk = deskOf(show, textOption(args.values.desk) ?? '', faults);
  // What a loss does rarely depends on the place: --lost works without one.
  for (const one of [...lost, ...off]) {
    if (!places.has(one)) places.set(one, middleOfStage(show, one));
  }
  const fixtures = fixturesOf(show, args, faults);
  if (faults.length > 0) return misuse(...faults);
  const view = stand(show, { places, lost, off, forS, orders, numbers, desk });
  const after = `after ${Number(forS.toFixed(1))} s${lost.size + off.size > 0 ? ' there, and as long again without those who are gone' : ' there'}`;
  tell(only(explainMoment(view), fixtures), `${show.name}, ${after}`, args);
  return EXIT.ok;
}

function explainRecording(path: string, time: string, args: Arguments): number {
  const faults = (['at', 'lost', 'off', 'for', 'cue', 'pin', 'number', 'desk'] as const)
    .filter(option => args.values[option] !== undefined)
    .map(option => `--${option} is for a show; for a recording give --time.`);
  if (!isTimeOfDay(time)) faults.push(`--time is a time of day such as 19:42:10.5, not "${time}".`);
  const found = findRecording(path);
  if (!found.ok) faults.push(found.fault);
  if (faults.length > 0 || !found.ok) return misuse(...faults);

  const switchedOff = new Map<string, SwitchedOff>();
  let answer: Answer | undefined;
  let wrong: string | undefined;
  const replay = new Replay({
    began: run => run.view.askWhy(),
    ticked: ({ run, nowS, unixOffsetS, events }) => {
      if (answer !== undefined || wrong !== undefined) return;
      const beganUnixS = (replay.runs[0]?.fromS ?? nowS) + unixOffsetS;
      const unixS = nowS + unixOffsetS;
      for (const event of events) {
        if (event.kind === 'mapping') noteMapping(switchedOff, event, unixS);
      }
      const wantedS = timeOfDayIn(time, beganUnixS);
      // Long before its beginning there was no tick, and the first one is no answer.
      if (unixS + HALF_MS < wantedS || wantedS < beganUnixS - BEFORE_S) return;
      const words: string[] = [];
      const fixtures = fixturesOf(run.show, args, words);
      wrong = words[0];
      const moment = only(explainMoment(run.view, switchedOff), fixtures);
      answer = { moment, unixS, atS: nowS, wantedS: wantedS - unixOffsetS };
    },
  });
  const { fault } = readParts(
    found.files.engine,
    item => replay.take(item) ?? (answer === undefined ? undefined : DONE),
    found.files.supervisor,
  );
  replay.finish();
  if (wrong !== undefined) return misuse(wrong);
  if (answer === undefined) {
    if (fault !== undefined) return misuse(fault);
    const [first] = replay.runs;
    const last = replay.runs.at(-1);
    if (first === undefined || last === undefined)
      return misuse(`there is no recorded engine in ${path}.`);
    const unixOf = (run: typeof first, atS: number) => atS + run.start.unixOffsetS;
    return misuse(
      `the recording goes from ${dayAndClock(unixOf(first, first.fromS))} to ${clock(unixOf(last, last.toS))}, and has no ${time}.`,
    );
  }
  const { moment, unixS } = answer;
  const title = `${moment.show}, ${dayAndClock(unixS)}.${tenths(unixS)}`;
  tellMoment(answer, ofSupervisorIn(found.files.supervisor), title, args);
  return EXIT.ok;
}

interface Answer {
  readonly moment: MomentExplanation;
  /** Time of the tick that answers: Unix seconds, and monotonic seconds. */
  readonly unixS: number;
  readonly atS: number;
  /** The moment that was asked for, monotonic seconds. */
  readonly wantedS: number;
}

/** A moment between two ticks is answered by the later one. If that is later than this, ticks are missing, seconds. */
const NEXT_TICK_S = 0.2;

/** What the engine asked for may differ from what left the machine: prints both. */
function tellMoment(
  { moment, unixS, atS, wantedS }: Answer,
  spells: readonly OfSupervisor[],
  title: string,
  args: Arguments,
): void {
  const inWords = (one: number) => {
    const of = unixS + one - atS;
    return `${clock(of)}.${tenths(of)}`;
  };
  const spellAt = (one: number) => spells.find(({ fromS, untilS }) => one >= fromS && one < untilS);
  const isMissing = atS - wantedS > NEXT_TICK_S;
  const wanted = isMissing ? spellAt(wantedS) : undefined;
  const spell = spellAt(atS);
  const notes: string[] = [];
  if (isMissing) {
    notes.push(
      `No tick of an engine is recorded from ${inWords(wantedS)} to ${inWords(atS)}. This is the next one.`,
    );
  }
  for (const one of new Set([wanted, spell])) {
    if (one === undefined) continue;
    const from = Number.isFinite(one.fromS) ? `from ${inWords(one.fromS)} ` : '';
    const until = Number.isFinite(one.untilS) ? `until ${inWords(one.untilS)}` : 'to the end';
    notes.push(
      `The supervisor had all light ${from}${until} (${one.why}): it faded to the safe look, held it, then handed back.`,
    );
  }
  if (spell !== undefined) {
    notes.push('Below is what the engine asked for, which is not what was sent.');
  }
  const told = spell === undefined ? moment : askedOnly(moment);
  if (args.values.json === true) {
    const supervisor =
      spell === undefined
        ? null
        : {
            why: spell.why,
            fromUnixS: finite(unixS + spell.fromS - atS),
            untilUnixS: finite(unixS + spell.untilS - atS),
          };
    const time = { askedUnixS: unixS + wantedS - atS, tickUnixS: unixS, supervisor, notes };
    print(JSON.stringify({ ...told, time }, undefined, 2));
    return;
  }
  const lines = notes.map(note => `  ${styled('yellow', note)}`);
  const [first, ...rest] = explanationText(told, title, (style, text) => styled(style, text)).split(
    '\n',
  );
  print([first, ...lines, ...rest].join('\n'));
}

function finite(unixS: number): number | null {
  return Number.isFinite(unixS) ? unixS : null;
}

/** The last row of each attribute is what the engine asked the supervisor for. */
function askedOnly(moment: MomentExplanation): MomentExplanation {
  const attributes = moment.attributes.map(one => ({
    ...one,
    rows: one.rows.map(row =>
      row.who === SENT ? { ...row, who: 'asked by the engine', slots: [] } : row,
    ),
  }));
  return { ...moment, attributes };
}

/** Notes who switched a mapping off, and when. A restarted engine is told of those that were off before: nobody knows by whom. */
function noteMapping(
  switchedOff: Map<string, SwitchedOff>,
  event: Extract<EngineEvent, { kind: 'mapping' }>,
  unixS: number,
): void {
  const { mapping, off, cause } = event;
  if (!off) switchedOff.delete(mapping);
  else if (cause === 'command') {
    switchedOff.set(mapping, { by: whoAsked(event), since: `since ${clock(unixS)}` });
  } else if (!switchedOff.has(mapping)) {
    switchedOff.set(mapping, { by: undefined, since: `since before ${clock(unixS)}` });
  }
}

const HALF_MS = 0.0005;
/** A time up to this long before the recording means its beginning (19:30, if it began at 19:30:05), seconds. */
const BEFORE_S = 60;
/** Ends the reading early. */
const DONE = 'the moment has been found';

function tenths(unixS: number): string {
  return String(Math.floor((unixS % 1) * 10));
}

function tell(moment: MomentExplanation, title: string, { values }: Arguments): void {
  print(
    values.json === true
      ? JSON.stringify(moment, undefined, 2)
      : explanationText(moment, title, (style, text) => styled(style, text)),
  );
}

function only(
  moment: MomentExplanation,
  fixtures: ReadonlySet<string> | undefined,
): MomentExplanation {
  if (fixtures === undefined) return moment;
  return {
    ...moment,
    heads: moment.heads.filter(one => fixtures.has(one.fixture)),
    attributes: moment.attributes.filter(one => fixtures.has(one.fixture)),
  };
}

/** Names of the fixtures asked for, by their own name or that of a group; undefined: all. */
function fixturesOf(
  show: Show,
  { values }: Arguments,
  faults: string[],
): ReadonlySet<string> | undefined {
  const name = textOption(values.fixture);
  if (name === undefined) return undefined;
  const names = fixtureNames(show);
  const found = findNamed(name, names);
  if (found === undefined) faults.push(`there is no fixture "${name}".${nameAdvice(name, names)}`);
  return new Set(found?.fixtures.map(index => show.fixtures[index]?.name ?? ''));
}

/** What is meant as a number, in a text of several words; whether it is one is for `Number` to say. */
const NUMERAL = '([-+]?[\\d.]+(?:[eE][-+]?\\d+)?)';
const AT = new RegExp(`^(.+?)[\\s:]+${NUMERAL}\\s+${NUMERAL}(?:\\s+${NUMERAL})?$`);

function placesOf(show: Show, text: string, faults: string[]): Map<number, Readonly<Vec3>> {
  const places = new Map<number, Readonly<Vec3>>();
  for (const part of partsOf(text)) {
    const [, who, x, y, z] = AT.exec(part) ?? [];
    const at = who === undefined ? part.search(/\s+\S+$/) : -1;
    const name = who ?? (at < 0 ? part : part.slice(0, at));
    const performer = indexOf(show.performers, 'performer', name, faults);
    if (performer === undefined) continue;
    const height = show.performers[performer]?.wornAtM ?? 1;
    if (x !== undefined && y !== undefined) {
      const numbers = [Number(x), Number(y), z === undefined ? height : Number(z)] as const;
      if (numbers.every(Number.isFinite)) places.set(performer, vec3(...numbers));
      else faults.push(`--at: "${part}" has something in it that is not a number.`);
      continue;
    }
    const zoneName = at < 0 ? '' : part.slice(at).trim();
    const still = show.zones.filter(({ around }) => around === undefined);
    const zone = findNamed(zoneName, still);
    if (zone !== undefined) places.set(performer, middleOf(zone.area, height));
    else {
      const zones = enumerated(still.map(one => one.name));
      faults.push(`--at: "${part}" should be NAME X Y Z, in metres, or NAME and a zone: ${zones}.`);
    }
  }
  return places;
}

const NUMBER = new RegExp(`^(.+?)[\\s:=]+${NUMERAL}$`);

/** Values of numbers by OSC, by the name of their signal. */
function numbersOf(show: Show, text: string, faults: string[]): Map<string, number> {
  const known = numberSignals(show).map(name => ({ name }));
  const numbers = new Map<string, number>();
  if (text !== '' && known.length === 0) {
    faults.push('--number: the show has no signal by OSC.');
    return numbers;
  }
  for (const part of partsOf(text)) {
    const [, name = part, value] = NUMBER.exec(part) ?? [];
    const signal = indexOf(known, 'signal by OSC', name, faults, 'number');
    if (signal === undefined) continue;
    const number = Number(value);
    if (Number.isFinite(number)) numbers.set(known[signal]?.name ?? name, number);
    else
      faults.push(
        `--number: "${part}" should be the name of a signal and a number: "${name} 0.5".`,
      );
  }
  return numbers;
}

const SLOT = /^(.+?)[\s:]+(\d{1,3})[\s:=]+(\d{1,3})$/;

/** Levels of the desk, by the names of its universes. */
function deskOf(show: Show, text: string, faults: string[]): DeskLevels[] {
  const all = new Map<number, Uint8Array>();
  for (const part of partsOf(text)) {
    const [, name = part, slot, level] = SLOT.exec(part) ?? [];
    const input = indexOf(show.desk, 'universe of the desk', name, faults, 'desk');
    if (input === undefined) continue;
    const levels = all.get(input) ?? new Uint8Array(SLOTS_PER_UNIVERSE);
    const [at, to] = [Number(slot) - 1, Number(level)];
    if (at >= 0 && at < SLOTS_PER_UNIVERSE && to <= 255) levels[at] = to;
    else {
      faults.push(
        `--desk: "${part}" should be a name, a slot from 1 to 512 and a level from 0 to 255: "${name} 4 255".`,
      );
    }
    all.set(input, levels);
  }
  return [...all].map(([input, levels]) => ({ input, levels, heard: true }));
}

function middleOfStage({ bounds: { min, max }, performers }: Show, performer: number): Vec3 {
  return vec3((min.x + max.x) / 2, (min.y + max.y) / 2, performers[performer]?.wornAtM ?? 1);
}

function performersOf(
  show: Show,
  value: string | boolean | undefined,
  option: string,
  faults: string[],
): Set<number> {
  const names = partsOf(textOption(value) ?? '');
  return new Set(
    names.flatMap(name => indexOf(show.performers, 'performer', name, faults, option) ?? []),
  );
}

function cueOrder(show: Show, name: string | undefined, faults: string[]): OperatorAction[] {
  if (name === undefined) return [];
  const cue = findNamed(name, show.cues);
  if (cue !== undefined) return [{ kind: 'cue', to: { name: cue.name }, cause: 'command' }];
  faults.push(
    show.cues.length === 0
      ? '--cue: the show has no cues.'
      : `--cue: there is no cue "${name}".${nameAdvice(name, show.cues)}`,
  );
  return [];
}

function pinOrders(
  show: Show,
  text: string,
  cueName: string | undefined,
  faults: string[],
): OperatorAction[] {
  const named = cueName === undefined ? show.cues[0] : findNamed(cueName, show.cues);
  const cue = named === undefined ? -1 : show.cues.indexOf(named);
  const pairs = choosingHeads(show).flatMap(head =>
    head.people.map(one => ({
      ...{ name: `${head.name} ${one.name}`, label: `${head.label} ${one.label}` },
      ...{ fixture: head.name, performer: one.name },
    })),
  );
  return partsOf(text).flatMap((part): OperatorAction[] => {
    const pair = findNamed(part, pairs);
    if (pair !== undefined) {
      const { fixture, performer } = pair;
      const idle = idlePinIn(show, fixture, performer, cue);
      if (idle !== undefined && (named !== undefined || cueName === undefined)) {
        const where = named === undefined ? '' : ` in cue "${named.name}"`;
        faults.push(`--pin: "${part}":${where} ${idlePinInWords(idle, performer)}.`);
        return [];
      }
      return [{ kind: 'pin', fixture, performer, cause: 'command' }];
    }
    faults.push(`--pin: ${wrongPin(show, part, pairs)}`);
    return [];
  });
}

/** Which word of a pin is wrong, and what would be right. */
function wrongPin(show: Show, part: string, pairs: readonly Named[]): string {
  const heads = choosingHeads(show);
  if (heads.length === 0) {
    return 'no head of the show chooses whom it follows (follow by nearest, first or share).';
  }
  const whole = nameMeant(part, pairs);
  if (whole !== '') return `there is no "${part}".${whole}`;
  /** The rest of it after a name. */
  const behind = ({ name, label = name }: Named) =>
    [name, label].flatMap(one =>
      part.toLowerCase().startsWith(`${one.toLowerCase()} `) ? [part.slice(one.length).trim()] : [],
    )[0];
  const head = heads.find(one => behind(one) !== undefined);
  if (head !== undefined) {
    return `${head.name} can't be pinned to "${behind(head)}": it chooses among ${enumerated(head.people.map(({ name }) => name))}.`;
  }
  const [first = part] = part.split(/\s+/);
  const known =
    findNamed(first, show.fixtures) ?? show.fixtures.find(one => behind(one) !== undefined);
  const what =
    known === undefined
      ? `there is no head "${first}"`
      : `"${known.name}" doesn't choose whom it follows`;
  return `${what}. A head and a performer, "${pairs[0]?.name}"; heads that can be pinned: ${enumerated(
    heads.map(({ name }) => name),
    20,
  )}.`;
}

function indexOf<T extends Named>(
  all: readonly T[],
  what: string,
  name: string,
  faults: string[],
  option = 'at',
): number | undefined {
  const found = findNamed(name, all);
  if (found !== undefined) return all.indexOf(found);
  faults.push(`--${option}: there is no ${what} "${name}".${nameAdvice(name, all)}`);
  return undefined;
}

function partsOf(text: string): string[] {
  return text
    .split(/[,;]/)
    .map(part => part.trim())
    .filter(part => part !== '');
}
