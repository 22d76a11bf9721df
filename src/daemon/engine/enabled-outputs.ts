import type { EnabledOutput } from '../../engine/events/events.js';
import type { EngineNews } from './engine-link.js';

/** Hazardous outputs that the engine has on, known from its events: of one that has gone nobody else says that they dropped. */
export class EnabledOutputs {
  #on: readonly EnabledOutput[] = [];

  hear(event: EngineNews): void {
    if (event.kind !== 'enable') return;
    const { gate, outputs } = event;
    const isOther = (one: EnabledOutput) =>
      !outputs.some(({ fixture, hazard }) => fixture === one.fixture && hazard === one.hazard);
    this.#on = [...this.#on.filter(isOther), ...(gate === 'on' ? outputs : [])];
  }

  /** The engine has gone, and all are at their safe values. @returns those that were on */
  drop(): readonly EnabledOutput[] {
    const were = this.#on;
    this.#on = [];
    return were;
  }
}
