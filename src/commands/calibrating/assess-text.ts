import type { Assessment } from '../../rehearsal/assessing/assess.js';
import {
  type ReliabilityBin,
  ReliabilitySheet,
  reliabilityFigures,
} from '../../rehearsal/assessing/reliability.js';
import type { Scores } from '../../rehearsal/assessing/scores.js';
import {
  type Comparison,
  compare,
  type Means,
  type Ratio,
  ratioToHold,
  ratioToPeer,
} from '../../rehearsal/assessing/summary.js';
import {
  type CurveFile,
  type HorizonPoint,
  horizonCurve,
} from '../../rehearsal/charts/horizon-curve.js';
import { DEFAULT_TRACKING_OPTIONS } from '../../tracking/options.js';
import { styled } from '../terminal/terminal.js';

/** The two kinds of recordings are never averaged together: a simulated sensor is no radio. */
export const KINDS = { measured: 'measured', truth: 'simulated sensor' } as const;
type Kind = (typeof KINDS)[keyof typeof KINDS];

export interface AssessedFile extends CurveFile {
  readonly file: string;
  readonly kind: Kind;
  readonly result: Assessment;
}

export interface AssessmentSummary {
  readonly fronts: Readonly<Record<string, Comparison>>;
  /** undefined unless it was asked for. */
  readonly horizons: Readonly<Record<string, readonly HorizonPoint[]>> | undefined;
  /** Over all files. */
  readonly reliability: readonly ReliabilityBin[];
}

export function summarise(files: readonly AssessedFile[], withCurve: boolean): AssessmentSummary {
  const all = new ReliabilitySheet();
  for (const { result } of files) all.addAll(result.reliability);
  const byKind = <T>(of: (these: readonly AssessedFile[]) => T): Record<string, T> =>
    Object.fromEntries(
      Object.values(KINDS).flatMap(kind => {
        const these = files.filter(file => file.kind === kind);
        return these.length === 0 ? [] : [[kind, of(these)]];
      }),
    );
  return {
    fronts: byKind(these => compare(these.map(({ result }) => result))),
    horizons: withCurve
      ? byKind(these => horizonCurve(these, DEFAULT_TRACKING_OPTIONS))
      : undefined,
    reliability: all.bins(),
  };
}

export function assessmentJson(
  results: readonly AssessedFile[],
  { fronts, horizons, reliability }: AssessmentSummary,
): string {
  const withoutRegion = ({ containment90: _, ...rest }: Scores) => rest;
  const files = results.map(({ file, kind, result }) => ({
    file,
    kind,
    lengthS: result.lengthS,
    reportsLagS: result.reportsLagS,
    ours: result.ours,
    hold: withoutRegion(result.hold),
    peers: Object.fromEntries(
      result.peers.map(({ name, scores }) => [name, withoutRegion(scores)]),
    ),
    againstHold: ratioToHold(result),
    againstRival: ratioToPeer(result, fronts[kind]?.rival ?? ''),
    reliability: reliabilityJson(result.reliability.bins()),
  }));
  // JSON has no NaN: JSON.stringify makes it null.
  return JSON.stringify(
    { files, fronts, horizons, reliability: reliabilityJson(reliability) },
    undefined,
    2,
  );
}

function reliabilityJson(bins: readonly ReliabilityBin[]) {
  return { ...reliabilityFigures(bins), bins };
}

const NAME_WIDTH = 28;
const cell = (text: string) => text.padStart(9);
const figure = (value: number, digits = 3) => (Number.isNaN(value) ? '-' : value.toFixed(digits));
const percent = (value: number, digits = 1) =>
  Number.isNaN(value) ? '-' : `${(100 * value).toFixed(digits)} %`;

export function assessmentText(
  results: readonly AssessedFile[],
  { fronts, horizons, reliability }: AssessmentSummary,
): string {
  return [
    ...results.flatMap(one => fileLines(one, fronts[one.kind])),
    ...Object.entries(fronts).flatMap(([kind, comparison]) => frontLines(kind, comparison)),
    ...Object.entries(horizons ?? {}).flatMap(([kind, points]) => curveLines(kind, points)),
    ...reliabilityLines(reliability),
  ].join('\n');
}

