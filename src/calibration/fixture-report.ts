import { type Radians, toDegrees } from '../stage/units.js';
import { type Bounds, distance } from '../stage/vector.js';
import { type AimSample, beamOf, headOfPose, type Pose } from './aim-model.js';
import { metres } from './finding.js';
import { type FixtureFit, type PoseValues, poseValues } from './fixture.js';
import { millimetres, planPicture } from './plan-picture.js';

/** Lines of the result for people. */
export function fixtureTable(fit: FixtureFit, now: Pose | undefined, trimmed: boolean): string[] {
  const values = poseValues(fit.pose);
  const [px, py, pz] = fit.positionErrors.map(one => one.toFixed(3));
  const [tx, ty, tz] = fit.turnErrors.map(degrees);
  const { x, y, z } = values.orientation;
  const movedBy =
    now === undefined
      ? 'the show has none yet'
      : `${metres(distance(now.position, fit.pose.position))} from the one in the show`;
  return [
    row('sample', ['off', 'along pan', 'along tilt', 'score', 'chance']),
    ...fit.samples.map(one =>
      row(one.label, [
        centimetres(one.missM),
        centimetres(one.panM),
        centimetres(one.tiltM),
        one.score.toFixed(1),
        one.likelihood < 0.001 ? '< 0.1 %' : `${(100 * one.likelihood).toFixed(0)} %`,
      ]),
    ),
    '',
    `  position     [${values.position.join(', ')}] ± ${px}, ${py}, ${pz} m; ${movedBy}`,
    `  orientation  x ${x}, y ${y}, z ${z} degrees; turns about the stage axes ± ${tx}, ${ty}, ${tz}`,
    ...(trimmed
      ? [`  trim         tilt ${values.tiltTrim} ± ${degrees(fit.trimError)} degrees`]
      : []),
    `  residual     ${centimetres(fit.rmsM)} rms at the samples${fit.nowRmsM === undefined ? '' : `; ${centimetres(fit.nowRmsM)} with the present show`}`,
    ...(fit.region.halfAxesM.length === 0
      ? []
      : [
          `  90 % region  of the position: ${fit.region.halfAxesM.map(one => one.toFixed(2)).join(' x ')} m (half axes, the longest ${headingOf(fit.region.directions[0] ?? [])})`,
        ]),
    `  aim error    expected over the stage: ${centimetres(fit.typicalM)} rms, ${centimetres(fit.worst.missM)} at worst, at (${placeOf(fit.worst)})`,
    ...fit.wishes.map(
      (wish, i) =>
        `  ${i === 0 ? 'next sample' : '           '}  at about (${placeOf(wish)}): ${centimetres(fit.typicalM)} to ${centimetres(wish.typicalM)}`,
    ),
  ];
}

export function fixtureJson(fit: FixtureFit, trimmed: boolean): Record<string, unknown> {
  const { places, cell } = fit.map;
  const values: PoseValues = poseValues(fit.pose);
  const [x, y, z] = fit.turnErrors.map(one => toDegrees(one as Radians));
  return {
    position: values.position,
    orientation: values.orientation,
    ...(trimmed
      ? {
          tiltTrimDeg: values.tiltTrim,
          tiltTrimErrorDeg: toDegrees(fit.trimError as Radians),
        }
      : {}),
    positionErrorsM: fit.positionErrors,
    turnErrorsDeg: { x, y, z },
    region90: fit.region,
    rmsM: fit.rmsM,
    nowRmsM: fit.nowRmsM ?? null,
    chiSquare: fit.chiSquare,
    freedom: fit.freedom,
    samples: fit.samples,
    aimError: { typicalM: fit.typicalM, worst: fit.worst, cell, places },
    nextSamples: fit.wishes,
  };
}

