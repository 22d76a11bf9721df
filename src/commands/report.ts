import type { DropReason } from '../engine/counters.js';
import { Replay, type ReplayedRun } from '../recording/replay.js';
import { Account } from '../reporting/account.js';
import { PlaceNames } from '../reporting/places.js';
import { makeReport } from '../reporting/report.js';
import { reportPage } from '../reporting/report-page.js';
import { reportText } from '../reporting/report-text.js';
import { inWords } from '../reporting/words.js';
import type { Arguments } from './cli.js';
import { EXIT } from './exit-codes.js';
import { misuseOf } from './misuse.js';
import { type CutPart, findRecording, type RecordingFiles, readParts } from './recording-files.js';
import { supervisorActions } from './supervisor-actions.js';
import { print, styled } from './terminal.js';
import { writeText } from './text-files.js';
import { clock, dayAndClock, isTimeOfDay, nextTimeOfDay } from './times.js';

const misuse = misuseOf('report');

export const REPORT_HELP = `usage: lampwright report REC [--from TIME] [--to TIME] [--html FILE] [--json]

What the tracking and the light did in a show, from a recording of \`lampwright run --record DIR\`: how long
each performer was followed, each loss with its time, place and cause, where the tracking is weak, how
long a position takes to become light, all that went to its safe values, dropped input, and the three
things to mend first. REC is the folder of one run of the daemon, or the folder that holds it alone.

  --from TIME   leave out what came before this time of day, 19:30 say
  --to TIME     and what came after
  --html FILE   the same as one file to read and to print, with a map of the weak places
  --json        the same as JSON; times are monotonic seconds, \`unixOffsetS\` makes them seconds since 1970

examples:
  lampwright report recordings/2026-11-25T19-30-00Z-the-salt-lantern
  lampwright report recordings --from 19:30 --to 21:45 --html after-the-show.html
  lampwright report recordings --json | jq '.performers[] | {label, availability}'

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
  const made = accountFor(found.files, {
    from: times.from === undefined ? undefined : String(times.from),
    to: times.to === undefined ? undefined : String(times.to),
  });
  if (!made.ok) return misuse(made.fault);
  const { account, runs, cut, drops } = made;
  const [first] = runs;
  const last = runs.at(-1);
  if (account === undefined || first === undefined || last === undefined) {
    return misuse(`there is no engine in ${path} to report on.`);
  }
  if (account.ticks === 0) {
    const at = (atS: number) => dayAndClock(atS + first.start.unixOffsetS);
    return misuse(
      `nothing was recorded in that time, but from ${at(first.fromS)} to ${at(last.toS)}.`,
    );
  }
  const { unixOffsetS } = first.start;
  const at = (atS: number) => clock(atS + unixOffsetS);
  const day = (atS: number) => dayAndClock(atS + unixOffsetS);
  for (const { atS, what } of supervisorActions(found.files.supervisor)) {
    if (made.isWithin(atS)) account.acted(atS, what);
  }
  const names = new PlaceNames(first.show);
  const unusable = { duplicates: 0, outOfOrder: 0, invalid: 0 };
  for (const { state } of runs) {
    unusable.duplicates += state.counters.duplicates;
    unusable.outOfOrder += state.counters.outOfOrder;
    unusable.invalid += state.counters.invalid;
  }
  const result = makeReport(
    account,
    {
      version: first.start.version,
      node: first.start.node,
      fromS: Math.max(first.fromS, made.fromS),
      toS: Math.min(last.toS, made.toS),
      unixOffsetS,
      notes: notesOf(runs, cut, made.changes),
      at,
      drops,
      unusable,
    },
    (x, y) => names.of(x, y),
  );
  const { html } = args.values;
  if (typeof html === 'string') {
    const why = writeText(html, reportPage(result, first.show, { day, at }));
    if (why !== undefined) return misuse(`can't write ${html}: ${why}.`);
  }
  print(
    args.values.json === true
      ? JSON.stringify(result, undefined, 2)
      : reportText(result, { day, at }, text => styled('bold', text)).join('\n'),
  );
  return EXIT.ok;
}

interface TimesAsked {
  readonly from: string | undefined;
  readonly to: string | undefined;
}

