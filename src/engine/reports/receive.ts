import {
  decodeDatagram,
  MAX_BUNDLE_DEPTH,
  type OscLimits,
  type OscVisitor,
} from '../../protocols/osc/decode.js';
import type { OscArgument } from '../../protocols/osc/library.js';
import { type Order, readOrder } from '../../protocols/osc/orders.js';
import { type PositionTaker, readPositions } from '../../protocols/osc/read-positions.js';
import { compileRoutes, type RouteTable } from '../../protocols/osc/route.js';
import { signalValueOf } from '../../protocols/osc/signal-value.js';
import type { OscTimeTag } from '../../protocols/osc/timetag.js';
import { decodePsn, type PsnTracker, type PsnVisitor } from '../../protocols/psn/decode.js';
import { compilePsnFeed, type PsnFeed, readPsnPosition } from '../../protocols/psn/position.js';
import { type RawPosition, rawPosition } from '../../protocols/raw-position.js';
import type { InputPlan, Show } from '../../show/model/model.js';
import { rotate } from '../../stage/rotation.js';
import { vec3 } from '../../stage/vector.js';
import { createSensorClock, type SensorClock, toOurTime } from '../../tracking/clock.js';
import type { Counters, DropReason, TrackerFeed } from '../values/counters.js';
import type { Datagram } from '../values/inputs.js';
import { countFeed, countPort } from './feeds.js';
import { NOBODY, type Roster, type Tracker } from './roster.js';

/** No stage is larger; and nothing this far away can overflow what is computed from it. */
const FARTHEST_M = 1000;
/** OSC 1.0: a message tagged with a time ahead waits for it. Farther ahead, the sender's clock is wrong. */
export const MAX_HOLD_S = 5;
/** 200 trackers at 100 Hz for a tenth of a second. */
const MAX_HELD = 2048;
const NONE: readonly Report[] = [];

/** What is remembered on the way from datagrams to reports and orders. */
export interface Reception {
  readonly inputs: readonly InputPlan[];
  readonly routes: readonly RouteTable[];
  /** For each input how it is read if it comes by PosiStageNet; undefined: by OSC. */
  readonly psn: readonly (PsnFeed | undefined)[];
  readonly sensorLatencyS: number;
  /** For each input, the clock of its tracking system on ours. */
  readonly clocks: readonly SensorClock[];
  /** For each performer 1 if their last report carried neither stamp nor time tag; it matters only if it should have. */
  readonly untagged: Uint8Array;
  /** For each performer the input on which they were last heard; -1 before. */
  readonly inputOf: Int32Array;
  /** For each tracker the entries of `counters.feeds` found before. */
  readonly feedsOf: readonly TrackerFeed[][];
  /** For each tracker when its last position arrived, monotonic seconds; minus infinity before. */
  readonly heardS: Float64Array;
  /** For each tracker, spares too, where on the floor it was last reported: x, y in the stage frame; NaN before. */
  readonly places: Float64Array;
  /** For each tracker the charge left by its last word, 0..1; NaN until it has said. */
  readonly battery: Float64Array;
  /** For each tracker its last impossible charge; NaN: none. */
  readonly batteryOutside: Float64Array;
  /** Numbers for signals: for each signal the last one, and when it came, monotonic seconds; minus infinity before. */
  readonly numbers: { readonly value: Float64Array; readonly heardS: Float64Array };
  /** For each input, by address, the signals it has numbers for; undefined where there are none, and nothing is looked up. */
  readonly signalsAt: readonly (ReadonlyMap<string, readonly NumberPlace[]> | undefined)[];
  readonly counters: Pick<
    Counters,
    'datagrams' | 'numbers' | 'spares' | 'drops' | 'latest' | 'latestFrom' | 'feeds'
  >;
  /** Reports that wait for their time tag, when they count as arrived; the earliest first. */
  readonly held: Report[];
  /** Result of the present datagram. */
  readonly received: Received;
  readonly reader: Reader;
}

/** Which argument of a message belongs to which signal. */
interface NumberPlace {
  readonly signal: number;
  readonly argument: number;
}

/** The output of this stage, refilled each time, so that no report allocates anything. */
export interface Received {
  readonly reports: Report[];
  /** How many of the reports there are now. */
  count: number;
  readonly orders: Order[];
}

