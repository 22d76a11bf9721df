import { counted } from '../../engine/events/event-words.js';
import { type ComparisonResult, ShowComparison } from '../../recording/comparison.js';
import { type FrameDifference, Replay, type ReplayedRun } from '../../recording/replay.js';
import type { Show } from '../../show/model/model.js';
import { comparisonText } from '../files/comparison-text.js';
import { openExplainFile } from '../files/explain-file.js';
import {
  type CutPart,
  findRecording,
  type PartsRead,
  readParts,
} from '../files/recording-files.js';
import { loadShow } from '../files/show-file.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { refuse } from '../terminal/refuse.js';
import { complain, print, styled } from '../terminal/terminal.js';
import { clock, dayAndClock, duration } from '../terminal/times.js';

const misuse = misuseOf('replay');

export const REPLAY_HELP = `usage: lampwright replay REC [--show OTHER] [--json] [--explain FILE]

Runs the engine over a recording made with \`lampwright run --record DIR\`, faster than real time, and says
whether every frame comes out the same, byte for byte, and if not, at which tick it first differs.
REC is the folder of one run of the daemon (or a folder with only that one in it), or one of its files.

  --show OTHER     what another show would have done with the same input, fixture by fixture
  --explain FILE   how the tracking treated every report, and why: .csv, .jsonl, or .lwrec for records
                   of the recording format
  --json           the result as JSON: { ok, show, runs: [...], cut: [...], other }

examples:
  lampwright replay recordings/2026-11-25T19-30-00Z-the-salt-lantern
  lampwright replay recordings --show config/salt-lantern.show.yaml
  lampwright replay recordings --explain reports.csv

exit codes: 0 the frames are the same, or --show was given; 1 they differ;
2 bad usage, no such recording, or one that can't be read`;

export async function replay(args: Arguments): Promise<number> {
  const path = args.positionals[0] ?? '';
  const found = findRecording(path);
  if (!found.ok) return misuse(found.fault);
  const otherFile = args.values.show;
  const other = otherFile === undefined ? undefined : loadShow(String(otherFile));
  if (other !== undefined && !other.ok) return refuse(other.problems);
  const explain = openExplainFile(args.values.explain);
  if (!explain.ok) return misuse(explain.fault);

  const comparisons: ShowComparison[] = [];
  const began = performance.now();
  const replayed = new Replay({
    began: run => {
      if (other !== undefined) comparisons.push(new ShowComparison(run, other.show));
      explain.file?.begin(run);
    },
    intake: (_, record, asked) => {
      explain.file?.intake(record);
      comparisons.at(-1)?.intake(record, asked);
    },
    ticked: tick => comparisons.at(-1)?.ticked(tick),
  });
  const parts = readParts(found.files.engine, item => replayed.take(item), found.files.supervisor);
  const { cut, fault } = parts;
  const runs = replayed.finish();
  const written = explain.file?.close();
  const tookS = (performance.now() - began) / 1e3;
  if (fault !== undefined) return misuse(fault);
  if (runs.length === 0) {
    for (const part of cut) complain(cutText(part));
    return misuse(`there is no recorded engine in ${path} to run again.`);
  }
  if (written !== undefined) return misuse(written);
  const results = comparisons.map(one => one.result());
  const ok = runs.every(isSame);
  print(
    args.values.json === true
      ? JSON.stringify(asJson(runs, cut, tookS, ok, results, other?.show.name), undefined, 2)
      : text(runs, parts, tookS, results, other?.show),
  );
  return ok || other !== undefined ? EXIT.ok : EXIT.failed;
}

/** Whether it passes: the same frames, or a run with a missing beginning or middle, in which differences are no fault. */
function isSame(run: ReplayedRun): boolean {
  return (run.differing === 0 && run.eventsDiffering === 0) || !run.whole || run.gaps > 0;
}

