import { compileCurve } from '../mapping/curve.js';
import { stepEnvelope } from '../mapping/envelope.js';
import type { CurveOptions, EnvelopeOptions } from '../mapping/options.js';
import { unreachable } from '../stage/unreachable.js';
import { type Conditions, createConditions, stepCondition, truthIn } from './conditions.js';
import { clearDoubt, createDoubts, type Doubts, inherit } from './doubt.js';
import { NO, UNKNOWN } from './kleene.js';
import type { Operand, SignalPlan, SignalSet } from './plan.js';
import {
  add,
  createRanges,
  greatest,
  inverse,
  least,
  multiply,
  type Ranges,
  setRange,
} from './ranges.js';
import type { Scene, SignalZone } from './scene.js';
import { compileSource, type LeafSource, look, type Source } from './sources.js';

/**
 * All signals and conditions of a show, worked out once a tick in the order of what they are made of. Each signal is
 * a range of what it may be; where that is one number it is known. A range holds what the signal would be if nobody
 * were lost, as all on the way from the source on keeps order: of two sources the lower one never gives more.
 */
export interface Network {
  readonly set: SignalSet;
  readonly nodes: readonly Node[];
  /** Of each signal: what its source is, in its own unit; and what comes out. */
  readonly raw: Ranges;
  readonly out: Ranges;
  /** Of each signal: what it was when it was last known. */
  readonly kept: Float64Array;
  /** Of each: 1 where there is nothing to go on from, and once it is known it begins there. */
  readonly begins: Uint8Array;
  /** Of each that is a time: the seconds when it was last known. */
  readonly keptS: Float64Array;
  readonly doubts: Doubts;
  readonly conditions: Conditions;
}

/** A signal with all that a tick would have to look for at hand. */
interface Node {
  readonly at: number;
  readonly source: Source | Made | undefined;
  readonly range: { readonly from: number; readonly span: number } | undefined;
  readonly curve: RangeCurve | undefined;
  /** undefined: at once. */
  readonly envelope: EnvelopeOptions | undefined;
  /** Of the conditions it is one. */
  readonly condition: boolean;
}

/** Made of other signals or of a condition. */
type Made =
  | { readonly kind: 'product' | 'sum' | 'least' | 'greatest'; readonly of: readonly Operand[] }
  | { readonly kind: 'inverse'; readonly signal: number }
  | { readonly kind: 'time'; readonly condition: number };

export function createNetwork(set: SignalSet, zones: readonly SignalZone[]): Network {
  const { signals } = set;
  const raw = createRanges(signals.length);
  const out = createRanges(signals.length);
  const network: Network = {
    set,
    nodes: set.order.map(({ kind, index }) =>
      kind === 'condition'
        ? conditionNode(index)
        : compileSignal(signals[index] as SignalPlan, index, zones),
    ),
    raw,
    out,
    kept: new Float64Array(signals.length),
    begins: new Uint8Array(signals.length),
    keptS: new Float64Array(signals.length),
    doubts: createDoubts(signals.length),
    conditions: createConditions(set.conditions),
  };
  // Nothing is known before the first tick.
  signals.forEach((plan, at) => {
    setRange(out, at, plan.least, plan.greatest);
    network.kept[at] = plan.unit === 'share' || !Number.isFinite(plan.least) ? 0 : plan.least;
  });
  return network;
}

function conditionNode(at: number): Node {
  return {
    at,
    source: undefined,
    range: undefined,
    curve: undefined,
    envelope: undefined,
    condition: true,
  };
}

function compileSignal(plan: SignalPlan, at: number, zones: readonly SignalZone[]): Node {
  const { source, range, curve, attackS, releaseS } = plan;
  const isAtOnce = attackS === 0 && releaseS === 0;
  return {
    at,
    source: isMade(source) ? source : compileSource(source, zones),
    range: range && { from: range.from, span: range.to - range.from },
    curve: curve === undefined || curve === 'linear' ? undefined : compileRangeCurve(curve),
    envelope: isAtOnce ? undefined : { inS: attackS, outS: releaseS },
    condition: false,
  };
}

function isMade(source: LeafSource | Made): source is Made {
  switch (source.kind) {
    case 'product':
    case 'sum':
    case 'least':
    case 'greatest':
    case 'inverse':
    case 'time':
      return true;
    default:
      return false;
  }
}

/** @param dtS seconds since the last one, at least 0 */
export function stepNetwork(network: Network, scene: Scene, dtS: number): void {
  const { conditions } = network;
  for (const node of network.nodes) {
    if (node.condition) stepCondition(conditions, node.at, network.out, network.doubts, dtS);
    else stepSignal(network, node, scene, dtS);
  }
}