/** A position in the stage frame, of a tracker that somebody wears. */
export interface Report {
  tracker: Tracker;
  /** When it was measured, and when it arrived, monotonic seconds. */
  timeS: number;
  arrivalS: number;
  /** Metres. */
  x: number;
  y: number;
  z: number;
  quality: number;
}

export function createReception(
  show: Show,
  roster: Roster,
  counters: Reception['counters'],
): Reception {
  const trackers = roster.trackers.length;
  const reception = {
    inputs: show.inputs,
    routes: show.inputs.map(input => {
      const compiled = compileRoutes(input.routes);
      if (!compiled.ok) throw new Error('an engine was made of a show that has not been checked');
      return compiled.table;
    }),
    psn: show.inputs.map(({ psn }) => psn && compilePsnFeed(psn)),
    sensorLatencyS: show.tracking.sensorLatencyS,
    clocks: show.inputs.map(() => createSensorClock()),
    untagged: new Uint8Array(show.performers.length),
    inputOf: new Int32Array(show.performers.length).fill(-1),
    heardS: new Float64Array(trackers).fill(Number.NEGATIVE_INFINITY),
    places: new Float64Array(2 * trackers).fill(Number.NaN),
    battery: new Float64Array(trackers).fill(Number.NaN),
    batteryOutside: new Float64Array(trackers).fill(Number.NaN),
    numbers: {
      value: new Float64Array(show.signals.signals.length),
      heardS: new Float64Array(show.signals.signals.length).fill(Number.NEGATIVE_INFINITY),
    },
    signalsAt: show.inputs.map((_, input) => numberPlaces(show, input)),
    counters,
    feedsOf: roster.trackers.map((): TrackerFeed[] => []),
    held: [],
    received: { reports: [], count: 0, orders: [] },
  };
  return { ...reception, reader: new Reader(reception, roster) };
}

function numberPlaces(
  { signals: { signals } }: Show,
  input: number,
): Map<string, NumberPlace[]> | undefined {
  const places = new Map<string, NumberPlace[]>();
  signals.forEach(({ source }, signal) => {
    if (source.kind !== 'osc' || source.input !== input) return;
    const there = places.get(source.address) ?? [];
    places.set(source.address, [...there, { signal, argument: source.argument }]);
  });
  return places.size === 0 ? undefined : places;
}

/** Reports that are due now. */
export function release({ held }: Reception, nowS: number): readonly Report[] {
  let due = 0;
  while (due < held.length && (held[due] as Report).arrivalS <= nowS) due += 1;
  return due === 0 ? NONE : held.splice(0, due);
}

/** One datagram -> reports and orders; or the reason why not is counted. */
export function receive(
  { reader, received, counters }: Reception,
  datagram: Datagram,
  unixOffsetS: number,
  nowS: number,
): Received {
  received.count = 0;
  if (received.orders.length > 0) received.orders.length = 0;
  counters.datagrams += 1;
  reader.read(datagram, unixOffsetS, nowS);
  return received;
}

