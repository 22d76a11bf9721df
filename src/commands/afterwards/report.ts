import { statSync } from 'node:fs';
import { listed } from '../../engine/events/event-words.js';
import type { TrackerFeed } from '../../engine/values/counters.js';
import { Replay, type ReplayedRun } from '../../recording/replay.js';
import type { RecordingGap } from '../../reporting/causes/after-gap.js';
import type { EngineEnd } from '../../reporting/causes/causes.js';
import {
  blackouts,
  type DeskSilence,
  type InterfaceOutage,
  stops,
} from '../../reporting/causes/held-light.js';
import {
  CountsWithin,
  type InputCounts,
  type Senders,
  type ShellDrops,
  sumOf,
} from '../../reporting/measures/input-counts.js';
import { PlaceNames } from '../../reporting/measures/places.js';
import { reportPage } from '../../reporting/pages/report-page.js';
import { reportText } from '../../reporting/pages/report-text.js';
import { makeReport, type ReportSource } from '../../reporting/report.js';
import { SessionStatistics } from '../../reporting/session-statistics.js';
import type { Outage, Report } from '../../reporting/words/report-data.js';
import { standbyWithin } from '../../reporting/words/standby-light.js';
import { inWords } from '../../reporting/words/words.js';
import { labelsOf } from '../../show/model/labels.js';
import type { Show } from '../../show/model/model.js';
import {
  findRecording,
  type PartsRead,
  type RecordingFiles,
  readParts,
} from '../files/recording-files.js';
import {
  type EndedEngine,
  endsInWords,
  flashesInWords,
  type SupervisorActs,
  slownessInWords,
  supervisorActs,
} from '../files/supervisor-actions.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { print, styled } from '../terminal/terminal.js';
import { writeText } from '../terminal/text-files.js';
import { clock, clockToTenths, dayAndClock, isTimeOfDay, timeOfDayIn } from '../terminal/times.js';

const misuse = misuseOf('report');

export const REPORT_HELP = `usage: lampwright report REC [--from TIME] [--to TIME] [--html FILE] [--force] [--json]

What the tracking and the light did in a show, from a recording made with \`lampwright run --record DIR\`: how long
each performer was followed, each loss with its time, place and cause, where the tracking is weak, how
long a position takes to become light, everything that went to its safe values, dropped input, and what to
fix first. REC is the folder of one run of the daemon, or a folder with only that one in it.

  --from TIME   leave out everything before this time of day, such as 19:30
  --to TIME     and everything after this one
  --html FILE   the same as one file to read and to print, with a map of the weak places
  --json        the same as JSON; times are monotonic seconds, \`unixOffsetS\` makes them seconds since 1970

examples:
  lampwright report recordings/2026-11-25T19-30-00Z-the-salt-lantern
  lampwright report recordings --from 19:30 --to 21:45 --html after-the-show.html
  lampwright report recordings --json | jq '.performers[] | {name, availability}'

exit codes: 0 ok, 2 bad usage, no such recording, or one that can't be read`;

