import type { OperatorAction } from '../../engine/operator.js';
import type { Show } from '../../show/model.js';
import type { EngineNews } from '../engine-link.js';
import { OperatorMemory, type OperatorState, readOperatorState } from './memory.js';
import { StateStore, type StoreEvent } from './store.js';

/** What people have changed while the show runs: followed, and kept in the state folder for the next start. */
export class OperatorKeeping {
  #memory: OperatorMemory;
  #store: StateStore<OperatorState> | undefined;

  /** @param folder undefined: kept nowhere */
  constructor(
    show: Show,
    private readonly folder: string | undefined,
    private readonly onEvent: (event: StoreEvent) => void,
  ) {
    this.#store = this.#storeOf(show);
    this.#memory = new OperatorMemory(show, undefined);
  }

  /** At the start: what people had changed before it; the engine is told when it starts. */
  load(show: Show): void {
    const state = this.#store?.load();
    this.#memory = new OperatorMemory(show, state);
    const entries = this.#memory.restored().length;
    if (this.#store === undefined || entries === 0) return;
    this.onEvent({ kind: 'state-restored', file: this.#store.file, entries });
  }

  /** Another show takes over: what was changed holds there too. */
  swap(show: Show): void {
    const kept = this.#memory.state;
    this.#store?.close();
    this.#store = this.#storeOf(show);
    this.#memory = new OperatorMemory(show, kept);
  }

  hear(event: EngineNews): void {
    if (this.#memory.hear(event)) this.#store?.save(this.#memory.state);
  }

  /** What a new engine is to carry out first. */
  restored(): readonly OperatorAction[] {
    return this.#memory.restored();
  }

  async end(): Promise<void> {
    await this.#store?.settled();
    this.#store?.close();
  }

  #storeOf(show: Show): StateStore<OperatorState> | undefined {
    const { folder, onEvent } = this;
    if (folder === undefined) return undefined;
    return new StateStore({ folder, show: show.name, parse: readOperatorState, onEvent });
  }
}
