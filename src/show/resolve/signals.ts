import type { CurveOptions } from '../../mapping/options.js';
import {
  ARITHMETIC,
  type ConditionPlan,
  type ConditionTest,
  type EvaluationStep,
  type Operand,
  type PlacePlan,
  type SignalPlan,
  type SignalSet,
  type SignalSource,
} from '../../signals/plan.js';
import { type Degrees, toRadians } from '../../stage/units.js';
import { carrierOf, type ShowFile } from '../schema/schema.js';
import {
  type ConditionFile,
  type ConditionPartFile,
  EACH,
  type PeopleFile,
  type PlaceFile,
  type SignalFile,
} from '../schema/signals.js';
import { areaOf } from './areas.js';
import { groupOf, peopleOf } from './groups.js';
import { certain } from './look.js';
import { oscInputsOf } from './routes.js';
import { type SignalFigures, signalFigures } from './signal-figures.js';
import { targetPlace } from './targets.js';
import { extentAlong } from './zone-extent.js';

/** One of the fixtures that a mapping drives: its name, its index among them, and how many there are. */
export interface Driven {
  readonly fixture: string;
  readonly at: number;
  readonly count: number;
}

/** From half presence: as the curve `switch`. */
const INSIDE = 0.5;

/**
 * Turns signals and conditions of a checked file into plans, each when it is first needed, so that each comes after
 * what it depends on. One that differs from fixture to fixture becomes one for each.
 */
export class SignalResolver {
  readonly #file: ShowFile;
  readonly #figures: ReadonlyMap<string, SignalFigures>;
  readonly #performers: readonly string[];
  readonly #zones: readonly string[];
  readonly #inputs: readonly string[];
  readonly #signals: SignalPlan[] = [];
  readonly #conditions: ConditionPlan[] = [];
  readonly #order: EvaluationStep[] = [];
  readonly #known = new Map<string, number>();

  constructor(file: ShowFile) {
    this.#file = file;
    this.#figures = signalFigures(file);
    this.#performers = Object.keys(file.performers);
    this.#zones = Object.keys(file.zones);
    this.#inputs = Object.keys(file.inputs);
    // Also those that nothing uses: people look at them while they try values.
    for (const name of Object.keys(file.conditions)) this.condition(name);
    for (const [name, { byFixture, byPlace }] of this.#figures) {
      if (!byFixture && !byPlace) this.signal(name);
    }
  }

  /** All that has been asked for. */
  get set(): SignalSet {
    const unasked = [...this.#figures.keys()].filter(
      name => ![...this.#known.keys()].some(key => key.startsWith(`signal ${name} `)),
    );
    const set = { signals: this.#signals, conditions: this.#conditions, order: this.#order };
    return unasked.length === 0 ? set : { ...set, unasked };
  }

  /** The index of a signal, for one of the fixtures that it drives. */
  signal(name: string, driven?: Driven): number {
    const { byFixture, byPlace } = certain(this.#figures.get(name));
    const own = byFixture || byPlace ? driven : undefined;
    const place = own !== undefined && byPlace ? `${own.at}/${own.count}` : '';
    const key = ['signal', name, own?.fixture ?? '', place].join(' ');
    const called = own === undefined ? name : `${name}/${own.fixture}`;
    return this.#once(key, () => this.#addSignal(called, name, own));
  }

  /** A presence for which the file has no signal of its own. */
  presence(zone: string, people: readonly number[], every: boolean, curve?: CurveOptions): number {
    const whose = people.map(one => this.#performers[one]).join(', ');
    const key = ['presence', zone, every, JSON.stringify(curve), whose].join(' ');
    return this.#once(key, () => {
      const source: SignalSource = {
        kind: 'presence',
        zone: this.#zones.indexOf(zone),
        performers: people,
        every,
      };
      const name = `${every ? 'all of ' : ''}${whose} in ${zone}`;
      return this.#push(name, source, { unit: 'share', least: 0, greatest: 1, curve });
    });
  }

  /** The index of a condition, by its name or as it is written out at a place of the file. */
  condition(part: ConditionPartFile, where = ''): number {
    if (typeof part === 'string') {
      return this.#once(`condition ${part}`, () =>
        this.#addCondition(part, certain(this.#file.conditions[part])),
      );
    }
    return this.#addCondition(where, part);
  }

  /** Those who count in a zone; the performer it moves with is always in it, and is left out. */
  peopleIn(zone: string, people: PeopleFile | undefined): number[] {
    const around = carrierOf(this.#file.zones[zone]);
    return this.#people(people).filter(one => this.#performers[one] !== around);
  }

  #once(key: string, make: () => number): number {
    const there = this.#known.get(key);
    if (there !== undefined) return there;
    const index = make();
    this.#known.set(key, index);
    return index;
  }

  #people(people: PeopleFile | undefined): number[] {
    return peopleOf(this.#file, people).map(name => this.#performers.indexOf(name));
  }

  #person(name: string): number {
    return certain(this.#people(name)[0]);
  }

  #push(
    name: string,
    source: SignalSource,
    shape: Pick<SignalPlan, 'unit' | 'least' | 'greatest' | 'curve'> &
      Partial<Pick<SignalPlan, 'range' | 'attackS' | 'releaseS'>>,
  ): number {
    const index = this.#signals.length;
    const { range = undefined, attackS = 0, releaseS = 0 } = shape;
    this.#signals.push({ name, source, ...shape, range, attackS, releaseS });
    this.#order.push({ kind: 'signal', index });
    return index;
  }