export async function report(args: Arguments): Promise<number> {
  const path = args.positionals[0] ?? '';
  const found = findRecording(path);
  if (!found.ok) return misuse(found.fault);
  const times = { from: args.values.from, to: args.values.to };
  for (const [name, text] of Object.entries(times)) {
    if (text === undefined || isTimeOfDay(String(text))) continue;
    return misuse(`--${name} is a time of day, 19:30 or 19:30:05, not "${text}".`);
  }
  const acts = supervisorActs(found.files.supervisor);
  const made = statisticsOf(found.files, acts, {
    from: times.from === undefined ? undefined : String(times.from),
    to: times.to === undefined ? undefined : String(times.to),
  });
  if (!made.ok) return misuse(made.fault);
  const { statistics, runs, counts } = made;
  const [first] = runs;
  const last = runs.at(-1);
  if (statistics === undefined || first === undefined || last === undefined) {
    const why = made.parts.cut.map(({ file, fault }) => `${file}: ${fault}.`);
    return misuse(...why, `there is no recorded engine in ${path} to report on.`);
  }
  if (statistics.ticks.count === 0) {
    const at = (atS: number) => dayAndClock(atS + first.start.unixOffsetS);
    return misuse(
      `nothing was recorded in that time; the recording goes from ${at(first.fromS)} to ${at(last.toS)}.`,
    );
  }
  const { unixOffsetS } = first.start;
  const at = (atS: number) => clock(atS + unixOffsetS);
  const exactly = (atS: number) => clockToTenths(atS + unixOffsetS);
  const day = (atS: number) => dayAndClock(atS + unixOffsetS);
  const slowSpells = acts.slowSpells.filter(({ atS }) => made.isWithin(atS));
  const flashes = acts.flashes.filter(({ atS }) => made.isWithin(atS));
  const sums = [slownessInWords(slowSpells, at), flashesInWords(flashes) ?? []];
  for (const { atS, what, minor } of [
    ...acts.actionsFor(labelsOf(last.show), at),
    ...sums,
  ].flat()) {
    if (made.isWithin(atS)) statistics.acted(atS, what, minor);
  }
  const names = new PlaceNames(last.show);
  const result = makeReport(
    statistics,
    {
      version: first.start.version,
      node: first.start.node,
      fromS: Math.max(first.fromS, made.fromS),
      toS: Math.min(last.toS, made.toS),
      unixOffsetS,
      notes: notesOf(made, at),
      at,
      counts,
      ...endOfDaemon(found.files, acts, made),
      outages: outagesWithin(acts.outages, last.show, made),
      // The daemon tells of it, which begins before its engine does, and goes on after its end.
      standbyLight: standbyWithin(acts.standbyLight, made.fromS, made.toS),
      deskSilences: silencesWithin(acts.deskSilences, made),
      delays: acts.delays.filter(({ atS }) => made.isWithin(atS)),
    },
    (x, y) => names.of(x, y),
  );
  const { html } = args.values;
  if (typeof html === 'string') {
    const why = writeText(html, reportPage(result, withStageOf(runs), { day, at, exactly }));
    if (why !== undefined) return misuse(`can't write ${html}: ${why}.`);
  }
  print(
    args.values.json === true
      ? JSON.stringify(result, undefined, 2)
      : reportText(result, { day, at, exactly }, text => styled('bold', text)).join('\n'),
  );
  return EXIT.ok;
}

interface TimesAsked {
  readonly from: string | undefined;
  readonly to: string | undefined;
}

interface ReadRecording {
  readonly statistics: SessionStatistics | undefined;
  readonly runs: readonly ReplayedRun[];
  readonly parts: PartsRead;
  readonly counts: InputCounts;
  /** Within the time asked for: how often the show was reloaded, and the engines that failed. */
  readonly reloads: number;
  readonly ends: readonly EndedEngine[];
  /** How many engines were replaced without a record of the supervisor that says why. */
  readonly unexplained: number;
  /** The time asked for, monotonic seconds. */
  readonly fromS: number;
  readonly toS: number;
  isWithin(atS: number): boolean;
}

type ReadOutcome =
  | ({ readonly ok: true } & ReadRecording)
  | { readonly ok: false; readonly fault: string };

/**
 * Runs the recording again and adds up all of it, across all versions of the show that ran.
 * @param acts what the supervisor did meanwhile
 */
