import { rotationFromTurns, turnsFromRotation } from '../stage/rotation.js';
import { type Degrees, type Radians, toDegrees, toRadians } from '../stage/units.js';
import type { Bounds } from '../stage/vector.js';
import { metres } from './finding.js';
import type { FrameFit } from './frame-data.js';
import { millimetres, planPicture } from './plan-picture.js';
import type { Placement } from './rigid.js';
import type { Standing } from './standing.js';

/** The frame as written in a show file: metres to the millimetre, degrees to the hundredth. */
export interface FrameValues {
  readonly origin: readonly [number, number, number];
  /** Degrees; one number (about z) for a level frame. */
  readonly turn: number | { readonly x: number; readonly y: number; readonly z: number };
  readonly scale: number;
}

export function frameValues({ origin, rotation, scale }: Placement, level: boolean): FrameValues {
  const turns = turnsFromRotation(rotation);
  const turn = {
    x: rounded(toDegrees(turns.x), 2),
    y: rounded(toDegrees(turns.y), 2),
    z: rounded(toDegrees(turns.z), 2),
  };
  return {
    origin: [rounded(origin.x, 3), rounded(origin.y, 3), rounded(origin.z, 3)],
    turn: level || (turn.x === 0 && turn.y === 0) ? turn.z : turn,
    scale: rounded(scale, 5),
  };
}

/** The placement that these values of a show file mean. */
export function placementOf({ origin, turn, scale }: FrameValues): Placement {
  const { x, y, z } = typeof turn === 'number' ? { x: 0, y: 0, z: turn } : turn;
  const radians = (degrees: number) => toRadians(degrees as Degrees);
  return {
    origin: { x: origin[0], y: origin[1], z: origin[2] },
    rotation: rotationFromTurns(radians(x), radians(y), radians(z)),
    scale,
  };
}

/** Table of what was received from the trackers on the markers, for people. */
export function standingTable(
  standings: readonly { readonly name: string; readonly standing: Standing }[],
): string[] {
  return [
    row('marker', ['reports', 'left out', 'seconds', 'spread', 'height', 'drift', 'error']),
    ...standings.map(({ name, standing: s }) =>
      row(name, [
        String(s.reports),
        String(s.outliers),
        s.spanS.toFixed(1),
        metres(s.spreadHorizontalM),
        metres(s.spreadVerticalM),
        metres(s.driftM),
        `${s.errorM.toFixed(3)} m`,
      ]),
    ),
  ];
}

export function frameTable(fit: FrameFit, values: FrameValues): string[] {
  const [ex, ey, ez] = fit.turnErrors.map(one => toDegrees(one as Radians).toFixed(2));
  const { turn } = values;
  const turnText =
    typeof turn === 'number'
      ? `${turn} degrees (± ${ez})`
      : `x ${turn.x} (± ${ex}), y ${turn.y} (± ${ey}), z ${turn.z} (± ${ez}) degrees`;
  return [
    row('marker', ['use', 'off', 'x', 'y', 'z', 'today']),
    ...fit.markers.map(one =>
      row(one.name, [
        one.use,
        metres(one.offM),
        signed(one.placed.x - one.stage.x),
        signed(one.placed.y - one.stage.y),
        signed(one.placed.z - one.stage.z),
        metres(one.nowOffM),
      ]),
    ),
    '',
    `  origin    [${values.origin.join(', ')}]`,
    `  turn      ${turnText}`,
    `  residual  ${metres(fit.rmsM)} rms at the markers; about ${metres(fit.worstCornerM)} expected at the worst corner of the stage`,
    `  scale     ${fit.scale.ratio.toFixed(4)} ± ${fit.scale.error.toFixed(4)} taped metres in a tracked one; ${values.scale} used`,
    `  tilt      ${toDegrees(fit.tilt as Radians).toFixed(2)} degrees between the two verticals`,
    ...(fit.distances.length === 0
      ? []
      : [
          '',
          row('distance', ['taped', 'tracked', 'differ']),
          ...fit.distances.map(one =>
            row(`${one.from} - ${one.to}`, [
              metres(one.tapedM),
              metres(one.trackedM),
              signed(one.trackedM - one.tapedM),
            ]),
          ),
        ]),
  ];
}

export function frameJson(fit: FrameFit, values: FrameValues): Record<string, unknown> {
  const degrees = (angle: number) => toDegrees(angle as Radians);
  const [x, y, z] = fit.turnErrors.map(degrees);
  return {
    frame: values,
    turnErrorsDeg: { x, y, z },
    rmsM: fit.rmsM,
    worstCornerM: fit.worstCornerM,
    scale: fit.scale,
    tiltDeg: degrees(fit.tilt),
    markers: fit.markers,
    distances: fit.distances,
  };
}

export function framePicture(show: string, input: string, fit: FrameFit, bounds: Bounds): string {
  return planPicture({
    title: `${show}: frame of input ${input}`,
    lines: [
      `Rings: markers as taped out; dots: where the fit places them. ${millimetres(fit.rmsM)} rms over the markers of the fit.`,
      'Teal: used in the fit. Violet: kept to check it.',
    ],
    bounds,
    misses: fit.markers.map(one => ({
      label: `${one.name} ${millimetres(one.offM)}`,
      x: one.stage.x,
      y: one.stage.y,
      dx: one.placed.x - one.stage.x,
      dy: one.placed.y - one.stage.y,
      kind: one.use === 'check' ? 'check' : 'used',
    })),
  });
}

function row(name: string, cells: readonly string[]): string {
  return `  ${name.padEnd(20)}${cells.map(cell => cell.padStart(10)).join('')}`;
}

function signed(value: number): string {
  return `${value < 0 ? '' : '+'}${value.toFixed(2)} m`;
}

function rounded(value: number, digits: number): number {
  // Adding 0 turns -0 into 0.
  return Number(value.toFixed(digits)) + 0;
}