  #addSignal(called: string, name: string, driven: Driven | undefined): number {
    const signal = certain(this.#file.signals[name]);
    const { sourceUnit, unit, least, greatest } = certain(this.#figures.get(name));
    const inUnit = (value: number) =>
      sourceUnit === 'radians' ? toRadians(value as Degrees) : value;
    const out = (value: number) => (unit === 'radians' ? toRadians(value as Degrees) : value);
    const source = this.#source(signal, driven);
    return this.#push(called, source, {
      unit,
      range: signal.range && { from: inUnit(signal.range[0]), to: inUnit(signal.range[1]) },
      curve: signal.curve,
      attackS: signal.attack,
      releaseS: signal.release,
      least: out(least),
      greatest: out(greatest),
    });
  }

  #source(signal: SignalFile, driven: Driven | undefined): SignalSource {
    const zoneOf = (name: string) => this.#zones.indexOf(name);
    if ('presence' in signal) {
      const { zone, of, every } = signal.presence;
      const performers = this.peopleIn(zone, every ?? of);
      return { kind: 'presence', zone: zoneOf(zone), performers, every: every !== undefined };
    }
    if ('distance' in signal) return this.#distance(signal.distance, driven);
    if ('along' in signal) {
      const { of, line } = signal.along;
      return { kind: 'along', performer: this.#person(of), line };
    }
    if ('across' in signal) {
      const { of, zone, direction } = signal.across;
      const extent = extentAlong(certain(areaOf(certain(this.#file.zones[zone]))), direction);
      return { kind: 'across', performer: this.#person(of), zone: zoneOf(zone), ...extent };
    }
    if ('height' in signal) return { kind: 'height', performers: this.#people(signal.height) };
    if ('speed' in signal) return { kind: 'speed', performers: this.#people(signal.speed) };
    if ('heading' in signal) {
      const { of, towards } = signal.heading;
      const goal =
        typeof towards === 'number'
          ? { kind: 'direction' as const, angle: toRadians(towards as Degrees) }
          : this.#place(towards, driven);
      return { kind: 'heading', performer: this.#person(of), towards: goal };
    }
    if ('time' in signal) return { kind: 'time', condition: this.condition(signal.time) };
    if ('count' in signal) {
      const { zone, of } = signal.count;
      return { kind: 'count', zone: zoneOf(zone), performers: this.peopleIn(zone, of) };
    }
    if ('osc' in signal) {
      const { address, argument, input, timeout } = signal.osc;
      return {
        kind: 'osc',
        input: this.#inputs.indexOf(input ?? certain(oscInputsOf(this.#file)[0])),
        address,
        argument: argument - 1,
        timeoutS: timeout === 'never' ? Number.POSITIVE_INFINITY : timeout,
      };
    }
    if ('slot' in signal) {
      const { slot, gone } = signal;
      const [name, coarse, fine] = slot;
      return {
        kind: 'slot',
        desk: Object.keys(this.#file.desk).indexOf(name),
        coarse: coarse - 1,
        fine: fine === undefined ? undefined : fine - 1,
        gone: gone ?? certain(this.#file.desk[name]).gone,
      };
    }
    if ('wave' in signal) {
      const { shape, period, phase, spread } = signal.wave;
      const shifted = phase - (driven === undefined ? 0 : (spread * driven.at) / driven.count);
      return { kind: 'wave', shape, periodS: period, phase: shifted - Math.floor(shifted) };
    }
    if ('inverse' in signal)
      return { kind: 'inverse', signal: this.signal(signal.inverse, driven) };
    return this.#arithmetic(signal, driven);
  }

  #arithmetic(signal: SignalFile, driven: Driven | undefined): SignalSource {
    for (const kind of ARITHMETIC) {
      const operands = (signal as Partial<Record<typeof kind, readonly (string | number)[]>>)[kind];
      if (operands === undefined) continue;
      // A number has the unit of the others, but in a product, where it has none.
      const degrees = kind !== 'product' && operands.some(one => this.#isAngle(one));
      const of = operands.map((one): Operand => {
        if (typeof one === 'string') return { kind: 'signal', signal: this.signal(one, driven) };
        return { kind: 'number', value: degrees ? toRadians(one as Degrees) : one };
      });
      return { kind, of };
    }
    throw new Error('a signal without a source');
  }

  #isAngle(operand: string | number): boolean {
    return typeof operand === 'string' && this.#figures.get(operand)?.unit === 'radians';
  }

  /** From the end with performers to the other. */
  #distance(
    [one, other]: readonly [PlaceFile, PlaceFile],
    driven: Driven | undefined,
  ): SignalSource {
    const [from, to] = this.#isPeople(one) ? [one, other] : [other, one];
    return {
      kind: 'distance',
      performers: this.#people(String(from)),
      to: this.#place(to, driven),
    };
  }

  #isPeople(place: PlaceFile): boolean {
    if (typeof place !== 'string') return false;
    const { performers } = this.#file;
    const members = Object.hasOwn(performers, place) ? [place] : groupOf(this.#file, place);
    return members?.every(name => Object.hasOwn(performers, name)) ?? false;
  }

  #place(place: PlaceFile, driven: Driven | undefined): PlacePlan {
    if (typeof place !== 'string') {
      const [x, y, z] = place;
      return { kind: 'point', x, y, ...(z === undefined ? {} : { z }) };
    }
    if (this.#isPeople(place)) return { kind: 'performers', performers: this.#people(place) };
    const zone = this.#zones.indexOf(place);
    if (zone >= 0) return { kind: 'zone', zone };
    const at =
      place === EACH
        ? this.#file.fixtures[certain(driven).fixture]?.position
        : targetPlace(this.#file, place);
    const [x, y] = certain(at);
    return { kind: 'point', x, y };
  }

  #addCondition(name: string, file: Exclude<ConditionPartFile, string>): number {
    const test = this.#test(name, file);
    const index = this.#conditions.length;
    this.#conditions.push({ name, test, forS: file.for, holdS: file.hold });
    this.#order.push({ kind: 'condition', index });
    return index;
  }

  #test(name: string, file: ConditionFile | Exclude<ConditionPartFile, string>): ConditionTest {
    if ('not' in file) {
      return { kind: 'not', condition: this.condition(file.not, `${name}.not`) };
    }
    if ('all' in file) return { kind: 'all', of: this.#parts(file.all, `${name}.all`) };
    if ('any' in file) return { kind: 'any', of: this.#parts(file.any, `${name}.any`) };
    if ('in' in file) {
      const people = this.peopleIn(file.in, file.every ?? file.of);
      const signal = this.presence(file.in, people, file.every !== undefined);
      return { kind: 'threshold', signal, direction: 'above', on: INSIDE, off: INSIDE };
    }
    const { unit } = certain(this.#figures.get(file.signal));
    const value = (given: number) => (unit === 'radians' ? toRadians(given as Degrees) : given);
    const on = certain(file.on ?? file.below);
    return {
      kind: 'threshold',
      signal: this.signal(file.signal),
      direction: file.on === undefined ? 'below' : 'above',
      on: value(on),
      off: value(file.off ?? on),
    };
  }

  #parts(parts: readonly ConditionPartFile[], where: string): number[] {
    return parts.map((part, i) => this.condition(part, `${where}[${i}]`));
  }
}
