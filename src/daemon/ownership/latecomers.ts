import type { Show } from '../../show/model/model.js';
import type { LightingEvent } from '../lighting/events.js';
import type { LightingInterface } from '../lighting/interfaces.js';
import type { Ownership } from './ownership.js';

/**
 * Interfaces that were missing when we took our locks, by whatever the show calls them. Nothing is sent by one before
 * it is locked under its own name: another process may have taken it meanwhile.
 */
export class Latecomers {
  #isAsking = false;
  #told = '';

  constructor(
    private readonly ownership: Pick<Ownership, 'holds' | 'take'>,
    private readonly onEvent: (event: LightingEvent) => void,
  ) {}

  /** @returns whether the show may send by an interface; what is not known yet is by the next time */
  admits(show: Show, where: LightingInterface): boolean {
    if (this.ownership.holds(show)) return true;
    if (!this.#isAsking) void this.#ask(show, where.name);
    return false;
  }

  async #ask(show: Show, name: string): Promise<void> {
    this.#isAsking = true;
    const taken = await this.ownership.take(show, undefined);
    this.#isAsking = false;
    const reason = taken.ok ? '' : taken.problems.join(' ');
    if (reason !== this.#told && reason !== '') {
      this.onEvent({ kind: 'interface-lost', interface: name, reason });
    }
    this.#told = reason;
  }
}
