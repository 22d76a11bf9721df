import { z } from 'zod';
import type { PerformerPlan, Show } from '../../show/model/model.js';
import { newerFormat } from '../../show/problems/format.js';
import { nameMeant } from '../../show/problems/names.js';
import {
  type Finding,
  listed,
  type Path,
  type Problem,
  sameNamesTogether,
} from '../../show/problems/problem.js';
import { Locator } from '../../show/reading/locate.js';
import { readYaml } from '../../show/reading/read-yaml.js';
import type { JsonSchema } from '../../show/schema/json-schema.js';
import { findingsOf } from '../../show/zod-findings.js';
import type { Passage } from '../assessing/assess.js';
import { parseRecording } from '../assessing/recording.js';
import { type AnchorSensorOptions, FEWEST_RANGES } from '../sensors/anchor-sensor.js';
import type { SensorOptions } from '../sensors/sensor.js';
import type { Truth } from '../sensors/truth.js';
import { numberSignals, type SceneNumber } from './numbers.js';
import { type ScenePart, scenePosition } from './scene.js';
import { deskMarksOf, type SceneDeskMark } from './scene-desk.js';
import { checkRising, type Find, ordersOf, type SceneOrder } from './scene-orders.js';
import {
  type LOSS_KINDS,
  SCENE_FORMAT_VERSION,
  SCENE_SENSOR,
  type SceneFile,
  SceneFileSchema,
} from './scene-schema.js';
import { usableScene } from './usable-scene.js';

/** A scene that has been checked against a show. */
export interface RehearsalScene {
  readonly name: string;
  readonly lengthS: number;
  readonly seed: number;
  readonly parts: readonly RehearsalPart[];
  /** When the whole feed is silent, seconds from the start. */
  readonly feedLosses: readonly { readonly fromS: number; readonly toS: number }[];
  /** Orders of an operator, with rising times; undefined: none. */
  readonly orders?: readonly SceneOrder[];
  /** Numbers by OSC; undefined: none. */
  readonly numbers?: readonly SceneNumber[];
  /** What a desk sends, with rising times; undefined: there is no desk. */
  readonly desk?: readonly SceneDeskMark[];
}

export interface RehearsalPart {
  /** Index of the performer in the show. */
  readonly performer: number;
  /** The trackers that they wear, each with its own simulated sensor; a single one if the positions were measured. */
  readonly trackers: readonly string[];
  readonly truth: Truth;
  /** Measured reports; undefined: they are simulated. */
  readonly sightings: Passage['sightings'] | undefined;
  readonly sensor: SensorOptions;
  /** Positions are computed from ranges to these anchors; undefined: without anchors. */
  readonly around: AnchorSensorOptions | undefined;
  /** Age of a report when it arrives, seconds. */
  readonly latencyS: number;
  readonly losses: readonly SceneLoss[];
}

export interface SceneLoss {
  readonly fromS: number;
  readonly toS: number;
  readonly kind: (typeof LOSS_KINDS)[number];
  readonly by: readonly [x: number, y: number];
  /** undefined: all trackers that the performer wears. */
  readonly tracker: string | undefined;
}

export type SceneResult =
  | { readonly ok: true; readonly scene: RehearsalScene }
  | { readonly ok: false; readonly problems: readonly Problem[] };

/** The text of a file beside the scene file, or why it can't be read. */
export type ReadReferenced = (
  path: string,
) => { readonly ok: true; readonly text: string } | { readonly ok: false; readonly why: string };

const DEFAULT_LATENCY_S = 0.05;
/** How often a path is sampled. */
const PATH_HZ = 100;
/** A day, the limit in the schema. */
const LONGEST_S = 86_400;

let schema: JsonSchema | undefined;

/** JSON schema of the scene file, for editors and messages. */
export function sceneJsonSchema(): JsonSchema {
  schema ??= z.toJSONSchema(SceneFileSchema, {
    io: 'input',
    target: 'draft-2020-12',
  }) as JsonSchema;
  return schema;
}

