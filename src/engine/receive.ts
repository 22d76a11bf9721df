import { decodeDatagram, type OscLimits, type OscVisitor } from '../protocols/osc/decode.js';
import type { OscArgument } from '../protocols/osc/library.js';
import { readOrder } from '../protocols/osc/orders.js';
import { type RawPosition, rawPosition, readPosition } from '../protocols/osc/route.js';
import type { OscTimeTag } from '../protocols/osc/timetag.js';
import type { InputPlan } from '../show/model.js';
import { rotate } from '../stage/rotation.js';
import { unreachable } from '../stage/unreachable.js';
import { vec3 } from '../stage/vector.js';
import { toOurTime } from '../tracking/clock.js';
import { observe } from '../tracking/observe.js';
import type { Datagram, TickInputs } from './inputs.js';
import { take } from './orders.js';
import {
  type EngineState,
  type HeldPosition,
  NOBODY,
  type PerformerState,
  type Wearer,
} from './state.js';

/** No stage is larger; and nothing this far away can overflow what is computed from it. */
const FARTHEST_M = 1000;
/** OSC 1.0: a message tagged with a time ahead waits for it. Farther ahead, the sender's clock is wrong. */
export const MAX_HOLD_S = 5;
/** 200 trackers at 100 Hz for a tenth of a second. */
const MAX_HELD = 2048;
const MAX_BUNDLE_DEPTH = 8;

/** Datagrams and due messages become sightings, each with its track; or are counted. */
export function receive(state: EngineState, inputs: TickInputs, nowS: number): void {
  release(state, nowS);
  if (inputs.datagrams.length === 0) return;
  const reader = new Reader(state, inputs.unixOffsetS, nowS);
  for (const datagram of inputs.datagrams) {
    state.counters.datagrams += 1;
    reader.read(datagram);
  }
}

