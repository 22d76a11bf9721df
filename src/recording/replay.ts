import { createEngine } from '../engine/engine.js';
import type { EngineEvent } from '../engine/events/events.js';
import { absorb, step } from '../engine/step.js';
import { takeOver } from '../engine/take-over/take-over.js';
import type { TickInputs } from '../engine/values/inputs.js';
import type { OperatorAction } from '../engine/values/operator-action.js';
import { type EngineView, viewOf } from '../engine/view.js';
import { type Show, SLOTS_PER_UNIVERSE } from '../show/model/model.js';
import { parseShow } from '../show/parse.js';
import { messageOf } from '../stage/message-of.js';
import {
  applyChanges,
  type FrameRecord,
  type IntakeRecord,
  type JsonRecord,
  type RecordedItem,
} from './decode.js';
import { readDesk } from './desk.js';
import { readSenders, type Senders, withSenders } from './senders.js';
import { describeSlot, type SlotDifference } from './slots.js';
import { readStart, type Start } from './start.js';

/** One engine process, from its start to its end, as it was recorded and as it went again. */
export interface ReplayedRun {
  readonly start: Start;
  readonly show: Show;
  /** What its engine shows; after a tick, the end of it. */
  readonly view: EngineView;
  /** False where its beginning is missing: its frames then need not be the same. */
  readonly whole: boolean;
  ticks: number;
  compared: number;
  differing: number;
  first: FrameDifference | undefined;
  /** Ticks whose events were others. */
  eventsDiffering: number;
  /** Gaps in the recording, after which frames need not be the same. */
  gaps: number;
  /** The engine failed at this tick when it went again, as it may have when it was recorded. */
  failed: { readonly tick: number; readonly message: string } | undefined;
  endedCleanly: boolean;
  fromS: number;
  toS: number;
}

export interface FrameDifference {
  readonly tick: number;
  readonly atS: number;
  /** Seconds since 1970. */
  readonly unixS: number;
  /** How many slots, and the first few of them. */
  readonly slotCount: number;
  readonly slots: readonly SlotDifference[];
}

export interface ReplayedTick {
  readonly run: ReplayedRun;
  readonly tick: number;
  readonly nowS: number;
  readonly unixOffsetS: number;
  readonly events: readonly EngineEvent[];
  /** When its levels were handed on as it was recorded; undefined where that was not recorded. */
  readonly sentS: number | undefined;
}

export interface ReplayHooks {
  began?(run: ReplayedRun): void;
  /** Before `absorb` or `step` sees them. */
  intake?(run: ReplayedRun, record: IntakeRecord, asked: AskedOfTick): void;
  /** After each tick. */
  ticked?(tick: ReplayedTick): void;
  /** The next record of the same engine after ticks that are missing: the last tick before them, and the time of the record. */
  resumed?(run: ReplayedRun, fromS: number, toS: number): void;
  /** What is neither inputs nor frames. */
  told?(run: ReplayedRun, record: JsonRecord): void;
}

/** What people and the desk want of a tick. */
export type AskedOfTick = Required<Pick<TickInputs, 'operator' | 'desk'>>;

const NOTHING: AskedOfTick = { operator: [], desk: [] };

interface OpenTick {
  readonly record: IntakeRecord;
  readonly events: readonly EngineEvent[];
  told: boolean;
}

const FEW_SLOTS = 12;

/**
 * Runs the engine over what was recorded, record by record: the same inputs at the same times in the
 * same order, so that every frame has to come out the same.
 */
export class Replay {
  readonly runs: ReplayedRun[] = [];
  readonly #hooks: ReplayHooks;
  #run: ReplayedRun | undefined;
  #engine: ReturnType<typeof createEngine> | undefined;
  #recorded = new Uint8Array(0);
  #next = 0;
  /** Of the tick to come. */
  #asked: AskedOfTick = NOTHING;
  /** From where the orders of the intake to come were sent, by their places among its datagrams. */
  #senders: Senders | undefined;
  /** Records are missing since the last tick of this time. */
  #missingSinceS: number | undefined;
  #lacksTicks = false;
  /** The tick in hand: its frame and events are still to come. */
  #open: OpenTick | undefined;

