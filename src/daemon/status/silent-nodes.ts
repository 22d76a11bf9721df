import type { OutputPlan } from '../../show/model/model.js';
import { enumerated } from '../../stage/enumerated.js';
import type { LightingEvent } from '../lighting/events.js';
import type { Trouble } from './troubles.js';

const MOST_NAMED = 6;

/** Art-Net nodes that outputs of the show send to by address, and that do not answer. */
export class SilentNodes {
  /** By address, since when, monotonic seconds. */
  readonly #silent = new Map<string, number>();

  /** Sockets that are opened anew ask anew. */
  begin(): void {
    this.#silent.clear();
  }

  /** @returns whether it is about whether a node answers */
  hear(event: LightingEvent, nowS: number): boolean {
    switch (event.kind) {
      case 'node-silent':
      case 'node-gone':
        this.#silent.set(event.ip, this.#silent.get(event.ip) ?? nowS);
        return true;
      case 'node-found':
      case 'node-is-partner':
        this.#silent.delete(event.ip);
        return true;
      default:
        return false;
    }
  }

  /** Of each output in one sentence; of a node that no output lists nobody needs to know. */
  troubles(outputs: readonly OutputPlan[]): Trouble[] {
    return outputs.flatMap(output => {
      if (output.protocol !== 'artnet') return [];
      const silent = output.to.filter(ip => this.#silent.has(ip));
      if (silent.length === 0) return [];
      const what = `no Art-Net node answers at ${enumerated(silent, MOST_NAMED)}, where output ${output.name} sends: is it on, and its cable in?`;
      return [{ what, sinceS: Math.min(...silent.map(ip => this.#silent.get(ip) ?? 0)) }];
    });
  }
}