/** Reads the datagrams of one tick; one of its kind a tick, so that none is made a datagram. */
class Reader implements OscVisitor {
  readonly #raw = rawPosition();
  readonly #at = vec3(0, 0, 0);
  readonly #limits: { -readonly [K in keyof OscLimits]: OscLimits[K] } = {
    maxDatagramBytes: 0,
    maxBundleDepth: MAX_BUNDLE_DEPTH,
  };
  #input = 0;
  #arrivalS = 0;
  #from: string | undefined;

  constructor(
    private readonly state: EngineState,
    private readonly unixOffsetS: number,
    private readonly nowS: number,
  ) {}

  read({ input, bytes, arrivalS, from }: Datagram): void {
    const plan = this.state.show.inputs[input];
    if (plan === undefined) return;
    this.#input = input;
    this.#arrivalS = arrivalS;
    this.#from = from;
    this.#limits.maxDatagramBytes = plan.maxDatagramBytes;
    decodeDatagram(bytes, this.#limits, this);
  }

  rejected(reason: Parameters<OscVisitor['rejected']>[0]): void {
    this.state.counters.drops[reason] += 1;
  }

  message(address: string, args: readonly OscArgument[], timeTag: OscTimeTag): void {
    const { state } = this;
    const { drops } = state.counters;
    const table = state.routes[this.#input];
    const plan = state.show.inputs[this.#input];
    if (table === undefined || plan === undefined) return;
    if (plan.carries === 'orders') {
      this.#order(address, args);
      return;
    }
    const raw = this.#raw;
    const reason = readPosition(table, address, args, raw);
    if (reason !== undefined) {
      drops[reason] += 1;
      return;
    }
    const wearer = state.wearers.get(raw.tracker);
    if (wearer === undefined) {
      drops['unknown-tracker'] += 1;
      return;
    }
    wearer.heardS = this.#arrivalS;
    if (raw.battery !== undefined) wearer.battery = raw.battery;
    if (wearer.performer === NOBODY) {
      state.counters.spares += 1;
      return;
    }
    const at = place(plan, raw, this.#at);
    if (
      !(
        Math.abs(at.x) <= FARTHEST_M &&
        Math.abs(at.y) <= FARTHEST_M &&
        Math.abs(at.z) <= FARTHEST_M
      )
    ) {
      drops['position-range'] += 1;
      return;
    }
    const quality = raw.quality ?? 1;
    const latencyS = state.show.tracking.sensorLatencyS;
    const clock = state.clocks[this.#input];
    const tag = plan.timeTags === 'measured' && timeTag !== 'immediately' ? timeTag : undefined;
    const stampS = raw.stampS ?? tag;
    state.untagged[this.#input] = stampS === undefined ? 1 : 0;
    (state.performers[wearer.performer] as PerformerState).input = this.#input;
    if (stampS !== undefined && clock !== undefined) {
      const measuredS = toOurTime(clock, stampS, this.#arrivalS);
      sight(state, wearer, at, quality, measuredS - latencyS, this.#arrivalS);
      return;
    }
    const dueS = timeTag === 'immediately' ? this.#arrivalS : timeTag - this.unixOffsetS;
    if (dueS <= this.nowS) {
      // OSC 1.0: a time that has passed means at once. What it says of the sensor's clock is not
      // taken for the time of measurement: the two clocks need not agree.
      sight(state, wearer, at, quality, this.#arrivalS - latencyS, this.#arrivalS);
    } else if (dueS - this.nowS > MAX_HOLD_S) {
      drops['time-tag-too-late'] += 1;
    } else if (state.held.length >= MAX_HELD) {
      drops['too-many-held'] += 1;
    } else {
      insertByDue(state.held, { dueS, wearer, x: at.x, y: at.y, z: at.z, quality });
    }
  }

  #order(address: string, args: readonly OscArgument[]): void {
    const { state } = this;
    const order = readOrder(address, args);
    const refusal =
      typeof order === 'string' ? order : take(state, order, this.#arrivalS, this.#from);
    if (refusal !== undefined) state.counters.drops[refusal] += 1;
  }
}

/** Tracking frame to stage frame: `stage = origin + scale * rotation * tracking`. */
function place(plan: InputPlan, raw: RawPosition, out: { x: number; y: number; z: number }) {
  out.x = raw.x;
  out.y = raw.y;
  out.z = raw.z;
  rotate(plan.rotation, out, out);
  out.x = plan.origin.x + plan.scale * out.x;
  out.y = plan.origin.y + plan.scale * out.y;
  out.z = plan.origin.z + plan.scale * out.z;
  return out;
}

function release(state: EngineState, nowS: number): void {
  const { held } = state;
  let due = 0;
  for (const position of held) {
    if (position.dueS > nowS) break;
    const { wearer, quality, dueS } = position;
    sight(state, wearer, position, quality, dueS - state.show.tracking.sensorLatencyS, dueS);
    due += 1;
  }
  if (due > 0) held.splice(0, due);
}

/** Stable: messages with the same time keep the order in which they came. */
function insertByDue(held: HeldPosition[], position: HeldPosition): void {
  let at = held.length;
  while (at > 0 && (held[at - 1] as HeldPosition).dueS > position.dueS) at -= 1;
  held.splice(at, 0, position);
}

function sight(
  state: EngineState,
  wearer: Wearer,
  at: { readonly x: number; readonly y: number; readonly z: number },
  quality: number,
  timeS: number,
  arrivalS: number,
): void {
  const performer = state.performers[wearer.performer];
  if (performer === undefined) return;
  const { sighting } = state;
  sighting.tracker = wearer.place;
  sighting.arrivalS = arrivalS;
  sighting.timeS = timeS;
  sighting.x = at.x;
  sighting.y = at.y;
  sighting.z = at.z;
  sighting.quality = quality;
  const { counters } = state;
  counters.positions += 1;
  performer.lastHeardS = arrivalS;
  state.lastHeardS = arrivalS;
  performer.observation.seen = true;
  const verdict = observe(performer.track, sighting);
  for (const told of state.reportListeners) told(wearer.performer, wearer.id, sighting, verdict);
  switch (verdict) {
    case 'started':
    case 'accepted':
      break;
    case 'gated':
    case 'frozen':
      counters.gated += 1;
      break;
    case 'reacquired':
      performer.observation.jumped = true;
      break;
    case 'out-of-order':
      counters.outOfOrder += 1;
      break;
    case 'duplicate':
      counters.duplicates += 1;
      break;
    case 'replayed':
      counters.replayed += 1;
      break;
    case 'invalid':
      counters.invalid += 1;
      break;
    default:
      unreachable(verdict);
  }
}
