import { Socket } from 'node:net';
import { createInterface } from 'node:readline';
import { countDrops, countOverflow, createEngine, type Engine } from '../../engine/engine.js';
import { createPositionsOut, type PositionsOut, positionsDue } from '../../engine/positions-out.js';
import { absorb, step } from '../../engine/step.js';
import { takeOver } from '../../engine/take-over/take-over.js';
import type { DropReason } from '../../engine/values/counters.js';
import type { DeskLevels, TickInputs } from '../../engine/values/inputs.js';
import type { OperatorAction } from '../../engine/values/operator-action.js';
import { type EngineView, viewOf } from '../../engine/view.js';
import { doubtsOf, EnginePicture } from '../../live/engine-part.js';
import { oscLibrary } from '../../protocols/osc/library.js';
import { sectionsOf } from '../../show/model/sections.js';
import { monotonicS, unixOffsetS } from '../machine/clock.js';
import { Gathering } from '../machine/gathering.js';
import { MemoryGauge } from '../machine/memory-use.js';
import { SocketDrops } from '../machine/socket-drops.js';
import { socketInWords } from '../machine/socket-words.js';
import { PipeWriter } from '../pipe/writer.js';
import { EngineRecorder } from '../recorder/engine-recorder.js';
import {
  type Begin,
  type DeskOnPipe,
  ENGINE_PIPE_FD,
  type EngineOrders,
  type FirstOrders,
  type LaterOrders,
  type OrdersOnPipe,
  type ShowOnPipe,
} from './engine-orders.js';
import { Inbox } from './inbox.js';
import { InputSocket } from './input-socket.js';
import { type MadeEngine, NextEngine } from './next-engine.js';
import { packedOf, unpackShow } from './packed-show.js';

/** SIGUSR1 would open Node's debugger. */
const IGNORED = ['SIGINT', 'SIGTERM', 'SIGQUIT', 'SIGHUP', 'SIGUSR1', 'SIGUSR2'] as const;
/** The timer may fire this much early; a tick is then run rather than waited for. */
const TIMER_EARLY_S = 0.0005;
const COUNTERS_EVERY_S = 1;
/** Reports that wait before they are taken in ahead of the tick; fewer are no burden to it. */
const ABSORB_FROM = 4;
/** They are taken in together, as the first of a batch costs several times what the others do: a tick of 100 performers at once ... */
const ABSORB_MANY = 160;
/** ... but the tick finds little to do: so long before it, seconds, they wait no longer. A timer may be 1 ms late. */
const ABSORB_AHEAD_S = 0.003;

/** Runs the engine until its standard input closes, which it does when the supervisor is gone. */
export async function runEngine(): Promise<number> {
  // Only the supervisor ends it, by closing its standard input: it needs the engine for as long as it fades.
  for (const signal of IGNORED) process.on(signal, () => undefined);

  const lines = createInterface({ input: process.stdin });
  const gone = new Promise<void>(resolve => lines.once('close', resolve));
  // What people order while it starts is carried out in the first tick.
  const early: string[] = [];
  const keep = (line: string) => early.push(line);
  lines.on('line', keep);
  const nextLine = async () => {
    if (early.length === 0) {
      await Promise.race([new Promise(resolve => lines.once('line', resolve)), gone]);
    }
    return early.shift();
  };
  const first = await nextLine();
  if (first === undefined) return 0;
  const { packed, ...orders } = JSON.parse(first) as FirstOrders;
  const show = unpackShow(packedOf(packed));
  const pipe = new Socket({ fd: ENGINE_PIPE_FD, readable: false, writable: true });
  // The supervisor is gone: standard input closes too, and that is what ends the engine.
  pipe.on('error', () => undefined);
  const writer = new PipeWriter(
    pipe,
    sectionsOf(show).map(({ runs }) => runs),
  );
  // No datagram waits for it.
  oscLibrary();
  const engine = new EngineLoop(createEngine(show), writer, orders);
  const { restored, heldInputs } = orders;
  let begin: Begin | undefined = restored === 'later' ? undefined : { restored, heldInputs };
  if (begin === undefined) writer.json('prepared', {});
  const waiting: string[] = [];
  while (begin === undefined) {
    const line = await nextLine();
    if (line === undefined) return 0;
    const later = JSON.parse(line) as LaterOrders;
    if ('go' in later) begin = later.go;
    else waiting.push(line);
  }
  early.unshift(...waiting);
  const problems = await engine.open(begin.heldInputs);
  if (problems.length > 0) {
    writer.json('fatal', { message: problems.join(' ') });
    engine.close();
    pipe.end();
    return 3;
  }
  engine.operate(begin.restored);
  const take = (line: string) => {
    const later = JSON.parse(line) as LaterOrders;
    if ('operator' in later) engine.operate(later.operator);
    else if ('orders' in later) engine.hearOrders(later.orders);
    else if ('desk' in later) engine.hearDesk(later.desk);
    else if ('show' in later) engine.takeShow(later.show);
    else if ('snapshotHz' in later) engine.look(later.snapshotHz);
    else if ('keepShow' in later) engine.keepShow();
  };
  lines.off('line', keep);
  for (const line of early) take(line);
  lines.on('line', take);
  engine.start();
  await gone;
  engine.close();
  await engine.recorder?.close();
  pipe.destroy();
  return 0;
}

