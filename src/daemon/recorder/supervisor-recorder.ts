import { join } from 'node:path';
import { encodeJson } from '../../recording/encode.js';
import type { Show } from '../../show/model.js';
import { monotonicS } from '../clock.js';
import { nextPart, partName } from './folders.js';
import type { RecordedSource, RecordOrders } from './orders.js';
import { PartWriter } from './part-writer.js';
import { startRecord } from './start-record.js';

/** Records what the supervisor reports: what becomes of the light while there is no engine. */
export class SupervisorRecorder {
  readonly #writer: PartWriter;

  constructor(orders: RecordOrders, show: Show, source: RecordedSource) {
    const part = nextPart(orders.folder, 'supervisor');
    this.#writer = new PartWriter(part, {
      pathOf: n => join(orders.folder, partName('supervisor', n)),
      turned: () => undefined,
      // The engine's recorder writes to the same disk, and says so.
      fault: () => undefined,
    });
    const run = `${process.pid}-${Math.round(monotonicS() * 1e3)}`;
    this.#writer.append(startRecord('supervisor', orders, show, source, run, 1, 0, monotonicS()));
  }

  event(event: object): void {
    this.#writer.append(encodeJson('supervisor', { atS: monotonicS(), event }));
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
