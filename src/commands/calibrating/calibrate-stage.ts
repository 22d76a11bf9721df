import { type Finding, hasError, metres } from '../../calibration/finding.js';
import { fitFrame } from '../../calibration/frame.js';
import type { FrameFit, FrameOptions, Marker } from '../../calibration/frame-data.js';
import {
  type FrameValues,
  frameJson,
  framePicture,
  frameTable,
  frameValues,
  standingTable,
} from '../../calibration/frame-report.js';
import {
  type MarkerPlace,
  markersFault,
  parseMarkers,
  parsePoints,
} from '../../calibration/markers.js';
import {
  averageStanding,
  type Report,
  type Standing,
  type StandingFault,
} from '../../calibration/standing.js';
import type { Change } from '../../editing/propose.js';
import type { InputPlan, Show } from '../../show/model/model.js';
import { unreachable } from '../../stage/unreachable.js';
import { inputOf, printFindings, readFile } from '../files/calibrate-options.js';
import { handOver, proposalFor, writeFor } from '../files/proposal.js';
import { recordedReports } from '../files/recorded-reports.js';
import { type LoadedShow, loadShow } from '../files/show-file.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseWithHelpOf } from '../terminal/misuse.js';
import { numberOption, textOption } from '../terminal/option-values.js';
import { refuse } from '../terminal/refuse.js';
import { complain, print, styled } from '../terminal/terminal.js';
import { hearMarkers } from './hear-markers.js';

const misuse = misuseWithHelpOf('calibrate stage');

export const CALIBRATE_STAGE_HELP = `usage: lampwright calibrate stage SHOW --points FILE.csv [OPTIONS]
       lampwright calibrate stage SHOW --markers FILE.csv --recording FILE.csv [OPTIONS]
       lampwright calibrate stage SHOW --markers FILE.csv [OPTIONS]

Fits the frame of a tracking system to the stage frame, and proposes \`origin\` and \`turn\` of the
input as a diff. The places come from surveyed points, from trackers on markers in a recording, or
from trackers on markers heard live on the input of the show (stop \`run\` first). Four markers are
good: the origin, one along x, one along y, and one elsewhere to check.

  --points FILE      name,x,y,z,tx,ty,tz[,use]: on the stage, and as tracked; metres
  --markers FILE     name,x,y,z[,use,tracker,from_s,to_s]: on the stage (a tracker that stands higher
                     has its z), which tracker is there, and in which stretch of a recording;
                     use is fit or check
  --recording PATH   a recording of \`run --record\` (its folder, or a part), seconds from its beginning; or
                     a file t_s,tracker,x,y,z: reports as the input's routes read them, metres
  --seconds S        averaging time for each marker, seconds (10)
  --input NAME       the input, where the show has several
  --tracker ID       the tracker that is carried from marker to marker, if the markers name none
  --tolerance M      a marker that is farther off counts as wrong, metres (0.15)
  --level            both floors are level: fit only the turn about the vertical
  --scale            fit the scale as well, from the tape
  --save FILE        write the averaged points, for use with --points
  --patch FILE       write the proposed change to a new file, for \`patch\` or \`git apply -p0\`
  --plot FILE.svg    the stage from above, with the error at each marker
  --json             { ok, input, frame, markers, scale, tiltDeg, findings, standings, patch, ... }

examples:
  lampwright calibrate stage config/salt-lantern.show.yaml --points config/examples/salt-lantern.points.csv
  lampwright calibrate stage config/salt-lantern.show.yaml --markers config/examples/salt-lantern.markers.csv \\
    --recording config/examples/salt-lantern.floor.csv --plot frame.svg --patch frame.patch
  patch config/salt-lantern.show.yaml frame.patch

Markers are taped where people walk: agree with the venue's staff on when you have the floor.

exit codes: 0 a frame was found, 1 the markers are not good enough (it says why), 2 bad usage or file,
3 a fault while listening`;

interface Measured {
  readonly markers: readonly Marker[];
  readonly standings: readonly { readonly name: string; readonly standing: Standing }[];
  readonly findings: readonly Finding[];
}

interface StageOptions {
  readonly seconds: number;
  readonly toleranceM: number;
  readonly level: boolean;
  readonly fitScale: boolean;
  readonly tracker: string | undefined;
}

