import { createEngine } from '../engine/engine.js';
import { absorb, step } from '../engine/step.js';
import { type EngineView, viewOf } from '../engine/view.js';
import { attributeUnit } from '../fixtures/attributes.js';
import type { Show } from '../show/model/model.js';
import { messageOf } from '../stage/message-of.js';
import type { IntakeRecord } from './decode.js';
import type { AskedOfTick, ReplayedRun, ReplayedTick } from './replay.js';

/** A time in which a fixture's attribute was otherwise than with the recorded show. */
export interface Period {
  readonly fromS: number;
  toS: number;
  /** Values when they were farthest apart. */
  worstAtS: number;
  recorded: number;
  other: number;
}

export interface AttributeDifference {
  readonly fixture: string;
  readonly attribute: string;
  readonly unit: string;
  /** Sum of the periods, seconds. */
  totalS: number;
  readonly periods: Period[];
  /** There were more. */
  periodsLeftOut: number;
}

/** Whom one show followed and the other did not. */
export interface FollowedDifference {
  readonly performer: string;
  /** Seconds in which only the recorded show, and only the other one, followed them. */
  recordedOnlyS: number;
  otherOnlyS: number;
  firstS: number | undefined;
}

export interface ComparisonResult {
  readonly runFromS: number;
  readonly unixOffsetS: number;
  readonly lengthS: number;
  readonly differences: readonly AttributeDifference[];
  readonly followed: readonly FollowedDifference[];
  /** Fixtures that only one of the shows has. */
  readonly onlyRecorded: readonly string[];
  readonly onlyOther: readonly string[];
  /** Inputs of the recording that the other show does not have. */
  readonly unheardInputs: readonly string[];
  /** The other show's engine failed. */
  readonly failed: string | undefined;
}

/** Less than a degree or a per cent nobody sees. */
const VISIBLE = 1;
/** Two periods closer than this are one, seconds. */
const SAME_PERIOD_S = 1;
const MOST_PERIODS = 200;

interface Pair {
  readonly recorded: Readonly<Float64Array>;
  readonly other: Readonly<Float64Array>;
  readonly recordedChannel: number;
  readonly otherChannel: number;
  readonly difference: AttributeDifference;
}

/** Runs another show over the inputs of a recorded run, beside the show of the recording. */
export class ShowComparison {
  readonly #engine;
  readonly #view: EngineView;
  readonly #inputs: readonly number[];
  readonly #desk: readonly number[];
  readonly #pairs: readonly Pair[];
  readonly #followed: readonly { recorded: number; other: number; told: FollowedDifference }[];
  #unixOffsetS: number;
  #lastS: number | undefined;
  #failed: string | undefined;

