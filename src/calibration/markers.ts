import { farOffFault } from '../stage/unit-guess.js';
import { type Bounds, type Vec3, vec3 } from '../stage/vector.js';
import type { Marker } from './frame-data.js';
import type { Report } from './standing.js';
import { Faults, numberIn, type Row, readTable, textIn } from './table.js';

/** A marker on the stage, and which tracker stands on it when. */
export interface MarkerPlace {
  readonly name: string;
  readonly stage: Readonly<Vec3>;
  readonly use: 'fit' | 'check';
  readonly tracker: string | undefined;
  /** The part of a recording in which the tracker stands there, seconds; by default all of it. */
  readonly fromS: number;
  readonly toS: number;
}

export type Parsed<T> =
  | { readonly ok: true; readonly value: T }
  | { readonly ok: false; readonly faults: readonly string[] };

/** Farther from the origin than any stage reaches: the unit must be wrong. */
const FARTHEST_M = 1000;

/** Reads a table of markers: `name,x,y,z` in the stage frame, metres; optionally `use,tracker,from_s,to_s`. */
export function parseMarkers(text: string): Parsed<MarkerPlace[]> {
  const faults = new Faults();
  const table = readTable(
    text,
    { required: ['name', 'x', 'y', 'z'], optional: ['use', 'tracker', 'from_s', 'to_s'] },
    faults,
  );
  const places = table.rows.map((row): MarkerPlace => {
    const fromS = textIn(row, 'from_s') === undefined ? -Infinity : numberIn(row, 'from_s', faults);
    const toS = textIn(row, 'to_s') === undefined ? Infinity : numberIn(row, 'to_s', faults);
    if (fromS >= toS) faults.add(row.line, 'from_s is not before to_s.');
    return {
      name: textIn(row, 'name') ?? '',
      stage: placeIn(row, ['x', 'y', 'z'], faults),
      use: useIn(row, faults),
      tracker: textIn(row, 'tracker'),
      fromS,
      toS,
    };
  });
  checkNames(table.rows, faults);
  checkPlaces(table.rows, places, faults);
  return faults.count > 0 ? { ok: false, faults: faults.texts } : { ok: true, value: places };
}

/** A message if markers are too far from the stage to be in metres; undefined if they may be right. */
export function markersFault(
  places: readonly Pick<MarkerPlace, 'name' | 'stage'>[],
  bounds: Bounds,
): string | undefined {
  return farOffFault(
    places.map(({ name, stage }) => ({ what: `"${name}"`, at: stage })),
    bounds,
  );
}

/** Reads a table of surveyed points: `name,x,y,z` on the stage and `tx,ty,tz` as tracked, metres; optionally `use`. */
export function parsePoints(text: string): Parsed<Marker[]> {
  const faults = new Faults();
  const table = readTable(
    text,
    { required: ['name', 'x', 'y', 'z', 'tx', 'ty', 'tz'], optional: ['use'] },
    faults,
  );
  const markers = table.rows.map(
    (row): Marker => ({
      name: textIn(row, 'name') ?? '',
      stage: placeIn(row, ['x', 'y', 'z'], faults),
      tracking: placeIn(row, ['tx', 'ty', 'tz'], faults),
      errorM: 0,
      use: useIn(row, faults),
    }),
  );
  checkNames(table.rows, faults);
  checkPlaces(table.rows, markers, faults);
  return faults.count > 0 ? { ok: false, faults: faults.texts } : { ok: true, value: markers };
}

/** Reads a table of reports in the frame of the feed: `t_s,tracker,x,y,z`, seconds and metres. */
export function parseReports(text: string): Parsed<Map<string, Report[]>> {
  const faults = new Faults();
  const table = readTable(
    text,
    { required: ['t_s', 'tracker', 'x', 'y', 'z'], optional: ['quality'] },
    faults,
  );
  const reports = new Map<string, Report[]>();
  for (const row of table.rows) {
    const timeS = numberIn(row, 't_s', faults);
    const place = placeIn(row, ['x', 'y', 'z'], faults);
    const tracker = textIn(row, 'tracker');
    if (tracker === undefined) {
      faults.add(row.line, 'tracker is empty.');
      continue;
    }
    const list = reports.get(tracker);
    if (list === undefined) reports.set(tracker, [{ timeS, ...place }]);
    else list.push({ timeS, ...place });
  }
  return faults.count > 0 ? { ok: false, faults: faults.texts } : { ok: true, value: reports };
}

function placeIn(
  row: Row,
  [x, y, z]: readonly [string, string, string],
  faults: Faults,
): Readonly<Vec3> {
  const place = vec3(numberIn(row, x, faults), numberIn(row, y, faults), numberIn(row, z, faults));
  const largest = Math.max(Math.abs(place.x), Math.abs(place.y), Math.abs(place.z));
  if (largest > FARTHEST_M) {
    const what = `${largest} is farther than ${FARTHEST_M} m; places are in metres.`;
    faults.addOnce(
      row.line,
      'unit',
      `${what} If the file has millimetres, divide by 1000; centimetres, by 100.`,
    );
  }
  return place;
}

function useIn(row: Row, faults: Faults): 'fit' | 'check' {
  const use = textIn(row, 'use') ?? 'fit';
  if (use === 'fit' || use === 'check') return use;
  faults.add(row.line, `use is "fit" or "check", not "${use}".`);
  return 'fit';
}

function checkNames(rows: readonly Row[], faults: Faults): void {
  const seen = new Map<string, number>();
  for (const row of rows) {
    const name = textIn(row, 'name');
    if (name === undefined) {
      faults.add(row.line, 'name is empty.');
      continue;
    }
    const earlier = seen.get(name);
    if (earlier === undefined) seen.set(name, row.line);
    else faults.add(row.line, `"${name}" is already the name in line ${earlier}.`);
  }
}

/** One place under two names is a slip, and would count twice. */
function checkPlaces(
  rows: readonly Row[],
  places: readonly { readonly stage: Readonly<Vec3> }[],
  faults: Faults,
): void {
  const seen = new Map<string, number>();
  places.forEach(({ stage }, i) => {
    const line = rows[i]?.line ?? 0;
    const key = `${stage.x} ${stage.y} ${stage.z}`;
    const earlier = seen.get(key);
    if (earlier === undefined) seen.set(key, line);
    else faults.add(line, `it has the same place on the stage as line ${earlier}.`);
  });
}
