import { join } from 'node:path';
import { encodeJson } from '../../recording/encode.js';
import type { Show } from '../../show/model.js';
import { monotonicS } from '../clock.js';
import { nextNumber, partName } from './folders.js';
import type { RecordedSource, RecordOrders } from './orders.js';
import { PartWriter } from './part-writer.js';
import { startRecord } from './start-record.js';

/** Records what the supervisor reports: what becomes of the light while there is no engine. */
export class SupervisorRecorder {
  readonly #writer: PartWriter;
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
    });
    this.#beginPart();
  }

  event(event: object): void {
    if (this.#writer.mayRetry) {
      this.#writer.nextPart();
      this.#beginPart();
    }
    this.#writer.append(encodeJson('supervisor', { atS: monotonicS(), event }));
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