  constructor(
    private readonly run: ReplayedRun,
    private readonly other: Show,
  ) {
    this.#engine = createEngine(other);
    this.#view = viewOf(this.#engine);
    this.#unixOffsetS = run.start.unixOffsetS;
    this.#inputs = run.show.inputs.map(({ name }) =>
      other.inputs.findIndex(input => input.name === name),
    );
    this.#desk = run.show.desk.map(({ name }) => other.desk.findIndex(one => one.name === name));
    this.#pairs = pairsOf(run.view, this.#view);
    this.#followed = run.show.performers.flatMap(({ name }, recorded) => {
      const index = other.performers.findIndex(one => one.name === name);
      const told = { performer: name, recordedOnlyS: 0, otherOnlyS: 0, firstS: undefined };
      return index < 0 ? [] : [{ recorded, other: index, told }];
    });
  }

  intake(
    { type, datagrams, unixOffsetS, nowS }: IntakeRecord,
    { operator, desk }: AskedOfTick,
  ): void {
    if (this.#failed !== undefined) return;
    const heard = datagrams.flatMap(datagram => {
      const input = this.#inputs[datagram.input] ?? -1;
      return input < 0 ? [] : [{ ...datagram, input }];
    });
    const levels = desk.flatMap(one => {
      const input = this.#desk[one.input] ?? -1;
      return input < 0 ? [] : [{ ...one, input }];
    });
    const inputs = { datagrams: heard, unixOffsetS, operator, desk: levels };
    this.#unixOffsetS = unixOffsetS;
    try {
      if (type === 'absorb') absorb(this.#engine, inputs, nowS);
      else step(this.#engine, inputs, nowS);
    } catch (error) {
      this.#failed = messageOf(error);
    }
  }

  ticked({ nowS }: ReplayedTick): void {
    const dtS = nowS - (this.#lastS ?? nowS);
    this.#lastS = nowS;
    if (this.#failed !== undefined) return;
    for (const pair of this.#pairs) compare(pair, nowS, dtS);
    for (const { recorded, other, told } of this.#followed) {
      const was = this.run.view.performers[recorded]?.follows === true;
      const is = this.#view.performers[other]?.follows === true;
      if (was === is) continue;
      told.firstS ??= nowS;
      if (was) told.recordedOnlyS += dtS;
      else told.otherOnlyS += dtS;
    }
  }

  result(): ComparisonResult {
    const names = (show: Show) => new Set(show.fixtures.map(({ name }) => name));
    const recorded = names(this.run.show);
    const other = names(this.other);
    return {
      runFromS: this.run.fromS,
      unixOffsetS: this.#unixOffsetS,
      lengthS: this.run.toS - this.run.fromS,
      differences: this.#pairs
        .map(({ difference }) => difference)
        .filter(({ periods }) => periods.length > 0)
        .sort((a, b) => b.totalS - a.totalS),
      followed: this.#followed.map(({ told }) => told).filter(({ firstS }) => firstS !== undefined),
      onlyRecorded: [...recorded].filter(name => !other.has(name)),
      onlyOther: [...other].filter(name => !recorded.has(name)),
      unheardInputs: this.run.show.inputs
        .filter((_, index) => (this.#inputs[index] ?? -1) < 0)
        .map(({ name }) => name),
      failed: this.#failed,
    };
  }
}

function pairsOf(recorded: EngineView, other: EngineView): Pair[] {
  return recorded.fixtures.flatMap(fixture => {
    const twin = other.fixtures.find(one => one.plan.name === fixture.plan.name);
    if (twin === undefined) return [];
    return fixture.plan.profile.channels.flatMap((channel, recordedChannel) => {
      const { attribute } = channel;
      const otherChannel = twin.plan.profile.channels.findIndex(one => one.attribute === attribute);
      if (otherChannel < 0) return [];
      const difference: AttributeDifference = {
        fixture: fixture.plan.label,
        attribute,
        unit: attributeUnit(attribute),
        totalS: 0,
        periods: [],
        periodsLeftOut: 0,
      };
      return [
        {
          recorded: fixture.values,
          other: twin.values,
          recordedChannel,
          otherChannel,
          difference,
        },
      ];
    });
  });
}

function compare(pair: Pair, nowS: number, dtS: number): void {
  const recorded = pair.recorded[pair.recordedChannel] as number;
  const other = pair.other[pair.otherChannel] as number;
  const apart = Math.abs(other - recorded);
  if (!(apart >= VISIBLE)) return;
  const { difference } = pair;
  difference.totalS += dtS;
  const last = difference.periods.at(-1);
  if (last === undefined || nowS - last.toS > SAME_PERIOD_S) {
    if (difference.periods.length >= MOST_PERIODS) {
      difference.periodsLeftOut += 1;
      return;
    }
    difference.periods.push({ fromS: nowS, toS: nowS, worstAtS: nowS, recorded, other });
    return;
  }
  last.toS = nowS;
  if (apart > Math.abs(last.other - last.recorded)) {
    last.worstAtS = nowS;
    last.recorded = recorded;
    last.other = other;
  }
}