/** The stage from above: the map of the expected aim error, the samples, the head and its region. */
export function fixturePicture(
  show: string,
  fixture: string,
  fit: FixtureFit,
  samples: readonly AimSample[],
  bounds: Bounds,
): string {
  const most = Math.max(...fit.map.places.map(one => one.missM));
  const least = Math.min(...fit.map.places.map(one => one.missM));
  const { position } = fit.pose;
  return planPicture({
    title: `${show}: where ${fixture} hangs`,
    lines: [
      `Rings: points of the samples; dots: where the beam passes them by the fit (red: doubtful). ${millimetres(fit.rmsM)} rms.`,
      `Shade: expected aim error, from ${millimetres(least)} to ${millimetres(most)}. Crosses: where another sample helps most.`,
    ],
    bounds,
    cells: fit.map.places.map(({ x, y, missM }) => ({
      x,
      y,
      ...fit.map.cell,
      shade: most > least ? (missM - least) / (most - least) : 0,
    })),
    heads: [{ label: `${fixture}, ${position.z.toFixed(1)} m up`, x: position.x, y: position.y }],
    rings: regionRing(fit),
    wishes: fit.wishes.map(wish => ({ label: `z ${wish.z.toFixed(1)}`, x: wish.x, y: wish.y })),
    misses: fit.samples.flatMap((one, i) => {
      const sample = samples[i];
      if (sample === undefined) return [];
      const [dx, dy] = missOnPlan(sample, fit.pose);
      return [
        {
          label: `${one.label} ${millimetres(one.missM)}`,
          x: sample.point.x,
          y: sample.point.y,
          dx,
          dy,
          kind: one.likelihood < 0.01 ? ('doubtful' as const) : ('used' as const),
        },
      ];
    }),
  });
}

/** x and y in metres, from the point to the place on the beam that is as far from the head. */
function missOnPlan(sample: AimSample, pose: Pose): readonly [number, number] {
  const { point } = sample;
  const beam = beamOf(headOfPose(pose), sample, pose.tiltTrim);
  const far = distance(point, pose.position);
  return [pose.position.x + far * beam.x - point.x, pose.position.y + far * beam.y - point.y];
}

/** Outline of the 90 % region on the plan: the projection of its ellipsoid. */
function regionRing({ region, pose }: FixtureFit) {
  if (region.halfAxesM.length === 0) return [];
  const points = Array.from({ length: 36 }, (_, k): readonly [number, number] => {
    const angle = (k * Math.PI) / 18;
    const [nx, ny] = [Math.cos(angle), Math.sin(angle)];
    // Support point of the ellipsoid in a level direction: A'A n / |A n|.
    const scaled = region.directions.map(
      (direction, i) =>
        (region.halfAxesM[i] ?? 0) * ((direction[0] ?? 0) * nx + (direction[1] ?? 0) * ny),
    );
    const length = Math.hypot(...scaled) || 1;
    let [x, y] = [pose.position.x, pose.position.y];
    region.directions.forEach((direction, i) => {
      const along = ((region.halfAxesM[i] ?? 0) * (scaled[i] ?? 0)) / length;
      x += along * (direction[0] ?? 0);
      y += along * (direction[1] ?? 0);
    });
    return [x, y];
  });
  return [{ points, label: 'holds the position with 90 %' }];
}

function headingOf(direction: readonly number[]): string {
  const [x = 0, y = 0, z = 0] = direction.map(Math.abs);
  return z >= x && z >= y ? 'up and down' : x >= y ? 'left and right' : 'up and downstage';
}

function placeOf({ x, y, z }: { readonly x: number; readonly y: number; readonly z: number }) {
  return `${x.toFixed(1)}, ${y.toFixed(1)}, ${z.toFixed(1)}`;
}

function row(name: string, cells: readonly string[]): string {
  return `  ${name.padEnd(14)}${cells.map(cell => cell.padStart(12)).join('')}`;
}

function centimetres(value: number): string {
  return `${(100 * value).toFixed(1)} cm`;
}

function degrees(angle: number): string {
  return toDegrees(angle as Radians).toFixed(2);
}