function statisticsOf(files: RecordingFiles, acts: SupervisorActs, times: TimesAsked): ReadOutcome {
  let statistics: SessionStatistics | undefined;
  let before: ReplayedRun | undefined;
  let [reloads, unexplained] = [0, 0];
  let [fromS, toS] = [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY];
  const isWithin = (atS: number) => atS >= fromS && atS <= toS;
  let askedBackwards: string | undefined;
  const counted = new Map<ReplayedRun, CountsWithin>();
  const replayed = new Replay({
    began: run => {
      const { unixOffsetS } = run.start;
      const inRun = (time: string) => timeOfDayIn(time, run.fromS + unixOffsetS) - unixOffsetS;
      if (statistics === undefined) {
        if (times.from !== undefined) fromS = inRun(times.from);
        if (times.to !== undefined) toS = inRun(times.to);
        if (toS <= fromS) askedBackwards = `--from ${times.from} is not before --to ${times.to}.`;
        statistics = new SessionStatistics(run.show, [
          ...acts.held,
          ...blackouts(acts.outages, run.show.outputs),
        ]);
      }
      const ended = before === undefined ? undefined : endOf(before, run, acts);
      const end = ended?.how;
      // The engine ran on, but wasn't recorded.
      if (before !== undefined && ended !== undefined && ended.atS - before.toS > UNRECORDED_S) {
        if (isWithin(before.toS)) statistics.gap({ fromS: before.toS, toS: ended.atS });
      }
      if (isWithin(run.fromS)) {
        if (end === 'reloaded' || end === 'went on') reloads += 1;
        else if (before !== undefined && end === undefined) unexplained += 1;
      }
      before = run;
      counted.set(run, new CountsWithin(run.view.counters, run.show.inputs));
      statistics.begin({ ...run, tickHz: run.start.tickHz }, run.fromS, end);
    },
    resumed: (_, goneS, backS) => {
      if (isWithin(goneS) && isWithin(backS)) statistics?.gap({ fromS: goneS, toS: backS });
    },
    intake: (run, record) => {
      counted.get(run)?.at(isWithin(record.nowS));
      if (statistics !== undefined) statistics.isCounting = isWithin(record.nowS);
      if (!isWithin(record.nowS)) return;
      for (const { arrivalS } of record.datagrams) statistics?.ticks.arrived(arrivalS);
    },
    ticked: ({ run, nowS, events, sentS }) => {
      if (isWithin(nowS)) statistics?.ticked(run.view, nowS, events, sentS);
      else if (nowS < fromS) statistics?.before(events);
    },
    told: (run, { type, value }) => {
      if (type !== 'counters') return;
      const { drops, latestFrom, feeds, atS } = value as {
        drops?: ShellDrops;
        latestFrom?: Senders;
        feeds?: readonly TrackerFeed[];
        atS: number;
      };
      const when = atS < fromS ? 'before' : isWithin(atS) ? 'within' : 'after';
      counted.get(run)?.sent(feeds, when);
      const shell = {
        'inbox-full': drops?.['inbox-full'] ?? 0,
        'order-lost': drops?.['order-lost'] ?? 0,
        'socket-full': drops?.['socket-full'] ?? 0,
        'sender-not-allowed': drops?.['sender-not-allowed'] ?? 0,
      };
      counted.get(run)?.shell(shell, latestFrom);
    },
  });
  const parts = readParts(
    files.engine,
    item => replayed.take(item) ?? askedBackwards,
    files.supervisor,
  );
  if (askedBackwards !== undefined) return { ok: false, fault: askedBackwards };
  if (parts.fault !== undefined) return { ok: false, fault: parts.fault };
  const runs = replayed.finish();
  const counts = sumOf([...counted.values()].map(one => one.counts()));
  const ends = acts.ends.filter(({ atS }) => isWithin(atS));
  return {
    ok: true,
    statistics,
    runs,
    parts,
    counts,
    reloads,
    ends,
    unexplained,
    fromS,
    toS,
    isWithin,
  };
}

/** An engine whose last recorded tick is longer than this before its end was no longer recorded, seconds. */
const UNRECORDED_S = 2;

interface EndOfRun {
  readonly how: EngineEnd | 'went on';
  readonly atS: number;
}

/** Why and when the engine of one run was replaced by the next; undefined: no record says so, so it crashed. */
function endOf(
  before: ReplayedRun,
  run: ReplayedRun,
  { reloadsS, ends }: SupervisorActs,
): EndOfRun | undefined {
  if (run.start.before !== undefined && run.start.before === before.start.run) {
    return { how: 'went on', atS: before.toS };
  }
  const isBetween = (atS: number) => atS >= before.toS && atS <= run.fromS;
  const reloadS = reloadsS.find(isBetween);
  if (reloadS !== undefined || before.start.showText !== run.start.showText) {
    return { how: 'reloaded', atS: reloadS ?? before.toS };
  }
  return ends.find(({ atS }) => isBetween(atS));
}

/** A part that was written to within this time is still being written, seconds. */
const STILL_WRITTEN_S = 15;

/** How the daemon ended, as far as its part of the recording tells. */
function endOfDaemon(
  { supervisor }: RecordingFiles,
  { stopped, lastS, held }: SupervisorActs,
  { runs, parts, isWithin, toS }: ReadRecording,
): Pick<ReportSource, 'stoppingS' | 'goneS' | 'unrecordedS'> {
  const stoppingS = held.find(({ cause }) => cause === 'shutdown')?.fromS;
  const endS = runs.at(-1)?.toS;
  // What became of the daemon after that nobody can tell from here.
  if (parts.endsEmpty && endS !== undefined) return isWithin(endS) ? { unrecordedS: endS } : {};
  const newest = supervisor.at(-1);
  if (stopped || newest === undefined || lastS === undefined) return { stoppingS };
  const goneS = Math.max(lastS, runs.at(-1)?.toS ?? lastS);
  const writtenS = (Date.now() - statSync(newest).mtimeMs) / 1e3;
  if (writtenS < STILL_WRITTEN_S || !isWithin(goneS) || goneS > toS) return { stoppingS };
  return { stoppingS, goneS };
}