function text(
  runs: readonly ReplayedRun[],
  { cut, empty, endsEmpty }: PartsRead,
  tookS: number,
  results: readonly ComparisonResult[],
  other: Show | undefined,
): string {
  const [first] = runs;
  if (first === undefined) return '';
  const { start } = first;
  const lines = [
    `${styled('bold', first.show.name)}, recorded ${dayAndClock(start.atS + start.unixOffsetS)} by lampwright ${start.version} (Node ${start.node})`,
    `  ${'run'.padEnd(5)}${'from'.padEnd(10)}${'length'.padEnd(10)}${'ticks'.padStart(9)}  `,
    ...runs.flatMap((run, index) => runLines(run, index, endsEmpty && index === runs.length - 1)),
    ...cut.map(cutText),
    ...(empty.length === 0 ? [] : [emptyText(empty)]),
  ];
  const lengthS = runs.reduce((sum, run) => sum + run.toS - run.fromS, 0);
  lines.push(
    `  ${duration(lengthS)} replayed in ${tookS.toFixed(1)} s, ${Math.round(lengthS / tookS)} times real time`,
  );
  if (other !== undefined) {
    results.forEach((result, index) => {
      lines.push('', ...comparisonText(result, other, results.length > 1 ? index + 1 : undefined));
    });
  }
  return lines.join('\n');
}

/** @param isUnwritten the disk took no more of it */
function runLines(run: ReplayedRun, index: number, isUnwritten: boolean): string[] {
  const { start, fromS, toS, ticks } = run;
  const head = `  ${String(index + 1).padEnd(5)}${clock(fromS + start.unixOffsetS).padEnd(10)}${duration(toS - fromS).padEnd(10)}${String(ticks).padStart(9)}  `;
  const indent = ' '.repeat(7);
  const lines: string[] = [];
  const missing = missingOf(run);
  const why = missing === '' ? '' : `${missing}, so frames may differ: `;
  if (run.differing === 0 && run.eventsDiffering === 0) {
    lines.push(
      `${head}${styled('green', 'the same, byte for byte')}${missing === '' ? '' : `; ${missing}`}`,
    );
  } else if (run.first === undefined) {
    const what =
      run.differing > 0
        ? `the recording has ${run.differing} more ticks`
        : `the same frames, but other events in ${run.eventsDiffering} ticks`;
    lines.push(`${head}${why}${styled('red', what)}`);
  } else {
    lines.push(
      `${head}${why}${styled('red', `differs from tick ${run.first.tick} on`)}, in ${run.differing} of ${run.compared} frames`,
      ...differenceLines(run.first).map(line => indent + line),
    );
  }
  if (run.failed !== undefined) {
    lines.push(`${indent}the engine fails at tick ${run.failed.tick}: ${run.failed.message}`);
  } else if (!run.endedCleanly && isUnwritten) {
    lines.push(`${indent}nothing more was recorded: the disk was full, or took nothing`);
  } else if (!run.endedCleanly) {
    lines.push(`${indent}it did not end cleanly: the engine or the machine crashed or was killed`);
  }
  return lines;
}

/** What the recording lacks: differences that come from that are no fault of this version. */
function missingOf({ whole, gaps }: ReplayedRun): string {
  const missing = [
    ...(whole ? [] : ['its beginning is missing']),
    ...(gaps > 0 ? [`records are missing in ${counted(gaps, 'place')}`] : []),
  ];
  return missing.join(', and ');
}

function differenceLines({ unixS, slots, slotCount }: FrameDifference): string[] {
  const lines = slots.map(
    ({ universe, slot, fixture, attribute, recorded, replayed }) =>
      `${universe}/${slot}${fixture === undefined ? '' : ` (${fixture}${attribute === undefined ? '' : ` ${attribute}`})`}: was ${recorded}, is ${replayed}`,
  );
  if (slotCount > slots.length) lines.push(`and ${slotCount - slots.length} more slots`);
  return [`at ${clock(unixS)}, in ${slotCount} slots:`, ...lines.map(line => `  ${line}`)];
}

function cutText({ file, readBytes, totalBytes, fault }: CutPart): string {
  return `  ${file}: ${fault}; ${readBytes} of ${totalBytes} bytes could be read`;
}

function emptyText(empty: readonly string[]): string {
  const [first = ''] = empty;
  const what =
    empty.length === 1
      ? `${first} is empty`
      : `${counted(empty.length, 'part')} from ${first} on are empty`;
  return `  ${what}: the disk was full, or took nothing`;
}

function asJson(
  runs: readonly ReplayedRun[],
  cut: readonly CutPart[],
  tookS: number,
  ok: boolean,
  results: readonly ComparisonResult[],
  otherName: string | undefined,
) {
  return {
    ok,
    show: runs[0]?.show.name,
    tookS,
    runs: runs.map(({ show: _, view: __, start, ...rest }) => ({
      version: start.version,
      node: start.node,
      showFile: start.showFile,
      beganUnixS: start.atS + start.unixOffsetS,
      ...rest,
    })),
    cut,
    other: otherName === undefined ? undefined : { show: otherName, runs: results },
  };
}
