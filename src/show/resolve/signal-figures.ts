import { compileCurve } from '../../mapping/curve.js';
import type { CurveOptions } from '../../mapping/options.js';
import type { SignalUnit } from '../../signals/plan.js';
import type { ShowFile } from '../schema/schema.js';
import { EACH, type SignalFile } from '../schema/signals.js';
import { chainsOf, operandsOf } from './chains.js';
import { peopleOf } from './groups.js';

/** What is known of a signal before anybody moves, in the units of the file: degrees for radians. */
export interface SignalFigures {
  /** Of its source, and of what comes out. */
  readonly sourceUnit: SignalUnit;
  readonly unit: SignalUnit;
  readonly least: number;
  readonly greatest: number;
  /** It differs with the fixture that it drives, or with the fixture's place among the others. */
  readonly byFixture: boolean;
  readonly byPlace: boolean;
}

const NOTHING: SignalFigures = {
  sourceUnit: 'share',
  unit: 'share',
  least: 0,
  greatest: 1,
  byFixture: false,
  byPlace: false,
};

/** Of all signals of a show; of one that goes round in a circle, or is made of one that there is not, as of a share. */
export function signalFigures(show: ShowFile): ReadonlyMap<string, SignalFigures> {
  const known = new Map<string, SignalFigures>();
  const of = (name: string): SignalFigures => known.get(name) ?? NOTHING;
  for (const { block, name } of chainsOf(show).order) {
    if (block === 'conditions' || !Object.hasOwn(show.signals, name)) continue;
    const signal = show.signals[name];
    if (signal !== undefined) known.set(name, shaped(signal, sourceFigures(show, signal, of)));
  }
  return known;
}

type Source = Omit<SignalFigures, 'sourceUnit'>;

function plain(unit: SignalUnit, least: number, greatest: number): Source {
  return { unit, least, greatest, byFixture: false, byPlace: false };
}

function sourceFigures(
  show: ShowFile,
  signal: SignalFile,
  of: (name: string) => SignalFigures,
): Source {
  if ('presence' in signal || 'across' in signal) return plain('share', 0, 1);
  if ('distance' in signal) {
    const byFixture = signal.distance.includes(EACH);
    return { ...plain('metres', 0, Number.POSITIVE_INFINITY), byFixture };
  }
  if ('along' in signal) return plain('metres', 0, lengthOf(signal.along.line));
  if ('height' in signal) {
    return plain('metres', Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY);
  }
  if ('speed' in signal) return plain('speed', 0, Number.POSITIVE_INFINITY);
  if ('heading' in signal) {
    return { ...plain('radians', 0, 180), byFixture: signal.heading.towards === EACH };
  }
  if ('time' in signal) return plain('seconds', 0, Number.POSITIVE_INFINITY);
  if ('count' in signal) return plain('people', 0, peopleOf(show, signal.count.of).length);
  if ('osc' in signal) return plain('raw', Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY);
  if ('slot' in signal) return plain('share', 0, 1);
  if ('wave' in signal) return { ...plain('share', 0, 1), byPlace: signal.wave.spread !== 0 };
  if ('inverse' in signal) {
    const { least, greatest, ...other } = of(signal.inverse);
    return { ...other, least: 1 - greatest, greatest: 1 - least };
  }
  const operands = operandsOf(signal);
  const parts = operands.map(one => (typeof one === 'number' ? constant(one) : of(one)));
  const unit = parts.find(
    (part, i) => typeof operands[i] === 'string' && part.unit !== 'share',
  )?.unit;
  return {
    unit: unit ?? 'share',
    ...parts.reduce<Bounds>((sum, part) => combine(signal, sum, part), startOf(signal)),
    byFixture: parts.some(part => part.byFixture),
    byPlace: parts.some(part => part.byPlace),
  };
}

interface Bounds {
  readonly least: number;
  readonly greatest: number;
}

function constant(value: number): SignalFigures {
  return { ...NOTHING, least: value, greatest: value };
}

function startOf(signal: SignalFile): Bounds {
  if ('product' in signal) return { least: 1, greatest: 1 };
  if ('sum' in signal) return { least: 0, greatest: 0 };
  const nothing = 'least' in signal ? Number.POSITIVE_INFINITY : Number.NEGATIVE_INFINITY;
  return { least: nothing, greatest: nothing };
}

/** Interval arithmetic (Moore, Interval Analysis, 1966). */
function combine(signal: SignalFile, a: Bounds, b: Bounds): Bounds {
  if ('product' in signal) {
    const ends = [a.least, a.greatest].flatMap(x => [x * b.least, x * b.greatest]);
    // 0 times infinity counts as 0: the bound is never reached.
    const sound = ends.map(end => (Number.isNaN(end) ? 0 : end));
    return { least: Math.min(...sound), greatest: Math.max(...sound) };
  }
  if ('sum' in signal) return { least: a.least + b.least, greatest: a.greatest + b.greatest };
  const pick = 'least' in signal ? Math.min : Math.max;
  return { least: pick(a.least, b.least), greatest: pick(a.greatest, b.greatest) };
}

/** After range and curve. */
function shaped({ range, curve }: SignalFile, source: Source): SignalFigures {
  const sourceUnit = source.unit;
  if (range === undefined && curve === undefined) return { ...source, sourceUnit };
  const [from, to] = range ?? [0, 1];
  const at = (value: number) => Math.min(1, Math.max(0, (value - from) / (to - from)));
  const ends = [at(source.least), at(source.greatest)].filter(end => !Number.isNaN(end));
  const bounds = ends.length < 2 ? [0, 1] : curved(curve, Math.min(...ends), Math.max(...ends));
  const unit = range === undefined ? sourceUnit : 'share';
  return { ...source, sourceUnit, unit, least: Math.min(...bounds), greatest: Math.max(...bounds) };
}

/** The levels that a curve gives between two places, and its corners there. */
function curved(curve: CurveOptions | undefined, least: number, greatest: number): number[] {
  if (curve === undefined) return [least, greatest];
  const level = compileCurve(curve);
  const corners = typeof curve === 'string' ? [] : curve.map(([x]) => x);
  return [least, greatest, ...corners.filter(x => x > least && x < greatest)].map(level);
}

function lengthOf(line: readonly (readonly [number, number])[]): number {
  return line.reduce((sum, [x, y], i) => {
    const [fromX, fromY] = line[i - 1] ?? [x, y];
    return sum + Math.hypot(x - fromX, y - fromY);
  }, 0);
}

/** The name of a signal's unit. */
export const UNIT_WORDS: Readonly<Record<SignalUnit, string>> = {
  share: 'no unit',
  metres: 'metres',
  radians: 'degrees',
  seconds: 'seconds',
  speed: 'metres a second',
  people: 'people',
  raw: 'whatever its sender has',
};
