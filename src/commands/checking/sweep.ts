import { readFileSync } from 'node:fs';
import { z } from 'zod';
import {
  SWEEP_HORIZON_S,
  SWEEP_RUNS,
  type SweepFigures,
  type SweepResult,
  sweepCase,
  worseThan,
} from '../../rehearsal/assessing/sweep.js';
import { SWEEP_CASES } from '../../rehearsal/assessing/sweep-cases.js';
import { messageOf } from '../../stage/message-of.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { numberOption, textOption } from '../terminal/option-values.js';
import { print, styled } from '../terminal/terminal.js';

const misuse = misuseOf('sweep');

export const SWEEP_HELP = `usage: lampwright sweep [--only TEXT] [--seed N] [--against FILE.json] [--json]

Runs the tracking, with its default settings, through ${SWEEP_CASES.length} hard feeds of half a minute, ${SWEEP_RUNS} times each: 5 to 120 reports
a second, jitter, 30 % of the reports lost, out of order, bursts of outliers, a sender's clock that
steps, heights that jump, circles, sudden changes of place, sockets that stall, a noise that is
declared too small, two trackers that disagree. Positions are predicted ${SWEEP_HORIZON_S} s ahead at every tick.

  --only TEXT        the cases whose name has TEXT in it
  --seed N           of the simulated feeds (1)
  --against FILE     the --json of an earlier run: says where a case is worse than it was
  --json             the same as JSON, for --against

  rmse, p95, worst   error across the floor, metres; height: RMS error of the height
  rough              RMS acceleration of the aim from tick to tick, m/s²
  jumps, trips       a minute: how often the track restarted elsewhere; how often the watchdog took the light away
  sure               share of the moments at full confidence that are more than 1 m off
  doubted            share of the moments within 0.5 m at which confidence is below 0.5

examples:
  lampwright sweep
  lampwright sweep --only circle
  lampwright sweep --json > before.json
  lampwright sweep --against before.json

exit codes: 0 ok, 1 a case is worse than in --against, 2 bad usage or file`;

const Figure = z.number().nullable();
/** JSON has no NaN. */
const Earlier = z.object({
  seed: z.number(),
  cases: z.array(
    z.object({
      name: z.string(),
      rmse: Figure,
      p95: Figure,
      worst: Figure,
      height: Figure,
      roughness: Figure,
      jumps: Figure,
      trips: Figure,
      sure: Figure,
      doubted: Figure,
    }),
  ),
});

export async function sweep(args: Arguments): Promise<number> {
  const faults: string[] = [];
  const seed = numberOption(args.values.seed, 'seed', 1, 0, 1_000_000, faults);
  const only = textOption(args.values.only) ?? '';
  const cases = SWEEP_CASES.filter(({ name }) => name.includes(only));
  if (cases.length === 0) faults.push(`--only: no case has "${only}" in its name.`);
  const against = textOption(args.values.against);
  const before = against === undefined ? undefined : readEarlier(against, faults);
  if (before !== undefined && before.seed !== seed) {
    faults.push(`${against} was made with --seed ${before.seed}, not ${seed}.`);
  }
  if (faults.length > 0) return misuse(...faults);
  const isJson = args.values.json === true;
  const isShown = !isJson && process.stderr.isTTY === true;
  const results = cases.map((one, i) => {
    if (isShown) process.stderr.write(`\r${i + 1} of ${cases.length}\x1b[K`);
    return sweepCase(one, seed);
  });
  if (isShown) process.stderr.write('\r\x1b[K');
  const worse = results.map(result => worseThan(before?.cases.get(result.name), result));
  print(
    isJson
      ? JSON.stringify(
          { seed, cases: results.map((result, i) => ({ ...result, worse: worse[i] })) },
          undefined,
          2,
        )
      : table(results, worse, before?.cases),
  );
  return worse.some(figures => figures.length > 0) ? EXIT.failed : EXIT.ok;
}

interface EarlierRun {
  readonly seed: number;
  readonly cases: ReadonlyMap<string, SweepFigures>;
}

function readEarlier(file: string, faults: string[]): EarlierRun | undefined {
  let value: unknown;
  try {
    value = JSON.parse(readFileSync(file, 'utf8'));
  } catch (error) {
    faults.push(`${file} can't be read: ${messageOf(error)}.`);
    return undefined;
  }
  const parsed = Earlier.safeParse(value);
  if (!parsed.success) {
    const [issue] = parsed.error.issues;
    const where = issue?.path.join('.') ?? '';
    faults.push(`${file} is not the --json of a sweep: ${where}: ${issue?.message}.`);
    return undefined;
  }
  const cases = parsed.data.cases.map(({ name, ...figures }): [string, SweepFigures] => {
    const numbers = Object.entries(figures).map(([key, figure]) => [key, figure ?? Number.NaN]);
    return [name, Object.fromEntries(numbers) as SweepFigures];
  });
  return { seed: parsed.data.seed, cases: new Map(cases) };
}

const NAME_WIDTH = 48;

function table(
  results: readonly SweepResult[],
  worse: readonly (readonly (keyof SweepFigures)[])[],
  before: ReadonlyMap<string, SweepFigures> | undefined,
): string {
  const cell = (text: string) => text.padStart(8);
  const head = ['rmse', 'p95', 'worst', 'height', 'rough', 'jumps', 'trips', 'sure', 'doubted'];
  const percent = (share: number) => `${(100 * share).toFixed(1)} %`;
  const rows = results.flatMap((r, i) => {
    const cells = [
      ...[r.rmse, r.p95, r.worst, r.height].map(value => value.toFixed(3)),
      ...[r.roughness, r.jumps, r.trips].map(value => value.toFixed(1)),
      ...[r.sure, r.doubted].map(percent),
    ];
    const earlier = before?.get(r.name);
    const figures = (worse[i] ?? []).map(
      key => `${key} ${earlier?.[key].toFixed(3)} -> ${r[key].toFixed(3)}`,
    );
    const line = `${r.name.padEnd(NAME_WIDTH)}${cells.map(cell).join('')}`;
    return figures.length === 0 ? [line] : [line, styled('red', `  worse: ${figures.join(', ')}`)];
  });
  const count = worse.filter(figures => figures.length > 0).length;
  return [
    styled('bold', `${''.padEnd(NAME_WIDTH)}${head.map(cell).join('')}`),
    ...rows,
    ...(before === undefined
      ? []
      : ['', `${count} of ${results.length} cases are worse than before`]),
  ].join('\n');
}
