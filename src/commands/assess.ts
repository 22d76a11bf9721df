import { mkdirSync, writeFileSync } from 'node:fs';
import { basename, join } from 'node:path';
import {
  type Assessment,
  assess as assessPassages,
  geometricMeans,
  type Passage,
  type Step,
} from '../rehearsal/assess.js';
import { PEERS } from '../rehearsal/peers.js';
import { plotSteps } from '../rehearsal/plot.js';
import { parseRecording, type Recording } from '../rehearsal/recording.js';
import type { Scores } from '../rehearsal/scores.js';
import { DEFAULT_SENSOR, simulateSensor } from '../rehearsal/sensor.js';
import { messageOf } from '../stage/message-of.js';
import { DEFAULT_TRACKING_OPTIONS } from '../tracking/options.js';
import type { Arguments } from './cli.js';
import { EXIT } from './exit-codes.js';
import { misuseOf } from './misuse.js';
import { numberOption } from './option-values.js';
import { print, styled } from './terminal.js';
import { readParsed } from './text-files.js';

const misuse = misuseOf('assess');

/** One run of a few seconds may have no burst of outliers, or three; this many say more. */
const RUNS = 10;

export const ASSESS_HELP = `usage: lampwright assess FILE.csv... [--horizon S] [--latency S] [--rate HZ] [--noise M]
                         [--seed N] [--json] [--plot FOLDER]

Runs the tracker, as it is by default, over recordings with a known truth, and says how far its
predictions were off across the floor, beside those of simpler ways: holding the last report,
exponential smoothing, the 1-euro filter and a constant-velocity Kalman filter.

A file has the columns t_s,mx,my,mz,tx,ty,tz (measured and true; seconds, metres), or t_s,x,y,z with
or without id (true only): then a seeded sensor is simulated over it, ${RUNS} times.

  --horizon S     how far ahead of a report it is predicted, seconds (0.1)
  --latency S     how old a report is when it arrives: predicted ahead as well, seconds (0)
  --rate HZ       reports a second of the simulated sensor (${DEFAULT_SENSOR.rateHz})
  --noise M       its noise, standard deviation along one axis, metres (${DEFAULT_SENSOR.noiseM})
  --seed N        of the simulated sensor (1)
  --json          { files: [{ file, ours, peers }], geomean }; null where there is too little to tell
  --plot FOLDER   writes an SVG a file: track against truth over time

  jitter          movement from one report to the next while the truth is slower than 0.05 m/s
  in 90 %         share of the truth within the region that the tracker gives for 90 %

examples:
  lampwright assess rehearsal.csv
  lampwright assess walk.csv --latency 0.18 --json | jq .geomean
  lampwright assess dance.csv --rate 25 --noise 0.05 --plot plots

exit codes: 0 ok, 2 bad usage or a file that can't be read`;

interface Settings {
  readonly aheadS: number;
  readonly rateHz: number;
  readonly noiseM: number;
  readonly seed: number;
}

const LIMITS = {
  horizon: { low: 0, high: 5, otherwise: 0.1 },
  latency: { low: 0, high: 5, otherwise: 0 },
  rate: { low: 1, high: 1000, otherwise: DEFAULT_SENSOR.rateHz },
  noise: { low: 0, high: 10, otherwise: DEFAULT_SENSOR.noiseM },
  seed: { low: 0, high: 1_000_000, otherwise: 1 },
} as const;

