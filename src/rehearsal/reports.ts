import type { Datagram } from '../engine/values/inputs.js';
import { encodePacket } from '../protocols/osc/encode.js';
import { ORDER_ADDRESSES } from '../protocols/osc/orders.js';
import type { Show } from '../show/model/model.js';
import { type Vec3, vec3 } from '../stage/vector.js';
import type { Sighting } from '../tracking/sighting.js';
import { inputFor, reportDatagram } from './report-datagram.js';
import { numbersIn } from './scenes/numbers.js';
import type { RehearsalPart, RehearsalScene, SceneLoss } from './scenes/scene-file.js';
import { simulateAnchorSensor } from './sensors/anchor-sensor.js';
import { simulateSensor } from './sensors/sensor.js';
import { type Truth, truthAt } from './sensors/truth.js';

/** How often a desk repeats its sign of life, seconds. */
const DESK_EVERY_S = 0.25;

/**
 * All datagrams that this machine would receive in a scene, in the order of their arrival. `arrivalS` is in
 * seconds from the start of the scene; the caller adds the start.
 * @param unixOffsetS Unix time of the scene's start
 */
export function datagramsOf(scene: RehearsalScene, show: Show, unixOffsetS: number): Datagram[] {
  const datagrams = sightingsIn(scene, show).map(one => reportOf(show, one, unixOffsetS));
  if (show.operator?.desk === 'required') {
    const orders = show.inputs.findIndex(({ carries }) => carries === 'orders');
    const bytes = encodePacket({ address: ORDER_ADDRESSES.desk, args: [] });
    for (let atS = 0; atS < scene.lengthS; atS += DESK_EVERY_S) {
      datagrams.push({ input: orders, bytes, arrivalS: atS });
    }
  }
  datagrams.push(...numbersIn(show, scene.numbers ?? [], scene.lengthS));
  return datagrams.sort((a, b) => a.arrivalS - b.arrivalS);
}

/** Distance between the seeds of one performer's trackers: more than a scene has performers, so that no two share one. */
const WORN_APART = 100_000_000;

/**
 * What a tracker reports, measured or simulated, with the scene's losses applied.
 * @param index gives each sensor a seed of its own
 */
function reportsOf(
  scene: RehearsalScene,
  part: RehearsalPart,
  tracker: string,
  index: number,
): Sighting[] {
  const losses = part.losses.filter(loss => loss.tracker === undefined || loss.tracker === tracker);
  const all =
    part.sightings ??
    // Far enough apart that no two people share a seed.
    simulated(part, scene.seed * 1000 + index);
  const reports: Sighting[] = [];
  let last: Sighting | undefined;
  for (const sighting of all) {
    const { timeS } = sighting;
    if (timeS < 0 || timeS >= scene.lengthS) continue;
    if (scene.feedLosses.some(({ fromS, toS }) => timeS >= fromS && timeS < toS)) continue;
    const loss = losses.find(({ fromS, toS }) => timeS >= fromS && timeS < toS);
    const report = loss === undefined ? sighting : spoilt(sighting, loss, last);
    if (report === undefined) continue;
    if (loss === undefined) last = sighting;
    reports.push({ ...report, arrivalS: timeS + part.latencyS });
  }
  return reports;
}

function simulated({ truth, sensor, around }: RehearsalPart, seed: number): Sighting[] {
  return around === undefined
    ? simulateSensor(truth, sensor, seed)
    : simulateAnchorSensor(truth, sensor, around, seed);
}

function spoilt(
  sighting: Sighting,
  loss: SceneLoss,
  last: Sighting | undefined,
): Sighting | undefined {
  switch (loss.kind) {
    case 'silent':
      return undefined;
    case 'frozen':
      return last === undefined ? undefined : { ...last, timeS: sighting.timeS };
    case 'elsewhere':
      return { ...sighting, x: sighting.x + loss.by[0], y: sighting.y + loss.by[1] };
    default:
      return loss.kind satisfies never;
  }
}

/** A report in a scene, at the place on the body where its tracker is worn. */
export interface SceneSighting {
  readonly tracker: string;
  /** When it is measured, and when it arrives, seconds from the start of the scene. */
  readonly timeS: number;
  readonly arrivalS: number;
  /** Stage frame, metres. */
  readonly at: Readonly<Vec3>;
  readonly quality: number;
}

/** All reports of a scene, tracker by tracker. */
export function sightingsIn(scene: RehearsalScene, show: Show): SceneSighting[] {
  return scene.parts.flatMap((part, index) =>
    part.trackers.flatMap((tracker, worn) =>
      reportsOf(scene, part, tracker, index + WORN_APART * worn).map(sighting => {
        const { timeS, arrivalS, quality, x, y, z } = sighting;
        // The scene says where the performer is; what is measured is the tracker on their body.
        const on = wornAt(show, part, tracker, timeS);
        return { tracker, timeS, arrivalS, at: vec3(x + on.x, y + on.y, z + on.z), quality };
      }),
    ),
  );
}

function reportOf(show: Show, sighting: SceneSighting, unixOffsetS: number): Datagram {
  const { tracker, timeS, arrivalS, at, quality } = sighting;
  const input = inputFor(show, tracker);
  const plan = show.inputs[input];
  const stampS = unixOffsetS + timeS;
  const bytes = plan && reportDatagram(plan, tracker, at, stampS, { quality, coordinates: 'f' });
  if (bytes === undefined) throw new Error('a show without an input for a tracker');
  return { input, bytes, arrivalS };
}

/** Index to search from: most truths have even steps of time. */
function nearIndex({ timesS }: Truth, timeS: number): number {
  const [first, last] = [timesS[0] ?? 0, timesS.at(-1) ?? 1];
  return Math.floor(((timeS - first) / (last - first || 1)) * (timesS.length - 1));
}

/** Moved less than this in 0.4 s, metres: too slow to tell which way they face. */
const STANDS_M = 0.04;

/** Vector from the performer to the tracker on their body, metres; the body faces the way it walks. */
function wornAt(show: Show, part: RehearsalPart, tracker: string, timeS: number) {
  const trackers = show.performers[part.performer]?.trackers ?? [];
  const fit = trackers.find(({ id }) => id === tracker)?.fit;
  if (fit === undefined || (fit.forwardM === 0 && fit.leftM === 0)) {
    return { x: 0, y: 0, z: fit?.upM ?? 0 };
  }
  const [before, after] = [vec3(0, 0, 0), vec3(0, 0, 0)];
  const hint = truthAt(part.truth, timeS - 0.2, nearIndex(part.truth, timeS), before);
  truthAt(part.truth, timeS + 0.2, hint, after);
  const [dx, dy] = [after.x - before.x, after.y - before.y];
  const length = Math.hypot(dx, dy);
  if (length < STANDS_M) return { x: 0, y: 0, z: fit.upM };
  const [cos, sin] = [dx / length, dy / length];
  return {
    x: cos * fit.forwardM - sin * fit.leftM,
    y: sin * fit.forwardM + cos * fit.leftM,
    z: fit.upM,
  };
}