/** Reads a scene file's text and checks it against the show. Returns all problems at once; never throws. */
export function parseScene(
  text: string,
  file: string,
  show: Show,
  readReferenced: ReadReferenced,
): SceneResult {
  const locator = new Locator(file, text);
  const read = readYaml(text, locator);
  if (!read.ok) return read;
  const { document, value } = read;
  const newer = newerFormat('scene', value, SCENE_FORMAT_VERSION);
  if (newer !== undefined) return { ok: false, problems: [locator.place(newer, document)] };
  const checked = SceneFileSchema.safeParse(value);
  const findings: Finding[] = checked.success
    ? []
    : findingsOf(checked.error.issues, value, sceneJsonSchema()).map(pointToCues);
  const sound = checked.success ? checked.data : usableScene(value, checked.error.issues);
  const scene = sound === undefined ? undefined : resolve(sound, show, readReferenced, findings);
  if (scene !== undefined && findings.length === 0) return { ok: true, scene };
  const problems = findings
    .map(finding => locator.place(finding, document))
    .sort((a, b) => a.line - b.line || a.column - b.column);
  return { ok: false, problems: sameNamesTogether(problems) };
}

/** Somebody who knows `lampwright tell` may put a cue among the orders: say where it belongs. */
function pointToCues(finding: Finding): Finding {
  const { code, message, path } = finding;
  const isCueOrder = code === 'unknown-key' && path[0] === 'orders' && path[2] === 'cue';
  if (!isCueOrder) return finding;
  return { ...finding, message: `${message} Cues go under "cues": [{ at: 5, cue: next }].` };
}

function resolve(
  file: SceneFile,
  show: Show,
  readReferenced: ReadReferenced,
  findings: Finding[],
): RehearsalScene {
  const find = (code: Finding['code'], path: Path, message: string) =>
    findings.push({ code, path, message });
  const parts = Object.entries(file.performers).flatMap(([name, one]): RehearsalPart[] => {
    const path: Path = ['performers', name];
    const performer = show.performers.findIndex(plan => plan.name === name);
    const plan = show.performers[performer];
    if (plan === undefined) {
      findings.push({
        code: 'unknown-name',
        path,
        message: `the show has no performer "${name}".${nameMeant(name, show.performers)} It has ${listed(show.performers.map(other => other.name))}.`,
        atKey: true,
      });
    }
    const ids = plan?.trackers.map(({ id }) => id) ?? [];
    const isTheirs = (tracker: string | undefined, at: Path) => {
      // The missing performer has been reported already.
      if (plan === undefined || tracker === undefined || ids.includes(tracker)) return;
      const message = `${name} has no tracker "${tracker}" in the show, but ${listed(ids)}.`;
      find('unknown-name', [...at, 'tracker'], message);
    };
    isTheirs(one.tracker, path);
    one.losses.forEach((loss, i) => {
      isTheirs(loss.tracker, [...path, 'losses', i]);
    });
    checkTimes(one.losses, [...path, 'losses'], find);
    const motion = motionOf(one, path, file.length, show, readReferenced, find);
    if (one.sensor.anchors === true) checkAnchors(show, [...path, 'sensor', 'anchors'], find);
    if (plan === undefined || motion === undefined) return [];
    const sensor = { ...file.sensor, ...one.sensor };
    const distance = sensor.outlierDistance;
    return [
      {
        performer,
        trackers: wornOf(one.tracker, ids, motion),
        ...motion,
        sensor: {
          rateHz: sensor.rate ?? SCENE_SENSOR.rateHz,
          noiseM: sensor.noise ?? SCENE_SENSOR.noiseM,
          colouredShare: sensor.wander ?? SCENE_SENSOR.colouredShare,
          noiseMemoryS: sensor.memory ?? SCENE_SENSOR.noiseMemoryS,
          outlierShare: sensor.outliers ?? SCENE_SENSOR.outlierShare,
          outlierRun: sensor.outlierRun ?? SCENE_SENSOR.outlierRun,
          outlierMinM: distance?.[0] ?? SCENE_SENSOR.outlierMinM,
          outlierMaxM: distance?.[1] ?? SCENE_SENSOR.outlierMaxM,
          dropoutsPerS: sensor.dropouts ?? SCENE_SENSOR.dropoutsPerS,
          dropoutMaxS: sensor.longestDropout ?? SCENE_SENSOR.dropoutMaxS,
          shadowM: sensor.shadow ?? SCENE_SENSOR.shadowM,
          timeJitter: sensor.jitter ?? SCENE_SENSOR.timeJitter,
        },
        around: sensor.anchors === true ? aroundOf(show, plan) : undefined,
        latencyS: sensor.latency ?? DEFAULT_LATENCY_S,
        losses: one.losses.map(({ from, to, as, by, tracker }) => ({
          fromS: from,
          toS: to,
          kind: as,
          by,
          tracker,
        })),
      },
    ];
  });
  checkTimes(file.losses, ['losses'], find);
  const orders = ordersOf(file, show, find);
  if (file.sensor.anchors === true) checkAnchors(show, ['sensor', 'anchors'], find);
  return {
    name: file.scene,
    lengthS: file.length,
    seed: file.seed,
    parts,
    feedLosses: file.losses.map(({ from, to }) => ({ fromS: from, toS: to })),
    orders,
    numbers: numbersOf(file, show, find),
    desk: deskMarksOf(file, show, find),
  };
}

