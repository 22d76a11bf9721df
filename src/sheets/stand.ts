import { createEngine } from '../engine/engine.js';
import { step } from '../engine/step.js';
import type { Datagram, DeskLevels } from '../engine/values/inputs.js';
import type { OperatorAction } from '../engine/values/operator-action.js';
import { type EngineView, viewOf } from '../engine/view.js';
import { encodePacket } from '../protocols/osc/encode.js';
import { ORDER_ADDRESSES } from '../protocols/osc/orders.js';
import { reportDatagram } from '../rehearsal/report-datagram.js';
import { numberDatagram } from '../rehearsal/scenes/numbers.js';
import type { Show } from '../show/model/model.js';
import type { Vec3 } from '../stage/vector.js';

/** Where people are in a question to a show. */
export interface Standing {
  /** By index of the performer; who is not there was never heard. */
  readonly places: ReadonlyMap<number, Readonly<Vec3>>;
  /** Those who fall silent there, and those who are sent off stage there. */
  readonly lost: ReadonlySet<number>;
  readonly off: ReadonlySet<number>;
  /** So long they stand, and so long are they gone, seconds. */
  readonly forS: number;
  /** What people order at the beginning. */
  readonly orders: readonly OperatorAction[];
  /** Numbers by OSC that come in all the time, by the name of their signal. */
  readonly numbers?: ReadonlyMap<string, number>;
  /** Universes of the desk; for a little more than a second they are all at 0. */
  readonly desk?: readonly DeskLevels[];
}

const TICK_S = 1 / 40;
/** Monotonic clocks count from the start of the machine. */
const START_S = 1000;
const UNIX_OFFSET_S = 1_700_000_000;
const DESK_FROM_TICK = 45;
/** A place that repeats to the last bit is a feed that hangs. */
const SWAY_M = 0.001;

/** The real engine, with people who stand still, on a clock of its own; asked in its last tick why all is as it is. */
export function stand(
  show: Show,
  { places, lost, off, forS, orders, numbers = new Map(), desk = [] }: Standing,
): EngineView {
  const engine = createEngine(show);
  const view = viewOf(engine);
  const input = show.inputs.findIndex(one => one.carries === 'positions');
  const plan = show.inputs[input];
  const phases = lost.size + off.size > 0 ? 2 : 1;
  const ticks = Math.max(1, Math.round((phases * forS) / TICK_S));
  for (let tick = 1; tick <= ticks; tick++) {
    const nowS = START_S + tick * TICK_S;
    const gone = phases === 2 && tick > ticks / 2;
    const datagrams: Datagram[] = [];
    if (show.operator !== undefined) {
      const bytes = encodePacket({ address: ORDER_ADDRESSES.desk, args: [] });
      datagrams.push({ input: show.operator.input, bytes, arrivalS: nowS });
    }
    for (const [performer, { x, y, z }] of places) {
      if (plan === undefined || (gone && (lost.has(performer) || off.has(performer)))) continue;
      const sway = SWAY_M * Math.sin(1.3 * nowS + performer);
      for (const { id } of show.performers[performer]?.trackers ?? []) {
        const place = { x: x + sway, y: y + 0.7 * sway, z };
        const bytes = reportDatagram(plan, id, place, nowS + UNIX_OFFSET_S);
        if (bytes !== undefined) datagrams.push({ input, bytes, arrivalS: nowS });
      }
    }
    for (const [signal, value] of numbers) {
      const one = numberDatagram(show, signal, value);
      if (one !== undefined) datagrams.push({ ...one, arrivalS: nowS });
    }
    const leaving = tick === Math.floor(ticks / 2) + 1 && phases === 2 ? [...off] : [];
    const operator = [
      ...(tick === 1 ? orders : []),
      ...leaving.map(
        (one): OperatorAction => ({
          kind: 'off',
          performer: show.performers[one]?.name,
          cause: 'command',
        }),
      ),
    ];
    if (tick === ticks) view.askWhy();
    // At 0 first, so that what is held or pressed rises: in its first second a desk orders nothing.
    const heard =
      tick === 1
        ? desk.map(one => ({ ...one, levels: new Uint8Array(one.levels.length) }))
        : tick === Math.min(ticks, DESK_FROM_TICK)
          ? desk
          : [];
    step(engine, { datagrams, unixOffsetS: UNIX_OFFSET_S, operator, desk: heard }, nowS);
  }
  return view;
}