/** The decoders call it for each message, tracker and position, so that a datagram makes no list. */
class Reader implements OscVisitor, PsnVisitor, PositionTaker {
  readonly #raw = rawPosition();
  readonly #at = vec3(0, 0, 0);
  readonly #limits: { -readonly [K in keyof OscLimits]: OscLimits[K] } = {
    maxDatagramBytes: 0,
    maxBundleDepth: MAX_BUNDLE_DEPTH,
  };
  #input = 0;
  #arrivalS = 0;
  #unixOffsetS = 0;
  #nowS = 0;
  /** Address and time tag of the present message. */
  #address: string | undefined;
  #timeTag: OscTimeTag = 'immediately';
  #sender: string | undefined;
  #port: number | undefined;

  constructor(
    private readonly reception: Omit<Reception, 'reader'>,
    private readonly roster: Roster,
  ) {}

  read(
    { input, bytes, arrivalS, sender, port, from }: Datagram,
    unixOffsetS: number,
    nowS: number,
  ): void {
    const plan = this.reception.inputs[input];
    if (plan === undefined) return;
    this.#input = input;
    this.#arrivalS = arrivalS;
    this.#unixOffsetS = unixOffsetS;
    this.#nowS = nowS;
    this.#sender = sender ?? from;
    this.#port = port;
    this.#address = undefined;
    this.#timeTag = 'immediately';
    if (plan.psn !== undefined) {
      decodePsn(bytes, this, plan.maxDatagramBytes);
      return;
    }
    this.#limits.maxDatagramBytes = plan.maxDatagramBytes;
    decodeDatagram(bytes, this.#limits, this);
  }

  rejected(
    reason:
      | Parameters<OscVisitor['rejected']>[0]
      | Parameters<PsnVisitor['rejected']>[0]
      | Parameters<PositionTaker['rejected']>[0],
  ): void {
    this.#count(reason);
    if (this.#address !== undefined) this.reception.counters.latest[reason] = this.#address;
  }

  message(address: string, args: readonly OscArgument[], timeTag: OscTimeTag): void {
    const { reception } = this;
    const places = reception.signalsAt[this.#input]?.get(address);
    if (places !== undefined) this.#numbers(places, address, args);
    else if (reception.inputs[this.#input]?.carries === 'orders') this.#order(address, args);
    else {
      this.#address = address;
      this.#timeTag = timeTag;
      const table = reception.routes[this.#input] as RouteTable;
      readPositions(table, address, args, this.#arrivalS, this.#raw, this);
      this.#address = undefined;
    }
  }

  tracker(tracker: Readonly<PsnTracker>): void {
    const raw = this.#raw;
    const feed = this.reception.psn[this.#input] as PsnFeed;
    const reason = readPsnPosition(feed, tracker, raw);
    if (reason === undefined) this.position(raw);
    else this.#drop(reason, `tracker ${raw.tracker}`);
  }

  #order(address: string, args: readonly OscArgument[]): void {
    const order = readOrder(address, args);
    if (typeof order === 'string') this.#drop(order, address);
    else this.reception.received.orders.push(order);
  }

  /** Numbers count from their arrival. Anything else is counted as dropped, and the signal keeps its value. */
  #numbers(places: readonly NumberPlace[], address: string, args: readonly OscArgument[]): void {
    const { numbers, counters } = this.reception;
    for (const { signal, argument } of places) {
      const given = args[argument];
      const value = given === undefined ? undefined : signalValueOf(given);
      if (value === undefined || !Number.isFinite(value)) {
        const missing = given === undefined ? 'argument-count' : 'argument-type';
        this.#drop(value === undefined ? missing : 'not-finite', address);
        continue;
      }
      counters.numbers += 1;
      numbers.value[signal] = value;
      numbers.heardS[signal] = this.#arrivalS;
    }
  }

  position(raw: Readonly<RawPosition>): void {
    const { reception } = this;
    const plan = reception.inputs[this.#input] as InputPlan;
    const tracker = this.roster.byId.get(raw.tracker);
    if (tracker === undefined) {
      this.#drop('unknown-tracker', raw.tracker);
      return;
    }
    const heardS = reception.heardS[tracker.index] as number;
    reception.heardS[tracker.index] = this.#arrivalS;
    const known = reception.feedsOf[tracker.index] as TrackerFeed[];
    const feed = countFeed(reception.counters.feeds, known, tracker.id, plan.name, this.#sender);
    this.#charge(tracker, raw);
    const { x, y, z } = place(plan, raw, this.#at);
    if (tracker.performer === NOBODY) reception.counters.spares += 1;
    if (!(Math.abs(x) <= FARTHEST_M && Math.abs(y) <= FARTHEST_M && Math.abs(z) <= FARTHEST_M)) {
      if (tracker.performer !== NOBODY) this.#drop('position-range', tracker.id);
      return;
    }
    const { places } = reception;
    const at = 2 * tracker.index;
    if (feed !== undefined && this.#port !== undefined) {
      const movedM = Math.hypot(x - (places[at] as number), y - (places[at + 1] as number));
      countPort(feed, this.#port, movedM, this.#arrivalS - heardS);
    }
    places[at] = x;
    places[at + 1] = y;
    if (tracker.performer === NOBODY) return;
    this.#time(plan, tracker, raw, this.#timeTag);
  }

  /** A tracker that once gave 95 gives per cent: its 1 means nearly empty, not full. */
  #charge({ index, id }: Tracker, { battery, batteryOutside }: Readonly<RawPosition>): void {
    const { reception } = this;
    if (batteryOutside !== undefined) {
      reception.batteryOutside[index] = batteryOutside;
      reception.battery[index] = Number.NaN;
      this.#drop('battery-range', id);
    } else if (battery !== undefined && Number.isNaN(reception.batteryOutside[index])) {
      reception.battery[index] = battery;
    }
  }

  /** @param what its address, or its tracker */
  #drop(reason: DropReason, what: string): void {
    this.#count(reason);
    this.reception.counters.latest[reason] = what;
  }

  #count(reason: DropReason): void {
    const { drops, latestFrom } = this.reception.counters;
    drops[reason] += 1;
    if (this.#sender !== undefined) latestFrom[reason] = this.#sender;
  }

  /** On our clock: at once, or held until it is due. */
  #time(plan: InputPlan, tracker: Tracker, raw: Readonly<RawPosition>, timeTag: OscTimeTag): void {
    const { held, sensorLatencyS, clocks, untagged, inputOf, counters } = this.reception;
    const [input, arrivalS] = [this.#input, this.#arrivalS];
    const tag = plan.timeTags === 'measured' && timeTag !== 'immediately' ? timeTag : undefined;
    const stampS = raw.stampS ?? tag;
    untagged[tracker.performer] = stampS === undefined ? 1 : 0;
    inputOf[tracker.performer] = input;
    if (stampS !== undefined) {
      const measuredS = toOurTime(clocks[input] as SensorClock, stampS, arrivalS);
      this.#report(this.#next(tracker), tracker, raw, measuredS - sensorLatencyS, arrivalS);
      return;
    }
    const dueS = timeTag === 'immediately' ? arrivalS : timeTag - this.#unixOffsetS;
    if (dueS <= this.#nowS) {
      // OSC 1.0: a time that has passed means at once. What it says of the sensor's clock is not
      // taken for the time of measurement: the two clocks need not agree.
      this.#report(this.#next(tracker), tracker, raw, arrivalS - sensorLatencyS, arrivalS);
    } else if (dueS - this.#nowS > MAX_HOLD_S) {
      counters.drops['time-tag-too-late'] += 1;
    } else if (held.length >= MAX_HELD) {
      counters.drops['too-many-held'] += 1;
    } else {
      insertByDue(held, this.#report(blank(tracker), tracker, raw, dueS - sensorLatencyS, dueS));
    }
  }

  #next(tracker: Tracker): Report {
    const { received } = this.reception;
    const { reports } = received;
    if (received.count === reports.length) reports.push(blank(tracker));
    return reports[received.count++] as Report;
  }

  /** Fills in one report, at the present place. */
  #report(
    out: Report,
    tracker: Tracker,
    { quality = 1 }: Readonly<RawPosition>,
    timeS: number,
    arrivalS: number,
  ): Report {
    out.tracker = tracker;
    out.timeS = timeS;
    out.arrivalS = arrivalS;
    out.x = this.#at.x;
    out.y = this.#at.y;
    out.z = this.#at.z;
    out.quality = quality;
    return out;
  }
}

function blank(tracker: Tracker): Report {
  return { tracker, timeS: 0, arrivalS: 0, x: 0, y: 0, z: 0, quality: 1 };
}

/** Tracking frame to stage frame: `stage = origin + scale * rotation * tracking`. */
function place(
  plan: InputPlan,
  raw: Readonly<RawPosition>,
  out: { x: number; y: number; z: number },
) {
  out.x = raw.x;
  out.y = raw.y;
  out.z = raw.z;
  rotate(plan.rotation, out, out);
  out.x = plan.origin.x + plan.scale * out.x;
  out.y = plan.origin.y + plan.scale * out.y;
  out.z = plan.origin.z + plan.scale * out.z;
  return out;
}

/** Stable: messages with the same time keep the order in which they came. */
function insertByDue(held: Report[], report: Report): void {
  let at = held.length;
  while (at > 0 && (held[at - 1] as Report).arrivalS > report.arrivalS) at -= 1;
  held.splice(at, 0, report);
}
