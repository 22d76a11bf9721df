import { createEngine } from '../../src/engine/engine.js';
import { absorb, step } from '../../src/engine/step.js';
import { takeOver } from '../../src/engine/take-over/take-over.js';
import type { Datagram } from '../../src/engine/values/inputs.js';
import type { OperatorAction } from '../../src/engine/values/operator-action.js';
import { encodePacket } from '../../src/protocols/osc/encode.js';
import { type RecordedItem, readPart } from '../../src/recording/decode.js';
import {
  encodeFrame,
  encodeIntake,
  encodeJson,
  frameBytesAtMost,
  intakeBytes,
} from '../../src/recording/encode.js';
import { MAGIC } from '../../src/recording/layout.js';
import type { Start } from '../../src/recording/start.js';
import { SALT_LANTERN } from '../../src/rehearsal/scenes/salt-lantern.js';
import { scenePosition } from '../../src/rehearsal/scenes/scene.js';
import { seededRandom } from '../../src/rehearsal/sensors/random.js';
import type { Show } from '../../src/show/model/model.js';
import { patchedSlots } from '../../src/show/model/patched-slots.js';
import { showOf } from '../show/show-of.js';

export const TICK_HZ = 40;
export const START_S = 1000.125;
export const UNIX_OFFSET_S = 1_764_000_000;

export interface SessionOptions {
  readonly run?: string;
  readonly orders?: (tick: number) => readonly OperatorAction[];
  /** Whether the tracking system speaks at this time of the scene, seconds. */
  readonly heard?: (sinceS: number) => boolean;
  /** When it begins, seconds after START_S. */
  readonly fromS?: number;
  /** Goes on with the text of another show from this tick on, as a reload does. */
  readonly reload?: { readonly tick: number; readonly text: string };
}

/** What the first record of a run says. */
export function startOf(text: string, { universes }: Show, atS: number, run = 'run-1'): Start {
  return {
    by: 'engine',
    run,
    part: 1,
    tick: 0,
    version: '0.1.0',
    node: process.version,
    platform: 'linux x64',
    tickHz: TICK_HZ,
    showFile: 'a.show.yaml',
    showText: text,
    universes: [...universes],
    atS,
    unixOffsetS: UNIX_OFFSET_S,
  };
}

/** A session of a show with the demo's scene, as the daemon would record it: the records one by one. */
export function recordSession(
  text: string,
  lengthS: number,
  { run = 'run-1', orders = () => [], heard = () => true, fromS = 0, reload }: SessionOptions = {},
): Buffer[] {
  const show = showOf(text);
  let state = createEngine(show);
  /** Ticks of the runs before. */
  let before = 0;
  const runs = patchedSlots(show);
  const last = new Uint8Array(show.universes.length * 512);
  const random = seededRandom(7);
  const beganS = START_S + fromS;
  const start = startOf(text, show, beganS, run);
  const records = [encodeJson('start', start)];
  const at = { x: 0, y: 0, z: 0 };
  const reports = (sinceS: number): Datagram[] =>
    SALT_LANTERN.parts.flatMap(part => {
      if (!heard(sinceS) || !scenePosition(SALT_LANTERN, part, sinceS, at)) return [];
      const args = [at.x, at.y, at.z].map(value => ({
        type: 'f' as const,
        value: value + 0.1 * (random() - 0.5),
      }));
      const address = `/tracker/${part.tracker}/position`;
      const bytes = Buffer.from(encodePacket({ address, args }));
      return [{ input: 0, bytes, arrivalS: beganS + sinceS + 0.001 * random() }];
    });
  for (let tick = 0; tick < lengthS * TICK_HZ; tick++) {
    // A timer is never on time to the bit.
    const nowS = beganS + tick / TICK_HZ + 0.002 * random();
    if (tick === reload?.tick) {
      const engine = createEngine(showOf(reload.text));
      takeOver(engine, state);
      state = engine;
      records.push(encodeJson('end', { tick, atS: nowS }));
      const more = { run: `${run} on`, before: run, part: 2, showText: reload.text };
      records.push(encodeJson('start', { ...start, ...more }));
      before = tick;
      last.fill(0);
    }
    const take = (type: 'absorb' | 'tick', datagrams: Datagram[], atS: number) => {
      const record = Buffer.alloc(intakeBytes(datagrams));
      encodeIntake(record, 0, type, tick - before, atS, UNIX_OFFSET_S, datagrams);
      records.push(record);
      return { datagrams, unixOffsetS: UNIX_OFFSET_S };
    };
    if (tick % 7 === 3) {
      absorb(state, take('absorb', reports(tick / TICK_HZ - 0.01), nowS - 0.005), nowS - 0.005);
    }
    const operator = orders(tick);
    if (operator.length > 0)
      records.push(encodeJson('action', { tick: tick - before, actions: operator }));
    const inputs = take('tick', tick % 4 === 0 ? [] : reports(tick / TICK_HZ - 0.002), nowS);
    const { levels, events } = step(state, { ...inputs, operator }, nowS);
    const frame = Buffer.alloc(frameBytesAtMost(runs));
    const end = encodeFrame(frame, 0, tick - before, nowS + 0.0005, runs, levels, last);
    records.push(frame.subarray(0, end));
    if (events.length > 0) records.push(encodeJson('events', { tick: tick - before, events }));
  }
  return records;
}

export function itemsOf(records: readonly Buffer[]): RecordedItem[] {
  return [...readPart(Buffer.concat([MAGIC, ...records]))];
}
