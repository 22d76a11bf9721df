import { isDeepStrictEqual } from 'node:util';
import type { InputPlan, Show } from '../../show/model/model.js';
import type { OrdersOnPipe } from '../engine/engine-orders.js';
import { Inbox } from '../engine/inbox.js';
import { InputSocket } from '../engine/input-socket.js';
import { SocketDrops } from '../machine/socket-drops.js';
import { socketInWords } from '../machine/socket-words.js';
import type { HeardOrders } from './kept-stops.js';
import { OrderBudget } from './order-budget.js';

export interface OrderInputsOptions {
  /** @returns whether there is an engine that hears it */
  forward(orders: OrdersOnPipe): boolean;
  /** What was heard, once the engine has been told, or could not be. */
  heard(orders: HeardOrders): void;
  fault(message: string): void;
  back(message: string): void;
}

interface Open {
  readonly input: number;
  readonly plan: InputPlan;
  readonly socket: InputSocket;
}

/**
 * The inputs at which people and desks give orders, heard by the supervisor: they are open whether an engine runs or
 * not. What comes is handed to the engine as it came.
 */
export class OrderInputs {
  readonly #inbox = new Inbox();
  readonly #budget = new OrderBudget();
  #plans: readonly (readonly [input: number, plan: InputPlan])[] = [];
  #open: readonly Open[] = [];
  #refused = 0;
  #refusedFrom: string | undefined;
  #isScheduled = false;
  #lost = 0;
  /** Of all sockets of this process: those of lighting and of the desk too. */
  #overflowed: Record<string, number> = {};
  readonly #socketDrops = new SocketDrops((count, at) => {
    const socket = socketInWords(
      at,
      this.#plans.map(([, plan]) => plan),
    );
    this.#overflowed[socket] = (this.#overflowed[socket] ?? 0) + count;
    this.#schedule();
  });

  constructor(private readonly options: OrderInputsOptions) {
    this.#socketDrops.start();
  }

  /** Places in the show of those that are open here; the engine is to open the others itself. */
  get held(): readonly number[] {
    return this.#open.map(({ input }) => input);
  }

  /** Listens for the orders of this show from now on; what it shares with the one before stays open. */
  async take({ inputs }: Show): Promise<void> {
    this.#flush();
    this.#plans = inputs.flatMap((plan, input): [number, InputPlan][] =>
      plan.carries === 'orders' ? [[input, plan]] : [],
    );
    this.#open = this.#open.filter(({ input, plan, socket }) => {
      const now = this.#plans.find(([place]) => place === input)?.[1];
      // Whom it listens to may change while it is open.
      const isWanted = now !== undefined && isDeepStrictEqual({ ...now, allow: plan.allow }, plan);
      if (isWanted) socket.allow(now.allow);
      else socket.close();
      return isWanted;
    });
    await this.openRest();
  }

  /** Tries those again that could not be opened: an engine that has gone may have had them. */
  async openRest(): Promise<void> {
    for (const [input, plan] of this.#plans) {
      if (this.#open.some(one => one.input === input)) continue;
      const socket = new InputSocket(input, plan, this.#inbox, {
        takes: (bytes, from) => this.#budget.takes(bytes, from),
        arrived: () => this.#schedule(),
        refused: from => this.#refuse(from),
        fault: this.options.fault,
        back: this.options.back,
      });
      // Why not, the engine says, which tries it next.
      if ((await socket.open()) !== undefined) continue;
      this.#open = [...this.#open, { input, plan, socket }];
    }
  }

  /** Once a beat: as much again may come. */
  beat(): void {
    if (this.#budget.beat()) this.#schedule();
  }

  /** So many orders no engine took: the next one counts them. */
  lose(count: number): void {
    this.#lost += count;
    this.#schedule();
  }

  /** A new engine is told what was refused meanwhile. */
  tellNew(): void {
    this.#schedule();
  }

  close(): void {
    this.#socketDrops.close();
    for (const { socket } of this.#open) socket.close();
    this.#open = [];
  }

  #refuse(from: string): void {
    this.#refused += 1;
    this.#refusedFrom = from;
    this.#schedule();
  }

  /** What comes in one turn of the loop crosses the pipe as one line. */
  #schedule(): void {
    if (this.#isScheduled) return;
    this.#isScheduled = true;
    setImmediate(() => this.#flush());
  }

  #flush(): void {
    this.#isScheduled = false;
    const datagrams = this.#inbox.take();
    const dropped = this.#inbox.dropped + this.#budget.dropped;
    const [lost, overflowed] = [this.#lost, this.#overflowed];
    const isQuiet = datagrams.length + dropped + lost + this.#refused === 0;
    if (isQuiet && Object.keys(overflowed).length === 0) return;
    const isForwarded = this.options.forward({
      datagrams: datagrams.map(({ input, bytes, arrivalS, from = '' }) => {
        return [input, bytes.toString('base64'), arrivalS, from];
      }),
      dropped,
      lost,
      overflowed,
      refused: this.#refused,
      refusedFrom: this.#refusedFrom,
    });
    if (isForwarded) {
      this.#inbox.dropped = 0;
      this.#budget.dropped = 0;
      this.#lost = 0;
      this.#overflowed = {};
      this.#refused = 0;
    }
    for (const { input, bytes, arrivalS, from } of datagrams) {
      const plan = this.#plans.find(([one]) => one === input)?.[1];
      if (plan !== undefined) this.options.heard({ plan, bytes, arrivalS, from, isForwarded });
    }
  }
}