function numbersOf(file: SceneFile, show: Show, find: Find): SceneNumber[] {
  const known = numberSignals(show);
  return Object.entries(file.numbers).map(([signal, marks]): SceneNumber => {
    const path = ['numbers', signal];
    if (!known.includes(signal)) {
      const has = known.length === 0 ? 'It has none.' : `It has ${listed(known)}.`;
      const meant = nameMeant(
        signal,
        known.map(name => ({ name })),
      );
      const message = `the show has no number by OSC "${signal}".${meant} ${has}`;
      find('unknown-name', path, message);
    }
    checkRising(marks, path, find);
    return {
      signal,
      marks: marks.map(({ at, value }) => ({
        atS: at,
        value: value === 'silent' ? undefined : value,
      })),
    };
  });
}

/** Measured positions come from one tracker; a simulated performer wears all that the show gives them. */
function wornOf(
  only: string | undefined,
  ids: readonly string[],
  { sightings }: Motion,
): readonly string[] {
  if (only !== undefined) return [only];
  return sightings === undefined ? ids : ids.slice(0, 1);
}

function checkAnchors({ anchors }: Show, path: Path, find: Find): void {
  if (anchors.length >= FEWEST_RANGES) return;
  const has = anchors.length === 0 ? 'none' : `${anchors.length} of them`;
  const message = `positions from ranges need at least ${FEWEST_RANGES} anchors in the show; it has ${has}.`;
  find('bad-value', path, message);
}

function aroundOf(show: Show, { heightM, wornAtM }: PerformerPlan): AnchorSensorOptions {
  const { anchors, obstacles, ranging } = show;
  return { anchors, obstacles, ranging, heightM, wornAtM };
}

type Performer = SceneFile['performers'][string];
type Motion = Pick<RehearsalPart, 'truth' | 'sightings'>;

function checkTimes(
  losses: readonly { readonly from: number; readonly to: number }[],
  path: Path,
  find: Find,
): void {
  losses.forEach(({ from, to }, i) => {
    if (to > from) return;
    find(
      'range-reversed',
      [...path, i, 'to'],
      `a loss ends after it begins: "to" must be above ${from}.`,
    );
  });
}

function motionOf(
  one: Performer,
  path: Path,
  lengthS: number,
  show: Show,
  readReferenced: ReadReferenced,
  find: Find,
): Motion | undefined {
  if (one.path !== undefined && one.motion !== undefined) {
    find('bad-value', [...path, 'motion'], 'a performer has a "path" or a "motion", not both.');
    return undefined;
  }
  if (one.path !== undefined) return pathOf(one, one.path, path, lengthS, show, find);
  if (one.motion === undefined) {
    const message = `${path.at(-1)} has neither "path" nor "motion"; one of them says where they are.`;
    find('missing-key', path, message);
    return undefined;
  }
  return recordedMotion(one, one.motion, [...path, 'motion'], readReferenced, find);
}

