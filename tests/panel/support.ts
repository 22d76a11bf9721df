import { readFileSync } from 'node:fs';
import { stripVTControlCharacters } from 'node:util';
import { expect } from 'vitest';
import { stateOf } from '../../src/daemon/status/states.js';
import { createEngine } from '../../src/engine/engine.js';
import { viewOf } from '../../src/engine/view.js';
import { describeStage } from '../../src/live/describe-stage.js';
import { EnginePicture } from '../../src/live/engine-part.js';
import type { LiveEngine, LivePerformer } from '../../src/live/engine-schema.js';
import type { LiveSnapshot } from '../../src/live/schema.js';
import { widthOf } from '../../src/panel/line.js';
import { liveView, type ViewInput } from '../../src/panel/live-view.js';
import type { Phase } from '../../src/safety/watchdog.js';
import type { Show } from '../../src/show/model/model.js';
import { demand } from '../demand.js';
import { showOf } from '../show/show-of.js';

export const LANTERN = showOf(readFileSync('config/salt-lantern.show.yaml', 'utf8'));
export const plain: ViewInput['style'] = (_style, text) => text;
export const NEWS = Array.from({ length: 30 }, (_, i) => `21:04:${i}  ines enters stove`);

/** Of a performer, what a test says; they are somewhere as soon as it says where. */
export interface PerformerFields {
  readonly phase?: Phase;
  readonly cause?: LivePerformer['cause'];
  readonly x?: number;
  readonly y?: number;
  readonly zones?: string[];
}

const starts = new WeakMap<Show, LiveEngine>();

/** The engine's own picture at the start, with performers as given. */
export function seen(show: Show, performers: readonly PerformerFields[] = []): LiveEngine {
  const start = starts.get(show) ?? new EnginePicture(viewOf(createEngine(show))).take();
  starts.set(show, start);
  return {
    ...start,
    performers: start.performers.map((one, i) => {
      const { x, y, phase = one.phase, cause, zones = one.zones } = performers[i] ?? {};
      const place = x === undefined || y === undefined ? {} : { place: { x, y, z: 1.5 } };
      return { ...one, ...place, ...(cause && { cause }), phase, zones };
    }),
  };
}

/** When the snapshots of these tests are made, and since when things are as they are. */
const AT_S = 1_764_000_012;
const SINCE = new Date((AT_S - 12) * 1e3).toISOString();

export interface Told {
  readonly engine?: LiveEngine | null;
  readonly phase?: LiveSnapshot['status']['supervisor']['phase'];
  readonly pid?: number | undefined;
  readonly status?: Partial<LiveSnapshot['status']>;
}

export function snapshotOf(show: Show, told: Told = {}): LiveSnapshot {
  const { engine = seen(show), phase = 'live', status = {} } = told;
  const pid = 'pid' in told ? told.pid : 4711;
  return {
    kind: 'snapshot',
    version: 1,
    sequence: 1,
    revision: 1,
    atS: AT_S,
    engine,
    status: {
      show: show.name,
      light: 'live',
      leftAlone: [],
      notSent: [],
      turnedAway: [],
      outputsElsewhere: [],
      delays: [],
      supervisor: { phase, cause: '', since: SINCE },
      engine: { ...(pid === undefined ? {} : { pid }), since: SINCE },
      performers: show.performers.map(({ name, label }, index) => {
        const { phase: theirs = 'waiting', cause } = engine?.performers[index] ?? {};
        const known = cause === undefined ? {} : { cause };
        const state = cause === 'operator-stop' ? 'stopped' : stateOf(theirs);
        return { name, label, state, phase: theirs, ...known, since: SINCE };
      }),
      heads: [],
      stops: { everybody: false, performers: [], performerLabels: [] },
      feed: { silent: false, since: SINCE, positionsPerS: 60, datagramsPerS: 60, droppedPerS: 0 },
      silentTrackers: [],
      frozenTrackers: [],
      apartTrackers: [],
      lowBatteries: [],
      desk: [],
      outputs: [],
      positions: [],
      troubles: [],
      ...status,
    },
  };
}

export interface ViewFields extends Partial<Omit<ViewInput, 'stage' | 'snapshot'>>, Told {
  readonly show?: Show;
  readonly snapshot?: LiveSnapshot | undefined;
}

export function view(fields: ViewFields = {}): string[] {
  const { show = LANTERN, columns = 130, rows = 50, style = plain, news = NEWS, notice } = fields;
  const engine =
    fields.engine === undefined
      ? seen(show, [
          { phase: 'live', x: 5, y: 4, zones: ['lantern'] },
          { phase: 'live', x: 2, y: 6 },
          { phase: 'losing', cause: 'tracker-silent', x: 8.6, y: 6.8 },
        ])
      : fields.engine;
  const snapshot = 'snapshot' in fields ? fields.snapshot : snapshotOf(show, { ...fields, engine });
  return liveView({
    stage: describeStage(show, 1),
    snapshot,
    news,
    notice,
    hint: 'Ctrl-C leaves',
    columns,
    rows,
    style,
  });
}

/** The last row and column stay free: a cursor there would scroll, or be erased over. */
export function expectToFit(lines: readonly string[], columns: number, rows: number): void {
  expect(lines.length).toBeLessThanOrEqual(Math.max(0, rows - 1));
  for (const line of lines) {
    const width = widthOf(stripVTControlCharacters(line));
    demand(width <= Math.max(0, columns - 1), () => `${width} of ${columns} columns: ${line}`);
    demand(!/[\n\r]/.test(line), () => `two lines: ${JSON.stringify(line)}`);
  }
}