export async function calibrateStage(args: Arguments): Promise<number> {
  const { values, positionals } = args;
  const file = positionals[0];
  if (file === undefined || positionals.length > 1) {
    return misuse(
      file === undefined
        ? 'the path of a show file is missing.'
        : `unexpected argument "${positionals[1]}".`,
    );
  }
  const faults: string[] = [];
  const options: StageOptions = {
    seconds: numberOption(values.seconds, 'seconds', 10, 1, 600, faults),
    toleranceM: numberOption(values.tolerance, 'tolerance', 0.15, 0.01, 5, faults),
    level: values.level === true,
    fitScale: values.scale === true,
    tracker: textOption(values.tracker),
  };
  const sources = ['points', 'markers'].filter(name => values[name] !== undefined);
  if (sources.length !== 1) faults.push('give either --points or --markers.');
  if (values.recording !== undefined && values.markers === undefined)
    faults.push('--recording goes with --markers.');
  if (faults.length > 0) return misuse(...faults);

  const loaded = loadShow(file);
  if (!loaded.ok) return refuse(loaded.problems);
  const input = inputOf(loaded.show, textOption(values.input));
  if (typeof input === 'string') return misuse(input);

  const measured = await measure(args, loaded.show, input, options);
  if (typeof measured === 'number') return measured;
  const save = textOption(values.save);
  if (save !== undefined && !writeFor(save, pointsText(measured.markers), '--save'))
    return EXIT.usage;
  return conclude(args, loaded.show, loaded, file, input, options, measured);
}

/** Whether markers are farther from the stage than can be right; prints a message if so. */
function isFarOff(
  file: string,
  places: readonly Pick<MarkerPlace, 'name' | 'stage'>[],
  { bounds }: Show,
): boolean {
  const fault = markersFault(places, bounds);
  if (fault !== undefined) complain(`lampwright calibrate stage: ${file}: ${fault}`);
  return fault !== undefined;
}

/** @returns the markers, or the exit code */
async function measure(
  { values }: Arguments,
  show: Show,
  input: InputPlan,
  options: StageOptions,
): Promise<Measured | number> {
  const points = textOption(values.points);
  if (points !== undefined) {
    const markers = readFile(points, parsePoints);
    if (markers === undefined || isFarOff(points, markers, show)) return EXIT.usage;
    return { markers, standings: [], findings: [] };
  }
  const markersFile = textOption(values.markers) ?? '';
  const places = readFile(markersFile, parseMarkers);
  if (places === undefined || isFarOff(markersFile, places, show)) return EXIT.usage;
  const recording = textOption(values.recording);
  if (recording !== undefined) {
    const reports = recordedReports(recording, show, input.name);
    if (reports === undefined) return EXIT.usage;
    return averageMarkers(places, options, place => {
      const all = reports.get(place.tracker ?? options.tracker ?? onlyKey(reports)) ?? [];
      return all.filter(report => report.timeS >= place.fromS && report.timeS <= place.toS);
    });
  }
  const heard = await hearMarkers(places, input, options);
  if (!heard.ok) {
    complain(`lampwright calibrate stage: ${heard.why}`);
    return heard.code;
  }
  return averageMarkers(places, options, place => heard.reports.get(place.name) ?? []);
}

function averageMarkers(
  places: readonly MarkerPlace[],
  { seconds, toleranceM }: StageOptions,
  reportsOf: (place: MarkerPlace) => readonly Report[],
): Measured {
  const markers: Marker[] = [];
  const standings: { name: string; standing: Standing }[] = [];
  const findings: Finding[] = [];
  for (const place of places) {
    const { name, stage, use } = place;
    const result = averageStanding(reportsOf(place), { seconds, mostDriftM: toleranceM });
    if (result.ok) {
      const { standing } = result;
      markers.push({ name, stage, tracking: standing.mean, errorM: standing.errorM, use });
      standings.push({ name, standing });
      findings.push(...doubtsOf(name, standing));
    } else findings.push(faultOf(name, result.fault));
  }
  return { markers, standings, findings };
}

/** Warns if a tenth of the reports were outliers, or if there was a second of silence. */
function doubtsOf(name: string, { reports, outliers, longestGapS }: Standing): Finding[] {
  if (outliers <= 0.1 * reports && longestGapS <= 1) return [];
  return [
    {
      level: 'warning',
      code: 'marker-noisy',
      what: `on "${name}", ${outliers} of ${reports} reports were outliers, and the longest silence was ${longestGapS.toFixed(1)} s.`,
      act: 'Make sure that nobody stands between the tracker and the anchors, and average it again.',
    },
  ];
}