function fileLines({ file, result }: AssessedFile, comparison: Comparison | undefined): string[] {
  const head = ['rmse', 'median', 'p95', 'worst', 'jitter', 'rough', 'lag', 'in 90 %'].map(cell);
  const row = (name: string, s: Scores) =>
    `  ${name.padEnd(NAME_WIDTH)}${[s.rmse, s.median, s.p95, s.max, s.jitter].map(value => cell(figure(value))).join('')}${cell(figure(s.roughness, 1))}${cell(figure(s.lagS, 2))}${
      Number.isNaN(s.containment90) ? '' : cell(percent(s.containment90))
    }`;
  const shown = bestOfEachWay(result);
  return [
    styled('bold', file),
    `  ${'metres'.padEnd(NAME_WIDTH)}${head.join('')}`,
    row('lampwright', result.ours),
    row('hold, ungated', result.hold),
    ...shown.map(({ name, scores }) => row(name, scores)),
    `  as a share of holding ${ratioText(ratioToHold(result))}`,
    ...(comparison === undefined || comparison.rival === ''
      ? []
      : [
          `  as a share of "${comparison.rival}" ${ratioText(ratioToPeer(result, comparison.rival))}`,
        ]),
    `  ${lagText(result.reportsLagS)}`,
    '',
  ];
}

/** For each way, the setting that is closest on this file: the hardest to beat. */
function bestOfEachWay({ peers }: Assessment): Assessment['peers'] {
  const best = new Map<string, Assessment['peers'][number]>();
  for (const peer of peers) {
    const before = best.get(peer.setting.kind);
    if (before === undefined || peer.scores.rmse < before.scores.rmse) {
      best.set(peer.setting.kind, peer);
    }
  }
  return [...best.values()];
}

function ratioText({ ratio, low, high }: Ratio): string {
  const range = Number.isNaN(low)
    ? 'too short for an interval'
    : `${figure(low)} .. ${figure(high)}`;
  return `${figure(ratio)} (${range})`;
}

function lagText(lagS: number): string {
  if (Number.isNaN(lagS))
    return 'too little movement to tell whether the reports lag behind the truth';
  const word = lagS < 0 ? 'lead' : 'lag';
  return `the reports ${word} their truth by ${Math.abs(lagS).toFixed(2)} s`;
}

function frontLines(kind: string, comparison: Comparison): string[] {
  const { ours, peers, front, frontRmse, share } = comparison;
  const isFront = new Set(front.map(({ name }) => name));
  const steadiest = front[0]?.roughness ?? Number.NaN;
  const isSteadier = ours.roughness < steadiest;
  const head = ['rmse', 'median', 'p95', 'rough', 'lag'].map(cell).join('');
  const row = (name: string, m: Means) =>
    `  ${name.padEnd(NAME_WIDTH)}${[m.rmse, m.median, m.p95].map(value => cell(figure(value))).join('')}${cell(figure(m.roughness, 1))}${cell(figure(m.lagS, 2))}`;
  return [
    styled('bold', `${kind}: as a share of holding, geometric mean over the files`),
    `  ${'below 1 is better'.padEnd(NAME_WIDTH)}${head}`,
    row('lampwright', ours),
    ...peers.map(peer => row(`${peer.name}${isFront.has(peer.name) ? ' *' : ''}`, peer)),
    `  front (*) ${isSteadier ? `at ${figure(steadiest, 1)} m/s², as no peer is as steady` : 'at the same roughness'}: ` +
      `${figure(frontRmse)}; the tracker is ${figure(share)} of it`,
    '',
  ];
}

function curveLines(kind: string, points: readonly HorizonPoint[]): string[] {
  return [
    styled('bold', `${kind}: what a horizon costs, geometric mean over the files`),
    `  ${'horizon, s'.padEnd(12)}${['rmse', 'hold', 'share', 'in 90 %'].map(cell).join('')}`,
    ...points.map(
      ({ horizonS, rmse, holdRmse, containment90 }) =>
        `  ${String(horizonS).padEnd(12)}${[rmse, holdRmse, rmse / holdRmse].map(value => cell(figure(value))).join('')}${cell(percent(containment90))}`,
    ),
    '',
  ];
}

function reliabilityLines(bins: readonly ReliabilityBin[]): string[] {
  const { offAtFull, goodLost } = reliabilityFigures(bins);
  const rows = bins
    .filter(({ moments }) => moments > 0)
    .map(({ from, to, moments, within50cm, within1m }) => {
      const range = from === 1 ? '1' : `${from} .. ${to}`;
      return `  ${range.padEnd(16)}${String(moments).padStart(9)}${cell(percent(within50cm))}${cell(percent(within1m))}`;
    });
  return [
    styled('bold', 'what confidence is worth, over all files'),
    `  ${'confidence'.padEnd(16)}${['moments', '< 0.5 m', '< 1 m'].map(cell).join('')}`,
    ...rows,
    `  more than 1 m off at full confidence: ${percent(offAtFull, 2)}`,
    `  within 0.5 m, and confidence below a half: ${percent(goodLost, 2)}`,
  ];
}
