import { statSync, writeFileSync } from 'node:fs';
import { basename, join } from 'node:path';
import { makeFolderNow } from '../../daemon/files/make-folder.js';
import { PART_SUFFIX } from '../../recording/layout.js';
import {
  type AssessTiming,
  assess as assessPassages,
  type Step,
} from '../../rehearsal/assessing/assess.js';
import { parseRecording, passagesOf, RUNS } from '../../rehearsal/assessing/recording.js';
import { drawFronts } from '../../rehearsal/charts/front-picture.js';
import { drawHorizonCurves } from '../../rehearsal/charts/horizon-curve.js';
import { plotSteps } from '../../rehearsal/charts/plot.js';
import { drawReliability } from '../../rehearsal/charts/reliability-picture.js';
import { DEFAULT_SENSOR } from '../../rehearsal/sensors/sensor.js';
import { messageOf } from '../../stage/message-of.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../tracking/options.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { numberOption } from '../terminal/option-values.js';
import { print } from '../terminal/terminal.js';
import { readParsed } from '../terminal/text-files.js';
import {
  type AssessedFile,
  assessmentJson,
  assessmentText,
  KINDS,
  summarise,
} from './assess-text.js';

const misuse = misuseOf('assess');

export const ASSESS_HELP = `usage: lampwright assess FILE.csv... [--horizon S] [--latency S] [--lag S] [--rate HZ]
                         [--noise M] [--seed N] [--curve] [--json] [--plot FOLDER]

Runs the tracking, with its default settings, over recordings with a known truth. Says how far its
predictions were off on the floor at every tick of 40 Hz, gaps included, compared with simpler
methods behind a plain speed gate: holding the last report, exponential smoothing, the 1-euro filter
and a Kalman filter with damped velocity, each in several settings.

Each file is a table, CSV, with the columns t_s,mx,my,mz,tx,ty,tz (measured and true; seconds, metres),
or t_s,x,y,z with or without id (true only): then a seeded sensor is simulated over it, ${RUNS} times. A
recording of \`run --record\` has no truth: that one is for \`report\` and \`tune\`.

  --horizon S     from the tick to the light: how far ahead of a tick is predicted, seconds (0.1)
  --latency S     a report arrives S later than its time in the file, and brings no time of its own: a
                  slow network or sensor, declared as the show's sensorLatency, seconds (0)
  --lag S         the times in the file are themselves S later than the places were true: the tracker
                  is told so, and truth is compared at the file's times, seconds (0)
  --rate HZ       reports a second of the simulated sensor (${DEFAULT_SENSOR.rateHz})
  --noise M       its noise, standard deviation along one axis, metres (${DEFAULT_SENSOR.noiseM})
  --seed N        of the simulated sensor (1)
  --curve         also at horizons from 0 to 0.5 s: the cost of a longer horizon
  --json          everything, with each method in each setting; null where there is too little data
  --plot FOLDER   writes front.svg (error against roughness), reliability.svg (what confidence is
                  worth), with --curve horizon.svg, and an SVG a file: track against truth over time

  rough           RMS acceleration of the aim from tick to tick, m/s²: what a light would do
  lag             by how much the aim comes after the truth, seconds
  jitter          movement from one tick to the next while the truth is slower than 0.05 m/s
  in 90 %         share of the truth within the region that the tracker gives for 90 %
  front           the methods that no other beats in both error and roughness; the tracking is compared
                  with the front at its own roughness
  a .. b          90 % interval of a ratio (bootstrap over blocks of 5 s)

examples:
  lampwright assess rehearsal.csv
  lampwright assess walk.csv --lag 0.18 --json | jq .fronts
  lampwright assess dance.csv --rate 25 --noise 0.05 --plot plots

exit codes: 0 ok, 2 bad usage or a file that can't be read`;

const LIMITS = {
  horizon: { low: 0, high: 5, otherwise: 0.1 },
  latency: { low: 0, high: 5, otherwise: 0 },
  lag: { low: 0, high: 5, otherwise: 0 },
  rate: { low: 1, high: 1000, otherwise: DEFAULT_SENSOR.rateHz },
  noise: { low: 0, high: 10, otherwise: DEFAULT_SENSOR.noiseM },
  seed: { low: 0, high: 1_000_000, otherwise: 1 },
} as const;

/** A folder, or a part of a recording. */
function isOfDaemon(file: string): boolean {
  return (
    file.endsWith(PART_SUFFIX) || statSync(file, { throwIfNoEntry: false })?.isDirectory() === true
  );
}

export async function assess(args: Arguments): Promise<number> {
  const faults: string[] = [];
  const number = (name: keyof typeof LIMITS): number => {
    const { low, high, otherwise } = LIMITS[name];
    return numberOption(args.values[name], name, otherwise, low, high, faults);
  };
  const timing: AssessTiming = {
    horizonS: number('horizon'),
    latencyS: number('latency'),
    lagS: number('lag'),
  };
  const sensor = { ...DEFAULT_SENSOR, rateHz: number('rate'), noiseM: number('noise') };
  const seed = number('seed');
  const files = args.positionals.flatMap(file => {
    if (isOfDaemon(file)) {
      faults.push(
        `${file}: assess compares with the true positions, which a recording of \`lampwright run --record\` does not have. ` +
          'It takes CSV files with the columns t_s,mx,my,mz,tx,ty,tz (measured and true) or t_s,x,y,z (true only). ' +
          'Of such a recording `lampwright report` says where the tracking was weak, and `lampwright tune` finds settings.',
      );
      return [];
    }
    const recording = readParsed(file, parseRecording, faults);
    return recording === undefined ? [] : [{ file, recording }];
  });
  if (faults.length > 0) return misuse(...faults);
  const pictures = new Map<string, string>();
  const results = files.map(({ file, recording }): AssessedFile => {
    const passages = passagesOf(recording, { seed, sensor });
    const steps: Step[][] = [];
    const result = assessPassages(passages, DEFAULT_TRACKING_OPTIONS, timing, step => {
      // Time jumps back at the start of the next passage.
      if (!((steps.at(-1)?.at(-1)?.timeS ?? Number.POSITIVE_INFINITY) < step.timeS)) steps.push([]);
      steps.at(-1)?.push(step);
    });
    const name = basename(file).replace(/\.csv$/i, '');
    pictures.set(name, plotSteps(name, steps[0] ?? []));
    return { file, kind: KINDS[recording.kind], result, passages, timing };
  });
  const summary = summarise(results, args.values.curve === true);
  pictures.set('front', drawFronts(summary.fronts));
  pictures.set('reliability', drawReliability(summary.reliability));
  if (summary.horizons !== undefined) pictures.set('horizon', drawHorizonCurves(summary.horizons));
  const folder = args.values.plot;
  if (typeof folder === 'string') {
    try {
      makeFolderNow(folder);
      for (const [name, svg] of pictures) writeFileSync(join(folder, `${name}.svg`), svg);
    } catch (error) {
      return misuse(`can't write to ${folder}: ${messageOf(error)}.`);
    }
  }
  print(
    args.values.json === true ? assessmentJson(results, summary) : assessmentText(results, summary),
  );
  return EXIT.ok;
}