const NO_ORDERS: readonly OperatorAction[] = [];
const NO_LEVELS: readonly DeskLevels[] = [];

/** The tick: drains the inbox, steps the core, and hands the frame to the supervisor. */
class EngineLoop {
  readonly #inbox = new Inbox();
  #view: EngineView;
  /** Made when somebody looks first. */
  #picture: EnginePicture | undefined;
  #positions: PositionsOut;
  #next: NextEngine | undefined;
  readonly #inputs: readonly InputSocket[];
  readonly #periodS: number;
  #timer: NodeJS.Timeout | undefined;
  #nextS = 0;
  #countersDueS = 0;
  #snapshotDueS = 0;
  #lateTicks = 0;
  #absorbing = false;
  #absorbTimer: NodeJS.Timeout | undefined;
  /** Not while the next show is made, in the time between ticks. */
  readonly #gathering = new Gathering(() =>
    this.#next === undefined ? this.#nextS - monotonicS() : 0,
  );
  recorder: EngineRecorder | undefined;
  #operator: readonly OperatorAction[] = NO_ORDERS;
  #desk: readonly DeskLevels[] = NO_LEVELS;
  #restingTold = 0;
  #fallingTold = 0;
  readonly #memory = new MemoryGauge();
  readonly #socketDrops = new SocketDrops((count, at) =>
    countOverflow(this.engine, socketInWords(at, this.#view.show.inputs), count),
  );
  /** A position that is timed on its way to the light; see `LightDelays`. */
  readonly #timed = { stampS: Number.NaN, arrivalS: 0 };
  #timedPerformer = 0;
  #lastTickS = Number.NEGATIVE_INFINITY;

  constructor(
    private engine: Engine,
    private readonly pipe: PipeWriter,
    private orders: Omit<EngineOrders, 'packed'>,
  ) {
    this.#periodS = 1 / orders.tickHz;
    this.#view = viewOf(engine);
    this.#positions = createPositionsOut(this.#view.show);
    this.#inputs = this.#view.show.inputs.map(
      (plan, index) =>
        new InputSocket(index, plan, this.#inbox, {
          cameS: nowS => this.#gathering.cameS(nowS),
          arrived: () => this.#arrived(),
          refused: from => this.#count('sender-not-allowed', 1, from),
          fault: message => this.#inputFault(message),
          back: message => pipe.json('events', [{ kind: 'input-back', message }]),
        }),
    );
  }

  /** @param held places of the inputs that the supervisor hears */
  async open(held: readonly number[]): Promise<string[]> {
    const own = this.#inputs.filter((_, input) => !held.includes(input));
    const problems = await Promise.all(own.map(input => input.open()));
    return problems.filter(problem => problem !== undefined);
  }

  start(): void {
    const { show } = this.#view;
    this.pipe.json('hello', { pid: process.pid, show: show.name, universes: show.universes });
    this.#record();
    this.#socketDrops.start();
    this.#nextS = monotonicS();
    this.#tick();
  }

  /** Carried out in the next tick. */
  operate(actions: readonly OperatorAction[]): void {
    this.#operator = [...this.#operator, ...actions];
  }

  /** As if its own sockets had heard it. */
  hearOrders(orders: OrdersOnPipe): void {
    const { datagrams, dropped, lost, overflowed, refused, refusedFrom } = orders;
    for (const [input, bytes, arrivalS, from] of datagrams) {
      const datagram = { bytes: Buffer.from(bytes, 'base64'), arrivalS };
      this.#inbox.put({ input, ...datagram, from, sender: from });
    }
    if (dropped > 0) this.#count('inbox-full', dropped);
    if (lost > 0) this.#count('order-lost', lost);
    for (const [socket, count] of Object.entries(overflowed)) {
      countOverflow(this.engine, socket, count);
    }
    if (refused > 0) this.#count('sender-not-allowed', refused, refusedFrom);
    this.#arrived();
  }

  /** Taken in with the next tick. */
  hearDesk(universes: readonly DeskOnPipe[]): void {
    this.#desk = [
      ...this.#desk,
      ...universes.map(([input, heard, levels, from, silent]): DeskLevels => {
        return { input, heard, levels: Buffer.from(levels, 'base64'), from, silent };
      }),
    ];
  }

  /** Goes on with another show, of the same patch, outputs and inputs, as soon as its engine is made. */
  takeShow(show: ShowOnPipe): void {
    this.#next = new NextEngine(show, this.engine);
  }

  /** So many snapshots a second from now on. */
  look(snapshotHz: number): void {
    this.orders = { ...this.orders, snapshotHz };
  }

  /** Lets go of it, unless it has taken over. */
  keepShow(): void {
    if (this.#next === undefined) return;
    this.#next = undefined;
    this.pipe.json('kept show', {});
  }

  /** What there is time for before the next tick. */
  #workOnNext(): void {
    const next = this.#next;
    if (next === undefined) return;
    const made = next.work(this.#nextS - monotonicS());
    if (made === 'no time') return;
    if (made === 'not yet') setImmediate(() => this.#workOnNext());
    else this.#switch(made, next.show);
  }

  #switch({ engine, pairs, view }: MadeEngine, { text, file }: ShowOnPipe): void {
    takeOver(engine, this.engine, pairs);
    this.#next = undefined;
    this.engine = engine;
    // That of the show before: it is told anew.
    this.#restingTold = -1;
    this.#fallingTold = -1;
    this.#view = view;
    this.#inputs.forEach((input, place) => {
      input.allow(view.show.inputs[place]?.allow ?? 'any');
    });
    this.#picture = undefined;
    this.#positions = createPositionsOut(this.#view.show, this.#positions);
    this.orders = { ...this.orders, text, file };
    this.recorder?.takeShow(this.#view.show, this.orders);
    this.pipe.json('took over', {});
  }

  #record(): void {
    const { record } = this.orders;
    if (record === undefined) return;
    const recorder = new EngineRecorder(record, this.#view.show, this.orders, news => {
      this.pipe.json('events', [news]);
    });
    this.recorder = recorder;
    // What it was given when it failed is what people will ask for.
    process.on('uncaughtExceptionMonitor', () => recorder.flushNow());
  }

  close(): void {
    clearTimeout(this.#timer);
    clearTimeout(this.#absorbTimer);
    this.#socketDrops.close();
    for (const input of this.#inputs) input.close();
  }

  #tick(): void {
    const nowS = monotonicS();
    if (nowS >= this.#nextS - TIMER_EARLY_S) {
      this.#run(nowS);
      // After a stall the missed ticks are left out: their light would be of the past.
      const missed = Math.floor((nowS - this.#nextS) / this.#periodS);
      if (missed > 0) this.#lateTicks += missed;
      this.#nextS += (Math.max(0, missed) + 1) * this.#periodS;
    }
    if (this.#next !== undefined) setImmediate(() => this.#workOnNext());
    const waitMs = Math.max(0, (this.#nextS - monotonicS()) * 1e3);
    this.#timer = setTimeout(() => this.#tick(), waitMs);
  }

  /** With many performers, reports are taken in between ticks: the tick itself stays short. */
  #arrived(): void {
    this.#gathering.arrived();
    const { count } = this.#inbox;
    if (this.#absorbing || count < ABSORB_FROM) return;
    if (count >= ABSORB_MANY) {
      this.#absorbSoon();
      return;
    }
    // What comes after that is little, and left to the tick.
    const earlyS = this.#nextS - ABSORB_AHEAD_S - monotonicS();
    if (earlyS > 0) this.#absorbTimer ??= setTimeout(() => this.#absorbSoon(), earlyS * 1e3);
  }

  /** Not at once: what is in the kernel is fetched first. */
  #absorbSoon(): void {
    if (this.#absorbing) return;
    this.#absorbing = true;
    setImmediate(() => this.#absorb());
  }

  #absorb(): void {
    clearTimeout(this.#absorbTimer);
    this.#absorbTimer = undefined;
    this.#absorbing = false;
    const inputs = this.#inputsNow();
    if (inputs.datagrams.length === 0) return;
    const nowS = monotonicS();
    this.recorder?.intake('absorb', inputs, nowS);
    absorb(this.engine, inputs, nowS);
  }

  /** Always of one shape: V8 looks up anew what it reads of an object that is made by spreading another. */
  #inputsNow(operator = NO_ORDERS, desk = NO_LEVELS): TickInputs {
    const datagrams = this.#inbox.take();
    this.#count('inbox-full', this.#inbox.dropped);
    this.#inbox.dropped = 0;
    return { datagrams, unixOffsetS: unixOffsetS(), operator, desk };
  }

  #run(nowS: number): void {
    const { engine, pipe, orders } = this;
    this.#gathering.tick(this.#periodS);
    const operator = this.#operator;
    this.#operator = NO_ORDERS;
    const desk = this.#desk;
    this.#desk = NO_LEVELS;
    const inputs = this.#inputsNow(operator, desk);
    this.recorder?.intake('tick', inputs, nowS);
    const deadlineS = nowS + this.#periodS;
    const { levels, events } = step(engine, inputs, nowS, (section, done) => {
      if (section === 0) {
        this.#tellFalling();
        this.#timePosition(nowS);
      }
      pipe.section(section, done, nowS, deadlineS, this.#view.cue?.index, this.#timed);
    });
    // The light has left.
    this.#tellResting();
    const rounds = positionsDue(this.#positions, this.#view, nowS);
    if (rounds.length > 0) pipe.json('positions', rounds);
    this.recorder?.frame(levels, events, monotonicS());
    if (events.length > 0) pipe.json('events', events);
    if (nowS >= this.#countersDueS) {
      this.#countersDueS = nowS + COUNTERS_EVERY_S;
      const { framesSkipped, messagesDropped } = pipe;
      const counters = {
        ...this.#view.counters,
        lateTicks: this.#lateTicks,
        framesSkipped,
        messagesDropped,
        ...this.#memory.now,
      };
      pipe.json('counters', { ...counters, doubts: doubtsOf(this.#view) });
      this.recorder?.counters(counters, nowS);
    }
    if (orders.snapshotHz > 0 && nowS >= this.#snapshotDueS) {
      this.#snapshotDueS = nowS + 1 / orders.snapshotHz;
      this.#picture ??= new EnginePicture(this.#view);
      const { framesSkipped } = pipe;
      const more = { lateTicks: this.#lateTicks, framesSkipped, ...this.#memory.now };
      pipe.json('snapshot', this.#picture.take(more));
    }
    if (orders.traceTicks) {
      const tookS = monotonicS() - nowS;
      pipe.json('events', [
        { kind: 'tick', startS: nowS, tookS, datagrams: inputs.datagrams.length },
      ]);
    }
  }

  /** The next performer of whom this tick has something new. */
  #timePosition(nowS: number): void {
    const { performers } = this.engine.tracks;
    this.#timed.stampS = Number.NaN;
    for (let tried = 0; tried < performers.length; tried++) {
      this.#timedPerformer = (this.#timedPerformer + 1) % performers.length;
      const one = performers[this.#timedPerformer];
      if (one === undefined || !(one.heardS > this.#lastTickS)) continue;
      this.#timed.stampS = one.stampS;
      this.#timed.arrivalS = one.heardS;
      break;
    }
    this.#lastTickS = nowS;
  }

  /** Whenever it changes, and before the frame in which it does: see `Falling`. */
  #tellFalling(): void {
    const { lights, changes } = this.engine.falling;
    if (changes === this.#fallingTold) return;
    const falls: number[] = [];
    for (let i = 0; i < lights.length; i++) if (lights[i] === 1) falls.push(i);
    if (this.pipe.json('falling', falls)) this.#fallingTold = changes;
  }

  /** Whenever it changes: the supervisor takes the desk's levels of its own moment for these. */
  #tellResting(): void {
    const { resting, changes } = this.engine.ground;
    if (changes === this.#restingTold) return;
    this.#restingTold = changes;
    const lights: number[] = [];
    for (let i = 0; i < resting.length; i++) if (resting[i] === 1) lights.push(i);
    this.pipe.json('resting', lights);
  }

  #inputFault(message: string): void {
    const events = [{ kind: 'input-fault', message }];
    this.pipe.json('events', events);
    this.recorder?.json('events', { tick: this.recorder.tick, events });
  }

  #count(reason: DropReason, amount: number, from?: string): void {
    countDrops(this.engine, reason, amount, from);
  }
}