function silencesWithin(
  silences: readonly DeskSilence[],
  { fromS, toS, runs }: ReadRecording,
): Report['deskSilences'] {
  const endS = Math.min(toS, runs.at(-1)?.toS ?? toS);
  return silences.flatMap(({ input, fromS: beganS, untilS }) => {
    const forS = Math.min(untilS, endS) - Math.max(beganS, fromS);
    return forS > 0 ? [{ input, forS }] : [];
  });
}

function outagesWithin(
  outages: readonly InterfaceOutage[],
  { outputs }: Show,
  { fromS, toS, runs }: ReadRecording,
): Outage[] {
  const endS = Math.min(toS, runs.at(-1)?.toS ?? toS);
  return outages.flatMap(one => {
    const beganS = Math.max(one.fromS, fromS);
    const forS = Math.min(one.untilS, endS) - beganS;
    const mine = outputs.filter(output => stops(one, output));
    if (!(forS > 0) || mine.length === 0) return [];
    return [
      {
        interface: one.interface,
        cause: one.cause,
        outputs: mine.map(({ name }) => name),
        ofOutputs: outputs.length,
        fromS: beganS,
        forS,
      },
    ];
  });
}

/** The last show, on a stage large enough for those of all runs. */
function withStageOf(runs: readonly ReplayedRun[]): Show {
  const shows = runs.map(run => run.show);
  const show = shows.at(-1) as Show;
  const all = (pick: (bounds: Show['bounds']) => number) => shows.map(one => pick(one.bounds));
  const min = {
    ...show.bounds.min,
    x: Math.min(...all(({ min }) => min.x)),
    y: Math.min(...all(({ min }) => min.y)),
  };
  const max = {
    ...show.bounds.max,
    x: Math.max(...all(({ max }) => max.x)),
    y: Math.max(...all(({ max }) => max.y)),
  };
  return { ...show, bounds: { ...show.bounds, min, max } };
}

/** More gaps than this are counted instead of listed. */
const MOST_GAPS_TOLD = 4;

/** @param all the number of gaps, including those in which no tick is missing */
function gapsInWords(
  gaps: readonly RecordingGap[],
  all: number,
  at: (atS: number) => string,
): string[] {
  if (gaps.length === 0 && all === 0) return [];
  const more = Math.max(all, gaps.length);
  if (gaps.length === 0 || gaps.length > MOST_GAPS_TOLD) {
    return [
      `Records are missing in ${more === 1 ? 'one place' : `${more} places`}: what happened then is not in this report.`,
    ];
  }
  const times = gaps.map(({ fromS, toS }) => `from ${at(fromS)} to ${at(toS)}`);
  return [
    `Records are missing ${listed(times)}: what happened then is not in this report, and counts neither as followed nor as lost.`,
  ];
}

/** Reasons why the report may be incomplete or differ from what was on stage, within the time asked for. */
function notesOf(made: ReadRecording, at: (atS: number) => string): string[] {
  const { statistics, parts, reloads, ends, unexplained, fromS, toS, isWithin } = made;
  const runs = made.runs.filter(run => run.fromS <= toS && run.toS >= fromS);
  const notes: string[] = [];
  if (reloads > 0) {
    notes.push(
      `The show was reloaded ${inWords.times(reloads)}. This report covers the whole evening.`,
    );
  }
  const other = runs.filter(run => run.differing > 0 && run.whole && run.gaps === 0);
  if (other.length > 0) {
    notes.push(
      'This version computes some things differently from the one that recorded: this report may differ from what was on the stage. `lampwright replay` shows where.',
    );
  }
  const gaps = runs.reduce((sum, run) => sum + run.gaps, 0);
  notes.push(...gapsInWords(statistics?.gaps ?? [], gaps, at));
  if (runs.some(run => !run.whole && isWithin(run.fromS)))
    notes.push('The beginning of the recording is missing.');
  for (const { file, readBytes, totalBytes, fault } of parts.cut) {
    notes.push(`${file}: ${fault}; ${inWords.share(readBytes / totalBytes)} of it could be read.`);
  }
  notes.push(...endsInWords(ends, at));
  if (unexplained > 0) {
    notes.push(
      `The engine crashed ${inWords.times(unexplained)} and was restarted; the part of the recording that says why is missing.`,
    );
  }
  return notes;
}