function pathOf(
  one: Performer,
  marks: NonNullable<Performer['path']>,
  path: Path,
  lengthS: number,
  show: Show,
  find: Find,
): Motion | undefined {
  let isRight = true;
  const placed = marks.map(({ at, place }, i): [number, number, number] => {
    const before = marks[i - 1]?.at ?? Number.NEGATIVE_INFINITY;
    if (!(at > before)) {
      find(
        'bad-value',
        [...path, 'path', i, 'at'],
        `times must rise: this one must be above ${before}.`,
      );
      isRight = false;
    }
    if (typeof place !== 'string') return [at, ...place];
    const middle = middleOf(show, place);
    if (middle !== undefined) return [at, ...middle];
    const places = [...show.zones.filter(({ around }) => around === undefined), ...show.exits];
    const names = places.map(({ name }) => name);
    find(
      'unknown-name',
      [...path, 'path', i, 'place'],
      `the show has no zone or exit "${place}".${nameMeant(place, places)} It has ${listed(names)}; a place may be [x, y] as well.`,
    );
    isRight = false;
    return [at, 0, 0];
  });
  if (!isRight) return undefined;
  const part: ScenePart = {
    performer: '',
    tracker: '',
    marks: placed,
    heightM: one.height,
    silences: [],
  };
  const first = placed[0]?.[0] ?? 0;
  const last = placed.at(-1)?.[0] ?? 0;
  const count = Math.ceil(lengthS * PATH_HZ) + 1;
  const truth = emptyTruth(count);
  const at = { x: 0, y: 0, z: 0 };
  // Longer than any scene, so that the path doesn't start again: whoever has arrived stays there.
  const scene = { name: '', lengthS: 2 * LONGEST_S, parts: [] };
  for (let i = 0; i < count; i++) {
    const timeS = i / PATH_HZ;
    scenePosition(scene, part, Math.min(last, Math.max(first, timeS)), at);
    truth.timesS[i] = timeS;
    truth.xs[i] = at.x;
    truth.ys[i] = at.y;
    truth.zs[i] = at.z;
  }
  return { truth, sightings: undefined };
}

/** Centre of a circle, or mean of a polygon's corners, metres; undefined for a zone that moves: nobody can walk to that. */
function middleOf(show: Show, name: string): readonly [number, number] | undefined {
  const zone = show.zones.find(one => one.name === name && one.around === undefined);
  const shape = (zone ?? show.exits.find(one => one.name === name))?.area.shape;
  if (shape === undefined) return undefined;
  if (shape.kind === 'circle') return [shape.centre.x, shape.centre.y];
  const count = shape.points.length;
  return [
    shape.points.reduce((sum, [x]) => sum + x, 0) / count,
    shape.points.reduce((sum, [, y]) => sum + y, 0) / count,
  ];
}

function recordedMotion(
  one: Performer,
  file: string,
  path: Path,
  readReferenced: ReadReferenced,
  find: Find,
): Motion | undefined {
  const read = readReferenced(file);
  if (!read.ok) {
    find('file-unreadable', path, `${file} can't be read: ${read.why}.`);
    return undefined;
  }
  const result = parseRecording(read.text);
  if (!result.ok) {
    for (const fault of result.faults) find('bad-value', path, `${file}, ${fault}`);
    return undefined;
  }
  const { value: recording } = result;
  if (recording.kind === 'measured') {
    const { truth, sightings } = recording.passage;
    const shift = shiftOf(truth, one);
    return {
      truth: moved(truth, one, shift),
      sightings: sightings.map(sighting => ({
        ...sighting,
        timeS: sighting.timeS + shift,
        arrivalS: sighting.arrivalS + shift,
        x: sighting.x + one.move[0],
        y: sighting.y + one.move[1],
      })),
    };
  }
  const index = one.id === undefined ? 0 : recording.ids.indexOf(one.id);
  const truth = recording.truths[index];
  if (truth === undefined) {
    find('unknown-name', path, `${file} has no id "${one.id}", but ${listed(recording.ids)}.`);
    return undefined;
  }
  return { truth: moved(truth, one, shiftOf(truth, one)), sightings: undefined };
}

/** Seconds to add to the times of a motion, so that its first line comes at `start`. */
function shiftOf(truth: Truth, one: Performer): number {
  return one.start - (truth.timesS[0] ?? 0);
}

function moved(truth: Truth, one: Performer, shift: number): Truth {
  return {
    timesS: truth.timesS.map(timeS => timeS + shift),
    xs: truth.xs.map(x => x + one.move[0]),
    ys: truth.ys.map(y => y + one.move[1]),
    zs: truth.zs,
  };
}

function emptyTruth(count: number): Truth {
  return {
    timesS: new Float64Array(count),
    xs: new Float64Array(count),
    ys: new Float64Array(count),
    zs: new Float64Array(count),
  };
}