type Accounted =
  | {
      readonly ok: true;
      readonly account: Account | undefined;
      readonly runs: readonly ReplayedRun[];
      readonly cut: readonly CutPart[];
      readonly drops: Partial<Record<DropReason, number>>;
      /** How often the show was changed while it ran. */
      readonly changes: number;
      /** The time that was asked for, monotonic seconds. */
      readonly fromS: number;
      readonly toS: number;
      isWithin(atS: number): boolean;
    }
  | { readonly ok: false; readonly fault: string };

/** What was added up of one show. */
interface ShowAccount {
  readonly account: Account;
  readonly runs: ReplayedRun[];
}

/** Runs the recording again, and adds up; of a show that was changed while it ran, the longest part. */
function accountFor(files: RecordingFiles, times: TimesAsked): Accounted {
  const shows: ShowAccount[] = [];
  let [fromS, toS] = [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY];
  const isWithin = (atS: number) => atS >= fromS && atS <= toS;
  // What only the sockets know comes from the counters that were recorded, of each run the last.
  const shell = new Map<ReplayedRun, Partial<Record<DropReason, number>>>();
  const replayed = new Replay({
    began: run => {
      const { unixOffsetS } = run.start;
      const after = (time: string, atS: number) =>
        nextTimeOfDay(time, atS + unixOffsetS) - unixOffsetS;
      if (shows.length === 0) {
        if (times.from !== undefined) fromS = after(times.from, run.fromS);
        if (times.to !== undefined) toS = after(times.to, Math.max(fromS, run.fromS));
      }
      let show = shows.at(-1);
      if (show === undefined || show.runs[0]?.start.showText !== run.start.showText) {
        show = { account: new Account(run.show, run.start.tickHz), runs: [] };
        shows.push(show);
      }
      show.runs.push(run);
      show.account.begin(run.state, run.fromS);
    },
    intake: (_, record) => {
      if (!isWithin(record.nowS)) return;
      for (const { arrivalS } of record.datagrams) shows.at(-1)?.account.arrived(arrivalS);
    },
    ticked: ({ run, nowS, events, sentS }) => {
      if (isWithin(nowS)) shows.at(-1)?.account.ticked(run.state, nowS, events, sentS);
    },
    told: (run, { type, value }) => {
      if (type !== 'counters') return;
      const { drops } = value as { drops?: Partial<Record<DropReason, number>> };
      shell.set(run, {
        'inbox-full': drops?.['inbox-full'] ?? 0,
        'sender-not-allowed': drops?.['sender-not-allowed'] ?? 0,
      });
    },
  });
  const { cut, fault } = readParts(files.engine, item => replayed.take(item));
  if (fault !== undefined) return { ok: false, fault };
  replayed.finish();
  const [longest] = [...shows].sort((a, b) => b.account.ticks - a.account.ticks);
  const runs = longest?.runs ?? [];
  const drops: Partial<Record<DropReason, number>> = {};
  for (const run of runs) {
    const of = { ...run.state.counters.drops, ...shell.get(run) };
    for (const [reason, count] of Object.entries(of)) {
      drops[reason as DropReason] = (drops[reason as DropReason] ?? 0) + count;
    }
  }
  const account = longest?.account;
  return { ok: true, account, runs, cut, drops, changes: shows.length - 1, fromS, toS, isWithin };
}

function notesOf(runs: readonly ReplayedRun[], cut: readonly CutPart[], changes: number): string[] {
  const notes: string[] = [];
  if (changes > 0) {
    notes.push(
      `The show was changed ${inWords.times(changes)} while it ran: this is of the version that ran longest.`,
    );
  }
  const other = runs.filter(run => run.differing > 0 && run.whole && run.gaps === 0);
  if (other.length > 0) {
    notes.push(
      'This version reckons otherwise than the one that recorded: what is said here may differ from what was on the stage. `lampwright replay` says where.',
    );
  }
  const gaps = runs.reduce((sum, run) => sum + run.gaps, 0);
  if (gaps > 0)
    notes.push(
      `Records are missing in ${gaps === 1 ? 'one place' : `${gaps} places`}: what happened then is not here.`,
    );
  if (runs.some(run => !run.whole)) notes.push('The beginning of the recording is missing.');
  for (const { file, readBytes, totalBytes } of cut) {
    notes.push(
      `${file} was cut off or is damaged: ${inWords.share(readBytes / totalBytes)} of it could be read.`,
    );
  }
  if (runs.length > 1) {
    notes.push(
      `The engine was started ${inWords.times(runs.length)}: it ended ${inWords.times(runs.length - 1)} when it should not have.`,
    );
  }
  return notes;
}
