import { type Parsed, parseReports } from '../../calibration/markers.js';
import type { Datagram } from '../../engine/values/inputs.js';
import type { OperatorAction } from '../../engine/values/operator-action.js';
import { readStart } from '../../recording/start.js';
import { parseRecording } from '../../rehearsal/assessing/recording.js';
import { reportDatagram } from '../../rehearsal/report-datagram.js';
import type { Feed, FeedTaker } from '../../rehearsal/tuning/tune-feed.js';
import type { InputPlan, Show } from '../../show/model/model.js';
import { parseShow } from '../../show/parse.js';
import { rotate } from '../../stage/rotation.js';
import { type Vec3, vec3 } from '../../stage/vector.js';
import { isRecording } from '../files/recorded-reports.js';
import { findRecording, readParts } from '../files/recording-files.js';
import { readParsed } from '../terminal/text-files.js';

/** A recording or a table of reports that can be played to the show. */
export interface TuneFeed {
  readonly feed: Feed;
  readonly isTable: boolean;
  /** What could not be read of it and was left out, in words. */
  readonly cut: readonly string[];
}

export interface TableReading {
  readonly input: InputPlan;
  readonly index: number;
  /** The tracker of a table that has no column for it. */
  readonly tracker: string;
  readonly tickHz: number;
}

/** @returns the feed, or a message that says what is wrong */
export function tuneFeed(path: string, show: Show, table: TableReading): TuneFeed | string {
  return isRecording(path) ? recordedFeed(path, show) : tableFeed(path, table);
}

function recordedFeed(path: string, show: Show): TuneFeed | string {
  const found = findRecording(path);
  if (!found.ok) return found.fault;
  const { engine, supervisor } = found.files;
  // Read through once before anything is computed, so that faults are reported at once.
  let engines = 0;
  const unheard = new Set<string>();
  const { cut, fault } = readParts(
    engine,
    item => {
      if (item.type !== 'start') return undefined;
      engines += 1;
      const inputs = inputsOf(item.value, show);
      if (typeof inputs === 'string') return inputs;
      for (const { name, index } of inputs) if (index < 0) unheard.add(name);
      return undefined;
    },
    supervisor,
  );
  if (fault !== undefined) return fault;
  if (engines === 0) return `there is no recorded engine in ${path} to run again.`;
  return {
    isTable: false,
    cut: [
      ...cut.map(part => `${part.file}: ${part.fault}; what is before it is used.`),
      ...[...unheard].map(
        name => `${path}: the show has no input "${name}"; what it received is left out.`,
      ),
    ],
    feed: taker => play(engine, supervisor, show, taker),
  };
}

function play(
  engine: readonly string[],
  supervisor: readonly string[],
  show: Show,
  taker: FeedTaker,
): void {
  let run: string | undefined;
  let inputs: readonly InputPlace[] = [];
  let actions: readonly OperatorAction[] = [];
  readParts(
    engine,
    item => {
      if (item.type === 'start') {
        const start = readStart(item.value);
        const mapped = inputsOf(item.value, show);
        // Otherwise the part continues the engine of the one before.
        if (start?.run !== run && typeof mapped !== 'string') {
          inputs = mapped;
          taker.began();
        }
        run = start?.run;
      } else if (item.type === 'action') {
        const wanted = (item.value as { actions?: readonly OperatorAction[] }).actions;
        actions = Array.isArray(wanted) ? wanted : [];
      } else if (item.type === 'absorb' || item.type === 'tick') {
        const { type, nowS, unixOffsetS } = item;
        const datagrams = item.datagrams.flatMap(datagram => {
          const input = inputs[datagram.input]?.index ?? -1;
          return input < 0 ? [] : [{ ...datagram, input }];
        });
        const operator = type === 'tick' ? actions : [];
        if (type === 'tick') actions = [];
        taker.intake({ type, nowS, unixOffsetS, datagrams, operator });
      }
      return undefined;
    },
    supervisor,
  );
}

/** For each input of the recorded show, its index in this one, by name; -1 if there is none. */
function inputsOf(value: unknown, show: Show): readonly InputPlace[] | string {
  const start = readStart(value);
  if (start === undefined) return 'its first record does not say who recorded what';
  const parsed = parseShow(start.showText, start.showFile);
  if (!parsed.ok) {
    return `its show, recorded by version ${start.version}, can't be read by this version: ${parsed.problems[0]?.message ?? ''}`;
  }
  return parsed.show.inputs.map(({ name }) => ({
    name,
    index: show.inputs.findIndex(input => input.name === name),
  }));
}

interface InputPlace {
  readonly name: string;
  readonly index: number;
}

interface TableReport {
  readonly tracker: string;
  readonly timeS: number;
  /** Stage frame, metres. */
  readonly at: Readonly<Vec3>;
}

function tableFeed(
  path: string,
  { input, index, tracker, tickHz }: TableReading,
): TuneFeed | string {
  const faults: string[] = [];
  const parsed = readParsed(path, text => tableReports(text, input, tracker), faults);
  if (parsed === undefined) return faults.join('\n');
  const datagrams = parsed.map(({ tracker: from, timeS, at }): Datagram => {
    const bytes = reportDatagram(input, from, at, timeS);
    if (bytes === undefined) throw new Error('an input of positions without a route');
    return { input: index, bytes, arrivalS: timeS };
  });
  const firstS = datagrams[0]?.arrivalS ?? 0;
  const lastS = datagrams.at(-1)?.arrivalS ?? 0;
  return {
    isTable: true,
    cut: [],
    feed: taker => {
      taker.began();
      let next = 0;
      for (let tick = 0; ; tick++) {
        const nowS = firstS + tick / tickHz;
        if (nowS > lastS + AFTER_S) break;
        const from = next;
        while ((datagrams[next]?.arrivalS ?? Number.POSITIVE_INFINITY) <= nowS) next++;
        taker.intake({
          type: 'tick',
          nowS,
          unixOffsetS: 0,
          datagrams: datagrams.slice(from, next),
          operator: [],
        });
      }
    },
  };
}

/** The engine runs on for this long after the last report of a table, seconds. */
const AFTER_S = 0.2;

/** The reports of a table in the order of their times. */
function tableReports(text: string, input: InputPlan, tracker: string): Parsed<TableReport[]> {
  const [head = ''] = text.split('\n', 1);
  if (/\b(mx|tx)\b/.test(head)) return assessedReports(text, tracker);
  const parsed = parseReports(text);
  if (!parsed.ok) return parsed;
  const { origin, rotation, scale } = input;
  const value = [...parsed.value].flatMap(([from, reports]) =>
    reports.map(({ timeS, x, y, z }): TableReport => {
      const at = vec3(x, y, z);
      rotate(rotation, at, at);
      at.x = origin.x + scale * at.x;
      at.y = origin.y + scale * at.y;
      at.z = origin.z + scale * at.z;
      return { tracker: from, timeS, at };
    }),
  );
  value.sort((a, b) => a.timeS - b.timeS);
  return { ok: true, value };
}

/** A table of `assess`: the measured places on the stage are used, the truth beside them is not. */
function assessedReports(text: string, tracker: string): Parsed<TableReport[]> {
  const parsed = parseRecording(text);
  if (!parsed.ok) return parsed;
  const recording = parsed.value;
  if (recording.kind !== 'measured') {
    return { ok: false, faults: ['it has only true places, no reports.'] };
  }
  const value = recording.passage.sightings.map(({ timeS, x, y, z }) => ({
    tracker,
    timeS,
    at: vec3(x, y, z),
  }));
  return { ok: true, value };
}