export async function assess(args: Arguments): Promise<number> {
  const faults: string[] = [];
  const number = (name: keyof typeof LIMITS): number => {
    const { low, high, otherwise } = LIMITS[name];
    return numberOption(args.values[name], name, otherwise, low, high, faults);
  };
  const settings: Settings = {
    aheadS: number('horizon') + number('latency'),
    rateHz: number('rate'),
    noiseM: number('noise'),
    seed: number('seed'),
  };
  const files = args.positionals.flatMap(file => {
    const recording = readParsed(file, parseRecording, faults);
    return recording === undefined ? [] : [{ file, recording }];
  });
  if (faults.length > 0) return misuse(...faults);
  const folder = args.values.plot;
  const results: { file: string; result: Assessment }[] = [];
  for (const { file, recording } of files) {
    const passages = passagesOf(recording, settings);
    const steps: Step[][] = [];
    const result = assessPassages(passages, DEFAULT_TRACKING_OPTIONS, settings.aheadS, step => {
      // Time goes backwards where the next passage begins.
      if (!((steps.at(-1)?.at(-1)?.timeS ?? Number.POSITIVE_INFINITY) < step.timeS)) steps.push([]);
      steps.at(-1)?.push(step);
    });
    results.push({ file, result });
    if (typeof folder === 'string') {
      const name = basename(file).replace(/\.csv$/i, '');
      try {
        mkdirSync(folder, { recursive: true });
        writeFileSync(join(folder, `${name}.svg`), plotSteps(name, steps[0] ?? []));
      } catch (error) {
        return misuse(`can't write to ${folder}: ${messageOf(error)}.`);
      }
    }
  }
  print(args.values.json === true ? json(results) : table(results));
  return EXIT.ok;
}

function passagesOf(recording: Recording, { rateHz, noiseM, seed }: Settings): readonly Passage[] {
  if (recording.kind === 'measured') return [recording.passage];
  const { truths } = recording;
  const sensor = { ...DEFAULT_SENSOR, rateHz, noiseM };
  return Array.from({ length: RUNS }, (_, run) =>
    truths.map((truth, person) => ({
      truth,
      // Far enough apart that no two runs or people share a seed.
      sightings: simulateSensor(truth, sensor, (seed * RUNS + run) * 1000 + person),
    })),
  ).flat();
}

function json(results: readonly { file: string; result: Assessment }[]): string {
  const withoutRegion = ({ containment90: _, ...rest }: Scores) => rest;
  const files = results.map(({ file, result }) => ({
    file,
    ours: result.ours,
    peers: Object.fromEntries(PEERS.map(name => [name, withoutRegion(result.peers[name])])),
  }));
  const geomean = geometricMeans(results.map(({ result }) => result));
  // JSON has no NaN: JSON.stringify makes it null.
  return JSON.stringify({ files, geomean }, undefined, 2);
}

function table(results: readonly { file: string; result: Assessment }[]): string {
  const metres = (value: number) => (Number.isNaN(value) ? '-' : value.toFixed(3)).padStart(9);
  const head = ['rmse', 'median', 'p95', 'worst', 'jitter', 'in 90 %'].map(text =>
    text.padStart(9),
  );
  const row = (name: string, s: Scores) =>
    `  ${name.padEnd(18)}${[s.rmse, s.median, s.p95, s.max, s.jitter].map(metres).join('')}${
      Number.isNaN(s.containment90) ? '' : `${(100 * s.containment90).toFixed(1)} %`.padStart(9)
    }`;
  const lines = results.flatMap(({ file, result }) => [
    styled('bold', file),
    `  ${'metres'.padEnd(18)}${head.join('')}`,
    row('ours', result.ours),
    ...PEERS.map(name => row(LABELS[name], result.peers[name])),
    '',
  ]);
  const means = geometricMeans(results.map(({ result }) => result));
  return [
    ...lines,
    styled('bold', 'as a share of holding, geometric mean over the files'),
    `  ${'below 1 is better'.padEnd(18)}${['rmse', 'p95', 'jitter'].map(text => text.padStart(9)).join('')}`,
    ...(['ours', 'exponential', 'oneEuro', 'constantVelocity'] as const).map(
      name =>
        `  ${LABELS[name].padEnd(18)}${[means[name].rmse, means[name].p95, means[name].jitter].map(metres).join('')}`,
    ),
  ].join('\n');
}

const LABELS = {
  ours: 'ours',
  hold: 'hold',
  exponential: 'exponential',
  oneEuro: '1-euro',
  constantVelocity: 'constant velocity',
} as const;
