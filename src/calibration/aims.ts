import { toPhysical } from '../fixtures/encode.js';
import type { Channel } from '../fixtures/profile.js';
import { type Degrees, toRadians } from '../stage/units.js';
import { type Vec3, vec3 } from '../stage/vector.js';
import type { AimSample } from './aim-model.js';
import type { Parsed } from './markers.js';
import { Faults, numberIn, type Row, readTable, textIn } from './table.js';

/** What the desk or the fixture showed for one axis. */
export type Reading =
  | { readonly kind: 'degrees'; readonly value: number }
  /** The whole of the channel, from 0 to its maximum. */
  | { readonly kind: 'raw'; readonly value: number }
  /** Slot by slot, coarse first. */
  | { readonly kind: 'slots'; readonly values: readonly number[] };

/** One aim as it was written down. */
export interface AimRow {
  readonly line: number;
  /** undefined: the one fixture that is being calibrated. */
  readonly fixture: string | undefined;
  readonly point: Readonly<Vec3>;
  readonly pan: Reading;
  readonly tilt: Reading;
}

const WAYS = [
  ['pan', 'tilt'],
  ['pan_raw', 'tilt_raw'],
  ['pan_coarse', 'tilt_coarse'],
] as const;

/**
 * Reads a table of aims: `x,y,z` of the point in the stage frame, metres; the levels of the head as `pan,tilt` in degrees,
 * as `pan_raw,tilt_raw`, or by slot as `pan_coarse,pan_fine,tilt_coarse,tilt_fine`; and `fixture` if there are several.
 */
export function parseAims(text: string): Parsed<AimRow[]> {
  const faults = new Faults();
  const table = readTable(
    text,
    {
      required: ['x', 'y', 'z'],
      optional: [...WAYS.flat(), 'pan_fine', 'tilt_fine', 'fixture', 'note'],
    },
    faults,
  );
  const ways = WAYS.filter(([pan, tilt]) => [pan, tilt].some(name => table.columns.includes(name)));
  const [way] = ways;
  const complete = way?.every(name => table.columns.includes(name)) === true;
  if (faults.count === 0 && (ways.length !== 1 || !complete)) {
    faults.add(
      1,
      'the levels of the head are missing, or given in several ways: give pan,tilt (degrees), pan_raw,tilt_raw, or pan_coarse,pan_fine,tilt_coarse,tilt_fine.',
    );
  }
  if (way === undefined || faults.count > 0) return { ok: false, faults: faults.texts };
  const aims = table.rows.map(
    (row): AimRow => ({
      line: row.line,
      fixture: textIn(row, 'fixture'),
      point: pointIn(row, faults),
      pan: readingIn(row, way[0], 'pan_fine', faults),
      tilt: readingIn(row, way[1], 'tilt_fine', faults),
    }),
  );
  return faults.count > 0 ? { ok: false, faults: faults.texts } : { ok: true, value: aims };
}

function readingIn(row: Row, column: string, fine: string, faults: Faults): Reading {
  const value = numberIn(row, column, faults);
  if (column.endsWith('_coarse')) {
    const values = textIn(row, fine) === undefined ? [value] : [value, numberIn(row, fine, faults)];
    if (values.some(one => !Number.isInteger(one) || one < 0 || one > 255)) {
      faults.add(row.line, `${column} and ${fine} are whole numbers from 0 to 255.`);
    }
    return { kind: 'slots', values };
  }
  return { kind: column.endsWith('_raw') ? 'raw' : 'degrees', value };
}

/** Farther from the origin than any stage reaches: the unit must be wrong. */
const FARTHEST_M = 1000;

function pointIn(row: Row, faults: Faults): Vec3 {
  const point = vec3(
    numberIn(row, 'x', faults),
    numberIn(row, 'y', faults),
    numberIn(row, 'z', faults),
  );
  if (Math.max(Math.abs(point.x), Math.abs(point.y), Math.abs(point.z)) > FARTHEST_M) {
    faults.add(row.line, `the point is farther away than ${FARTHEST_M} m; places are in metres.`);
  }
  return point;
}

/** Degrees read off a display are rounded, and may be a little outside the range. */
const OUTSIDE_DEGREES = 1;

/**
 * An aim as angles of the profile (radians), or a message that says what is wrong with it.
 * @param pan, tilt channels of the fixture without its trim
 */
export function sampleOf(row: AimRow, pan: Channel, tilt: Channel): AimSample | string {
  const [panDegrees, tiltDegrees] = [degreesOf(row.pan, pan), degreesOf(row.tilt, tilt)];
  if (typeof panDegrees === 'string') return `line ${row.line}: ${panDegrees}`;
  if (typeof tiltDegrees === 'string') return `line ${row.line}: ${tiltDegrees}`;
  return {
    label: `line ${row.line}`,
    pan: toRadians(panDegrees as Degrees),
    tilt: toRadians(tiltDegrees as Degrees),
    point: row.point,
  };
}

function degreesOf(reading: Reading, channel: Channel): number | string {
  const { attribute, from, to, maxRaw, offsets } = channel;
  switch (reading.kind) {
    case 'degrees': {
      const [low, high] = [Math.min(from, to), Math.max(from, to)];
      return reading.value >= low - OUTSIDE_DEGREES && reading.value <= high + OUTSIDE_DEGREES
        ? reading.value
        : `${attribute} ${reading.value} is outside the range of the profile, ${low} to ${high} degrees.`;
    }
    case 'raw':
      return Number.isInteger(reading.value) && reading.value >= 0 && reading.value <= maxRaw
        ? toPhysical(channel, reading.value)
        : `${attribute} ${reading.value} is not a whole number from 0 to ${maxRaw}, the range of its ${8 * offsets.length} bits.`;
    case 'slots': {
      const { values } = reading;
      // Finer slots that aren't given are taken to be in the middle of their range.
      if (values.length > offsets.length) {
        return `${attribute} has ${offsets.length} ${offsets.length === 1 ? 'slot' : 'slots'} in the profile, but ${values.length} are given.`;
      }
      const missing = offsets.length - values.length;
      const raw = values.reduce((sum, value) => 256 * sum + value, 0) * 256 ** missing;
      return toPhysical(channel, raw + (256 ** missing - 1) / 2);
    }
    default:
      return reading satisfies never;
  }
}

/** Samples as a file that `parseAims` reads; all of one kind of reading. */
export function aimsText(fixture: string, rows: readonly AimRow[]): string {
  const raw = rows.some(row => row.pan.kind === 'raw');
  const head = raw ? 'fixture,x,y,z,pan_raw,tilt_raw' : 'fixture,x,y,z,pan,tilt';
  const lines = rows.map(({ point, pan, tilt }) => {
    const place = [point.x, point.y, point.z].map(value => Number(value.toFixed(4)));
    return [fixture, ...place, numberOf(pan), numberOf(tilt)].join(',');
  });
  return `${[head, ...lines].join('\n')}\n`;
}

function numberOf(reading: Reading): number {
  return reading.kind === 'slots'
    ? reading.values.reduce((sum, value) => 256 * sum + value, 0)
    : reading.value;
}
