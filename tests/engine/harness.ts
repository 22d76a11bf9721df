import { createEngine } from '../../src/engine/engine.js';
import type { EngineEvent } from '../../src/engine/events/events.js';
import { step } from '../../src/engine/step.js';
import type { Datagram, DeskLevels } from '../../src/engine/values/inputs.js';
import type { OperatorAction } from '../../src/engine/values/operator-action.js';
import { type EngineView, type FixtureView, viewOf } from '../../src/engine/view.js';
import { decode } from '../../src/fixtures/encode.js';
import { beamDirection, compileHead } from '../../src/fixtures/kinematics.js';
import type { Channel } from '../../src/fixtures/profile.js';
import { encodePacket, type OscBundle, type OscMessage } from '../../src/protocols/osc/encode.js';
import type { Show } from '../../src/show/model/model.js';
import { type Degrees, toRadians } from '../../src/stage/units.js';
import { type Vec3, vec3 } from '../../src/stage/vector.js';
import { showOf } from '../show/show-of.js';

export const TICK_HZ = 40;
const DT_S = 1 / TICK_HZ;
/** Monotonic clocks count from the start of the machine. */
const START_S = 1000;
/** 2026-01-13T00:00:00Z less the start: any two clocks would do. */
export const UNIX_OFFSET_S = 1_768_262_400 - START_S;

export type Place = readonly [x: number, y: number, z?: number, quality?: number];

/** An engine on a clock of its own, fed with real datagrams. */
export class Rig {
  readonly show: Show;
  readonly view: EngineView;
  readonly engine;
  nowS = START_S;
  /** Changes when somebody sets the machine's clock. */
  unixOffsetS = UNIX_OFFSET_S;
  /** All events so far, each with the time of its tick. */
  readonly events: (EngineEvent & { readonly atS: number })[] = [];
  #inbox: Datagram[] = [];
  #orders: OperatorAction[] = [];
  readonly #desk: Uint8Array[] = [];
  #heard: DeskLevels[] = [];

  constructor(show: string | Show) {
    this.show = typeof show === 'string' ? showOf(show) : show;
    this.engine = createEngine(this.show);
    this.view = viewOf(this.engine);
  }

  receive(bytes: Buffer, arrivalS = this.nowS, input = 0, from?: string, port?: number): void {
    this.#inbox.push({ input, bytes, arrivalS, from, port });
  }

  /** What a universe of the desk says in the next tick, slots counted from 1; the others are as they were. */
  hear(
    input: number,
    slots: Readonly<Record<number, number>> = {},
    heard = true,
    from = '',
    silent = false,
  ): void {
    const levels = this.#desk[input]?.slice() ?? new Uint8Array(512);
    for (const [slot, level] of Object.entries(slots)) levels[Number(slot) - 1] = level;
    this.#desk[input] = levels;
    this.#heard.push({ input, levels, heard, from, silent });
  }

  /** Carried out in the next tick. */
  order(action: OperatorAction): void {
    this.#orders.push(action);
  }

  send(packet: OscMessage | OscBundle): void {
    this.receive(encodePacket(packet));
  }

  tick(dtS = DT_S): Uint8Array {
    this.nowS += dtS;
    const datagrams = this.#inbox.map(one => ({
      ...one,
      arrivalS: Math.min(one.arrivalS, this.nowS),
    }));
    this.#inbox = [];
    const operator = this.#orders;
    this.#orders = [];
    const { unixOffsetS } = this;
    const desk = this.#heard;
    this.#heard = [];
    const tick = step(this.engine, { datagrams, unixOffsetS, operator, desk }, this.nowS);
    for (const event of tick.events) this.events.push({ ...event, atS: this.nowS });
    return tick.levels;
  }

  /**
   * Runs for a while; each tick, each performer named is reported by the tracker of that name.
   * @param after called after each tick
   */
  run(
    seconds: number,
    places: Readonly<Record<string, Place>> | ((t: number) => Readonly<Record<string, Place>>) = {},
    after: (rig: this) => void = () => {},
  ): this {
    const ticks = Math.round(seconds * TICK_HZ);
    for (let i = 0; i < ticks; i++) {
      const now = typeof places === 'function' ? places(i / TICK_HZ) : places;
      for (const [tracker, place] of Object.entries(now)) this.receive(report(tracker, place));
      this.tick();
      after(this);
    }
    return this;
  }

  light(name: string): FixtureView {
    const light = this.view.fixtures.find(one => one.plan.name === name);
    if (light === undefined) throw new Error(`no fixture ${name}`);
    return light;
  }

  /** Physical value of an attribute as it stands in the slots. */
  level(name: string, attribute = 'Dimmer'): number {
    const { plan } = this.light(name);
    const channel = plan.profile.channels.find(one => one.attribute === attribute) as Channel;
    return decode(channel, this.view.levels, plan.firstSlot);
  }

  phase(name: string): string {
    const performer = this.view.performers.find(one => one.name === name);
    if (performer === undefined) throw new Error(`no performer ${name}`);
    return performer.phase;
  }

  /** Distance from a point to the line of a head's beam, from the slots by forward kinematics, metres. */
  beamMisses(name: string, [x, y, z]: readonly [number, number, number]): number {
    const { plan } = this.light(name);
    if (plan.head === undefined) throw new Error(`${name} is no head`);
    const pan = toRadians(this.level(name, 'Pan') as Degrees);
    const tilt = toRadians(this.level(name, 'Tilt') as Degrees);
    const beam = beamDirection(compileHead(plan.head), pan, tilt, vec3(0, 0, 0));
    const { position } = plan.head;
    const to: Vec3 = vec3(x - position.x, y - position.y, z - position.z);
    const along = to.x * beam.x + to.y * beam.y + to.z * beam.z;
    if (along < 0) return Number.POSITIVE_INFINITY;
    return Math.hypot(to.x - along * beam.x, to.y - along * beam.y, to.z - along * beam.z);
  }

  eventsOf<K extends EngineEvent['kind']>(kind: K) {
    return this.events.filter(
      (event): event is Extract<EngineEvent, { kind: K }> & { readonly atS: number } =>
        event.kind === kind,
    );
  }
}

export function position(tracker: string, [x, y, z = 1.6, quality]: Place): OscMessage {
  const args = [x, y, z, ...(quality === undefined ? [] : [quality])];
  return {
    address: `/tracker/${tracker}/position`,
    args: args.map(value => ({ type: 'f', value })),
  };
}

/** Most of them stand still, and to write a datagram takes as long as half a tick. */
const reports = new Map<string, Buffer>();
const MOST_REPORTS = 1000;

function report(tracker: string, place: Place): Buffer {
  const key = `${tracker} ${place.join()}`;
  const known = reports.get(key);
  if (known !== undefined) return known;
  if (reports.size === MOST_REPORTS) reports.clear();
  const bytes = encodePacket(position(tracker, place));
  reports.set(key, bytes);
  return bytes;
}
