import { join } from 'node:path';
import type { DelayHistogram } from '../../live/light-delays.js';
import { delaysSince } from '../../live/recorded-delays.js';
import { encodeJson } from '../../recording/encode.js';
import type { Show } from '../../show/model/model.js';
import { monotonicS } from '../machine/clock.js';
import { nextNumber, partName } from './folders.js';
import type { RecordedSource, RecordOrders } from './orders.js';
import { PartWriter } from './part-writer.js';
import { startRecord } from './start-record.js';

/** Records what the supervisor reports: what becomes of the light while there is no engine. */
export class SupervisorRecorder {
  readonly #writer: PartWriter;
  /** What has been recorded of them. */
  #delays: readonly DelayHistogram[] = [];
  readonly #run = `${process.pid}-${Math.round(monotonicS() * 1e3)}`;

  constructor(
    private readonly orders: RecordOrders,
    private readonly show: Show,
    private readonly source: RecordedSource,
  ) {
    this.#writer = new PartWriter({
      nextNumber: () => nextNumber(orders, 'supervisor'),
      pathOf: number => join(orders.folder, partName('supervisor', number)),
      turned: () => undefined,
      // The engine's recorder writes to the same disk, and says so.
      fault: () => undefined,
      lost: () => undefined,
    });
    this.#beginPart();
  }

  event(event: object): void {
    this.#append('supervisor', { atS: monotonicS(), event });
  }

  /** @param told of all positions since the supervisor began; what is new of it is recorded */
  delays(told: readonly DelayHistogram[]): void {
    const since = delaysSince(told, this.#delays, monotonicS());
    if (since === undefined) return;
    this.#delays = told;
    this.#append('delays', since);
  }

  #append(type: 'supervisor' | 'delays', value: object): void {
    if (this.#writer.mayRetry) {
      this.#writer.nextPart();
      this.#beginPart();
    }
    this.#writer.append(encodeJson(type, value));
  }

  #beginPart(): void {
    const { orders, show, source } = this;
    const { part } = this.#writer;
    this.#writer.append(
      startRecord('supervisor', orders, show, source, { run: this.#run, part }, 0, monotonicS()),
    );
  }

  /** For the last moment of a process that fails. */
  flushNow(): void {
    this.#writer.flushNow();
  }

  async close(): Promise<void> {
    this.#writer.append(encodeJson('end', { tick: 0, atS: monotonicS() }));
    await this.#writer.close();
  }
}
