import type { Sighting } from '../../tracking/sighting.js';
import { DEFAULT_SENSOR, type SensorOptions, simulateSensor } from '../sensors/sensor.js';
import type { Truth } from '../sensors/truth.js';
import type { Passage } from './assess.js';

/** A file with reports and truth of one performer, or only the truth of one or several. */
export type Recording =
  | { readonly kind: 'measured'; readonly passage: Passage }
  | {
      readonly kind: 'truth';
      readonly truths: readonly Truth[];
      /** One id for each truth; '' where the file has none. */
      readonly ids: readonly string[];
    };

export type RecordingResult =
  | { readonly ok: true; readonly value: Recording }
  | { readonly ok: false; readonly faults: readonly string[] };

/** Runs of the simulated sensor: a single run of a few seconds may have no burst of outliers, or three. */
export const RUNS = 10;

/** The reports of a recording as they were measured. Where it has only truth, a simulated sensor reports it, `RUNS` times. */
export function passagesOf(
  recording: Recording,
  {
    seed,
    runs = RUNS,
    sensor = DEFAULT_SENSOR,
  }: { seed: number; runs?: number; sensor?: SensorOptions },
): readonly Passage[] {
  if (recording.kind === 'measured') return [recording.passage];
  return Array.from({ length: runs }, (_, run) =>
    recording.truths.map((truth, person) => ({
      truth,
      // Far enough apart that no two runs or people share a seed.
      sightings: simulateSensor(truth, sensor, (seed * RUNS + run) * 1000 + person),
    })),
  ).flat();
}

const MEASURED = ['t_s', 'mx', 'my', 'mz', 'tx', 'ty', 'tz'];
const TRUTH = ['t_s', 'x', 'y', 'z'];
const TRUTH_OF_MANY = [...TRUTH, 'id'];
/** All faults are told at once, but no more than anybody reads. */
const MOST_FAULTS = 10;

/**
 * Reads a recording: comma-separated, a head line, then one line for each instant; seconds and metres.
 * `t_s,mx,my,mz,tx,ty,tz` (measured and true) or `t_s,x,y,z` with or without `id` (true).
 */
export function parseRecording(text: string): RecordingResult {
  const lines = text.split(/\r?\n/);
  const head = (lines[0] ?? '')
    .replace(/^\uFEFF/, '')
    .split(',')
    .map(name => name.trim());
  const columns = [MEASURED, TRUTH, TRUTH_OF_MANY].find(
    names => names.length === head.length && names.every((name, i) => name === head[i]),
  );
  if (columns === undefined) {
    return {
      ok: false,
      faults: [
        `line 1: the head is "${lines[0]?.slice(0, 60)}"; it is one of ${[MEASURED, TRUTH, TRUTH_OF_MANY].map(names => `"${names.join(',')}"`).join(', ')}.`,
      ],
    };
  }
  const faults: string[] = [];
  const people = new Map<string, number[][]>();
  const width = columns === TRUTH_OF_MANY ? TRUTH.length : columns.length;
  lines.forEach((line, index) => {
    if (index === 0 || line.trim() === '') return;
    const cells = line.split(',');
    const numbers = cells
      .slice(0, width)
      .map(cell => (cell.trim() === '' ? Number.NaN : Number(cell)));
    if (cells.length !== columns.length || !numbers.every(Number.isFinite)) {
      faults.push(`line ${index + 1}: "${line.slice(0, 60)}" is not ${columns.length} numbers.`);
      return;
    }
    const id = columns === TRUTH_OF_MANY ? (cells[width] as string).trim() : '';
    const rows = people.get(id) ?? [];
    const lastS = rows.at(-1)?.[0] ?? Number.NEGATIVE_INFINITY;
    if ((numbers[0] as number) <= lastS) {
      faults.push(
        `line ${index + 1}: the time ${numbers[0]} s is not after the one before, ${lastS} s.`,
      );
      return;
    }
    rows.push(numbers);
    people.set(id, rows);
  });
  if (people.size === 0 && faults.length === 0) faults.push('there is no line after the head.');
  for (const [id, rows] of people) {
    if (rows.length < 2)
      faults.push(
        `${id === '' ? 'it' : `id ${id}`} has a single instant; at least two are needed.`,
      );
  }
  if (faults.length > 0) return { ok: false, faults: shortened(faults) };
  if (columns !== MEASURED) {
    return {
      ok: true,
      value: {
        kind: 'truth',
        truths: [...people.values()].map(rows => truthOf(rows, 1)),
        ids: [...people.keys()],
      },
    };
  }
  const rows = people.get('') ?? [];
  const passage = { truth: truthOf(rows, 4), sightings: rows.map(sightingOf) };
  return { ok: true, value: { kind: 'measured', passage } };
}

function shortened(faults: readonly string[]): readonly string[] {
  if (faults.length <= MOST_FAULTS) return faults;
  return [...faults.slice(0, MOST_FAULTS), `and ${faults.length - MOST_FAULTS} more.`];
}

function truthOf(rows: readonly (readonly number[])[], first: number): Truth {
  const column = (index: number) => Float64Array.from(rows, row => row[index] ?? Number.NaN);
  return { timesS: column(0), xs: column(first), ys: column(first + 1), zs: column(first + 2) };
}

function sightingOf(row: readonly number[]): Sighting {
  const [timeS, x, y, z] = row as [number, number, number, number];
  return { tracker: 0, timeS, arrivalS: timeS, x, y, z, quality: 1 };
}