function stepSignal(network: Network, node: Node, scene: Scene, dtS: number): void {
  const { raw, out, kept, begins, doubts } = network;
  const { at, source, range, curve, envelope } = node;
  clearDoubt(doubts, at);
  if (source === undefined) return;
  if (isMade(source as LeafSource | Made)) make(network, source as Made, at, dtS);
  else look(source as Source, scene, raw, doubts, at);
  let [lo, hi] = [raw.lo[at] as number, raw.hi[at] as number];
  if (range !== undefined) {
    const from = share((lo - range.from) / range.span);
    const to = share((hi - range.from) / range.span);
    lo = Math.min(from, to);
    hi = Math.max(from, to);
  }
  if (curve !== undefined) {
    const least = curve.least(lo, hi);
    hi = curve.greatest(lo, hi);
    lo = least;
  }
  if (envelope !== undefined) {
    let [wasLo, wasHi] = [out.lo[at] as number, out.hi[at] as number];
    // Everybody is there again: it goes on from where it was, or begins where they are.
    if (wasLo !== wasHi && lo === hi && doubts.lost[at] === 0) {
      wasLo = doubts.afresh[at] === 1 || begins[at] === 1 ? lo : (kept[at] as number);
      wasHi = wasLo;
    }
    lo = stepEnvelope(wasLo, lo, dtS, envelope);
    hi = stepEnvelope(wasHi, hi, dtS, envelope);
  }
  setRange(out, at, lo, hi);
  if (lo === hi) {
    kept[at] = lo;
    begins[at] = 0;
  }
}

/** NaN, from an infinite end over an infinite span, is nothing. */
function share(value: number): number {
  return value > 0 ? Math.min(1, value) : 0;
}

function make(network: Network, source: Made, at: number, dtS: number): void {
  const { raw, out, doubts, conditions } = network;
  switch (source.kind) {
    case 'inverse':
      inherit(doubts, at, doubts, source.signal);
      setRange(raw, at, out.lo[source.signal] as number, out.hi[source.signal] as number);
      inverse(raw, at);
      break;
    case 'time':
      inherit(doubts, at, conditions.doubts, source.condition);
      stepTime(network, source.condition, at, dtS);
      break;
    default:
      combine(network, source, at);
  }
}

function combine(
  { raw, out, doubts }: Network,
  { kind, of }: Extract<Made, { of: readonly Operand[] }>,
  at: number,
): void {
  for (let i = 0; i < of.length; i++) {
    const operand = of[i] as Operand;
    let [lo, hi] = [0, 0];
    if (operand.kind === 'number') {
      lo = operand.value;
      hi = lo;
    } else {
      inherit(doubts, at, doubts, operand.signal);
      lo = out.lo[operand.signal] as number;
      hi = out.hi[operand.signal] as number;
    }
    if (i === 0) setRange(raw, at, lo, hi);
    else if (kind === 'product') multiply(raw, at, lo, hi);
    else if (kind === 'sum') add(raw, at, lo, hi);
    else if (kind === 'least') least(raw, at, lo, hi);
    else if (kind === 'greatest') greatest(raw, at, lo, hi);
    else unreachable(kind);
  }
}

/** For how long it has surely been so, and for how long it may have been. */
function stepTime(
  { raw, conditions, doubts, keptS }: Network,
  condition: number,
  at: number,
  dtS: number,
): void {
  const truth = truthIn(conditions, condition);
  let [lo, hi] = [raw.lo[at] as number, raw.hi[at] as number];
  if (truth === NO) {
    lo = 0;
    hi = 0;
  } else if (truth === UNKNOWN) {
    lo = 0;
    hi += dtS;
  } else {
    // Known again: it goes on from where it was, however long nobody knew; from 0 where it was not so before.
    if (lo !== hi && doubts.lost[at] === 0) {
      lo = keptS[at] as number;
      hi = lo;
    }
    lo += dtS;
    hi += dtS;
  }
  setRange(raw, at, lo, hi);
  if (lo === hi) keptS[at] = lo;
}

/** What a curve gives for all of a range. */
interface RangeCurve {
  least(lo: number, hi: number): number;
  greatest(lo: number, hi: number): number;
}

/** A named curve never falls; one of points may, and its extremes are at the points. */
function compileRangeCurve(options: CurveOptions): RangeCurve {
  const curve = compileCurve(options);
  const points = typeof options === 'string' ? [] : options;
  const xs = Float64Array.from(points, ([x]) => x);
  const ys = Float64Array.from(points, ([x]) => curve(x));
  return {
    least(lo, hi) {
      let value = Math.min(curve(lo), curve(hi));
      for (let i = 0; i < xs.length; i++) {
        const x = xs[i] as number;
        if (x > lo && x < hi) value = Math.min(value, ys[i] as number);
      }
      return value;
    },
    greatest(lo, hi) {
      let value = Math.max(curve(lo), curve(hi));
      for (let i = 0; i < xs.length; i++) {
        const x = xs[i] as number;
        if (x > lo && x < hi) value = Math.max(value, ys[i] as number);
      }
      return value;
    },
  };
}