function faultOf(name: string, fault: StandingFault): Finding {
  const error = (what: string, act: string): Finding => ({
    level: 'error',
    code: `marker-${fault.kind}`,
    what,
    act,
  });
  switch (fault.kind) {
    case 'none':
      return error(
        `nothing was received from the tracker on "${name}".`,
        'Check its number, its battery, and the part of the recording (from_s, to_s).',
      );
    case 'few':
      return error(
        `"${name}" has ${fault.reports} reports; at least ${fault.needed} are needed.`,
        'Average for longer, or find out why so few arrive.',
      );
    case 'short':
      return error(
        `"${name}" was heard for ${fault.spanS.toFixed(1)} s; ${fault.neededS.toFixed(1)} s are needed.`,
        'Average for longer, or give a shorter time with --seconds.',
      );
    case 'moved':
      return error(
        `the tracker on "${name}" moved by ${metres(fault.driftM)} while it was averaged.`,
        'Put it down, step back, and average it again; in a recording, choose the part in which it stands.',
      );
    default:
      return unreachable(fault);
  }
}

function conclude(
  { values }: Arguments,
  show: Show,
  loaded: LoadedShow,
  file: string,
  input: InputPlan,
  options: StageOptions,
  measured: Measured,
): number {
  const frameOptions: FrameOptions = {
    now: { origin: input.origin, rotation: input.rotation, scale: input.scale },
    fitScale: options.fitScale,
    level: options.level,
    toleranceM: options.toleranceM,
    bounds: show.bounds,
  };
  // With a marker missing, findings about the rest would mislead.
  const result = hasError(measured.findings)
    ? ({ ok: false, findings: [] } as const)
    : fitFrame(measured.markers, frameOptions);
  const fit: FrameFit | undefined = result.ok ? result.fit : undefined;
  const findings = [...measured.findings, ...(result.ok ? result.fit.findings : result.findings)];
  const frame = fit === undefined ? undefined : frameValues(fit.placement, options.level);

  let patch: string | undefined;
  if (frame !== undefined && !hasError(findings)) {
    const proposed = proposalFor(loaded, file, changesOf(input, frame));
    if (typeof proposed === 'string') {
      findings.push({
        level: 'error',
        code: 'not-written',
        what: proposed,
        act: 'Set it by hand.',
      });
    } else patch = proposed.patch;
  }
  const failed = hasError(findings);
  const json = values.json === true;
  if (json) {
    const result = {
      ok: !failed,
      input: input.name,
      ...(fit === undefined || frame === undefined ? {} : frameJson(fit, frame)),
      standings: measured.standings.map(({ name, standing }) => ({ name, ...standing })),
      findings,
      patch: patch ?? null,
    };
    print(JSON.stringify(result, undefined, 2));
  } else {
    printReport(show, input, measured, fit, frame, findings);
  }
  const plot = textOption(values.plot);
  if (plot !== undefined && fit !== undefined) {
    const picture = framePicture(show.name, input.name, fit, show.bounds);
    if (!writeFor(plot, picture, '--plot')) return EXIT.usage;
  }
  if (patch !== undefined && !failed) {
    if (!json) print('');
    if (!handOver({ patch }, file, textOption(values.patch), json)) return EXIT.usage;
  }
  return failed ? EXIT.failed : EXIT.ok;
}

function printReport(
  show: Show,
  input: InputPlan,
  { standings }: Measured,
  fit: FrameFit | undefined,
  frame: FrameValues | undefined,
  findings: readonly Finding[],
): void {
  print(styled('bold', `${show.name}: frame of input ${input.name}`));
  if (standings.length > 0) print(['', ...standingTable(standings)].join('\n'));
  if (fit !== undefined && frame !== undefined) print(['', ...frameTable(fit, frame)].join('\n'));
  printFindings(findings);
}

function changesOf(input: InputPlan, frame: FrameValues): Change[] {
  const at = (key: string) => ['inputs', input.name, key];
  return [
    { path: at('origin'), value: frame.origin },
    { path: at('turn'), value: frame.turn, after: ['origin'] },
    ...(frame.scale === input.scale ? [] : [{ path: at('scale'), value: frame.scale }]),
  ];
}

function pointsText(markers: readonly Marker[]): string {
  const rows = markers.map(({ name, stage: s, tracking: t, use }) =>
    [name, s.x, s.y, s.z, t.x.toFixed(4), t.y.toFixed(4), t.z.toFixed(4), use].join(','),
  );
  return `${['name,x,y,z,tx,ty,tz,use', ...rows].join('\n')}\n`;
}

/** The tracker of a recording that has a single one. */
function onlyKey(reports: ReadonlyMap<string, unknown>): string {
  const [first, second] = reports.keys();
  return second === undefined ? (first ?? '') : '';
}