  constructor(hooks: ReplayHooks = {}) {
    this.#hooks = hooks;
  }

  /** @returns what stands against replaying it, in plain words, or undefined */
  take(item: RecordedItem): string | undefined {
    switch (item.type) {
      case 'start':
        return this.#start(item.value);
      case 'absorb':
      case 'tick':
        this.#intake(item);
        return undefined;
      case 'frame':
        this.#frame(item);
        return undefined;
      default:
        this.#told(item);
        return undefined;
    }
  }

  finish(): readonly ReplayedRun[] {
    // What was cut off may have lost the events of its last tick.
    this.#closeTick(this.#run?.endedCleanly === true);
    return this.runs;
  }

  #start(value: unknown): string | undefined {
    const start = readStart(value);
    if (start === undefined) return 'its first record does not say who recorded what';
    this.#closeTick(true);
    this.#recorded = new Uint8Array(start.universes.length * SLOTS_PER_UNIVERSE);
    if (this.#run?.start.run === start.run) {
      this.#missing(this.#run, start.tick);
      return undefined;
    }
    const parsed = parseShow(start.showText, start.showFile);
    if (!parsed.ok) {
      const why = parsed.problems[0]?.message ?? '';
      return `its show, recorded by version ${start.version}, can't be read by this version: ${why}`;
    }
    const engine = createEngine(parsed.show);
    const goesOn = start.before !== undefined && start.before === this.#run?.start.run;
    if (goesOn && this.#engine !== undefined) takeOver(engine, this.#engine);
    const run: ReplayedRun = {
      start,
      show: parsed.show,
      view: viewOf(engine),
      whole:
        start.tick === 0 && (start.before === undefined || (goesOn && this.#run?.whole === true)),
      ticks: 0,
      compared: 0,
      differing: 0,
      first: undefined,
      eventsDiffering: 0,
      gaps: 0,
      failed: undefined,
      endedCleanly: false,
      fromS: start.atS,
      toS: start.atS,
    };
    this.#run = run;
    this.#engine = engine;
    this.#missingSinceS = undefined;
    this.#next = start.tick;
    this.runs.push(run);
    this.#hooks.began?.(run);
    return undefined;
  }

  #intake(record: IntakeRecord): void {
    this.#closeTick(true);
    const run = this.#run;
    const engine = this.#engine;
    if (run === undefined || engine === undefined) return;
    if (run.failed !== undefined) {
      // It went on then.
      run.differing += 1;
      return;
    }
    this.#missing(run, record.tick);
    if (this.#missingSinceS !== undefined) {
      // One that lacks no tick is no gap in what happened.
      if (this.#lacksTicks) this.#hooks.resumed?.(run, this.#missingSinceS, record.nowS);
      this.#missingSinceS = undefined;
    }
    const { unixOffsetS } = record;
    const datagrams = withSenders(record.datagrams, this.#senders);
    this.#senders = undefined;
    const asked = record.type === 'tick' ? this.#asked : NOTHING;
    this.#hooks.intake?.(run, { ...record, datagrams }, asked);
    const inputs: TickInputs = { datagrams, unixOffsetS, ...asked };
    try {
      if (record.type === 'absorb') {
        absorb(engine, inputs, record.nowS);
        return;
      }
      this.#asked = NOTHING;
      const { events } = step(engine, inputs, record.nowS);
      this.#open = { record, events, told: false };
      run.ticks += 1;
      run.toS = record.nowS;
      this.#next = record.tick + 1;
    } catch (error) {
      const message = messageOf(error);
      run.failed = { tick: record.tick, message };
    }
  }

  /** Ticks that are not there, up to the next one that is. */
  #missing(run: ReplayedRun, tick: number): void {
    if (tick === this.#next) return;
    this.#gap(run);
    this.#lacksTicks = true;
    this.#next = tick;
  }

  /** What a record says of a gap, and the ticks that are missing in it, are one. */
  #gap(run: ReplayedRun): void {
    if (this.#missingSinceS !== undefined) return;
    run.gaps += 1;
    this.#missingSinceS = run.toS;
    this.#lacksTicks = false;
  }

  #frame(record: FrameRecord): void {
    const run = this.#run;
    if (run === undefined) return;
    // After a gap, the levels are known again from the changes since the last that was recorded.
    applyChanges(record.changes, this.#recorded);
    const open = this.#open;
    if (open === undefined || open.record.tick !== record.tick) return;
    run.compared += 1;
    const { levels } = run.view;
    if (Buffer.compare(this.#recorded, levels) !== 0) {
      run.differing += 1;
      run.first ??= differenceOf(run.show, open.record, this.#recorded, levels);
    }
    this.#tell(run, open, record.sentS);
  }

  #told(record: JsonRecord): void {
    const run = this.#run;
    if (run === undefined) return;
    if (record.type === 'end') run.endedCleanly = true;
    if (record.type === 'gap') this.#gap(run);
    if (record.type === 'senders') {
      this.#senders = readSenders(record.value);
      return;
    }
    if (record.type === 'desk') {
      this.#asked = { ...this.#asked, desk: readDesk(record.value) ?? [] };
      return;
    }
    if (record.type === 'action') {
      this.#closeTick(true);
      const { actions } = record.value as { actions?: readonly OperatorAction[] };
      this.#asked = { ...this.#asked, operator: Array.isArray(actions) ? actions : [] };
    }
    const open = this.#open;
    if (record.type === 'events' && open !== undefined) {
      const recorded = (record.value as { events?: unknown }).events;
      if (isOfTheShell(recorded)) {
        this.#hooks.told?.(run, record);
        return;
      }
      if (!open.told) this.#tell(run, open, undefined);
      this.#open = undefined;
      if (JSON.stringify(recorded) !== JSON.stringify(open.events)) run.eventsDiffering += 1;
    }
    this.#hooks.told?.(run, record);
  }

  #tell(run: ReplayedRun, open: OpenTick, sentS: number | undefined): void {
    open.told = true;
    const { tick, nowS, unixOffsetS } = open.record;
    this.#hooks.ticked?.({ run, tick, nowS, unixOffsetS, events: open.events, sentS });
  }

  /** The tick in hand has no more records. */
  #closeTick(eventsAreDue: boolean): void {
    const run = this.#run;
    const open = this.#open;
    this.#open = undefined;
    if (run === undefined || open === undefined) return;
    if (!open.told) this.#tell(run, open, undefined);
    if (eventsAreDue && open.events.length > 0) run.eventsDiffering += 1;
  }
}

/** Sockets and disks report in the same way, and no replay can bring them about. */
function isOfTheShell(events: unknown): boolean {
  const [first] = Array.isArray(events) ? (events as { kind?: unknown }[]) : [];
  return first?.kind === 'input-fault' || first?.kind === 'recording';
}

function differenceOf(
  show: Show,
  { tick, nowS, unixOffsetS }: IntakeRecord,
  recorded: Uint8Array,
  replayed: Readonly<Uint8Array>,
): FrameDifference {
  const slots: SlotDifference[] = [];
  let slotCount = 0;
  for (let slot = 0; slot < Math.max(recorded.length, replayed.length); slot++) {
    const was = recorded[slot] ?? 0;
    const is = replayed[slot] ?? 0;
    if (was === is) continue;
    slotCount += 1;
    if (slots.length < FEW_SLOTS) slots.push(describeSlot(show, slot, was, is));
  }
  return { tick, atS: nowS, unixS: nowS + unixOffsetS, slotCount, slots };
}
