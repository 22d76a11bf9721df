import type { OutputPlan, Show } from '../../show/model/model.js';
import type { LightingEvent } from '../lighting/events.js';
import { DOWN } from '../lighting/interfaces.js';
import { sendFaultInWords } from '../lighting/send-fault-words.js';
import type { Trouble } from './troubles.js';

/** One that is there, but down, is not lost. */
const lostInWords = (reason: string) =>
  reason === DOWN ? 'its interface is down' : `interface lost, ${reason}`;

/** What keeps levels from leaving, by interface and by output. */
export class OutputNotes {
  /** By interface, what keeps it from sending. */
  readonly #down = new Map<string, Trouble>();
  /** By interface, since when Art-Net is held back. */
  readonly #held = new Map<string, number>();
  /** By output, whose levels can't be sent, to anybody or to some. */
  readonly #failing = new Map<string, Trouble & { isDown: boolean }>();

  /** Of sockets that are opened anew nothing is known. */
  begin(): void {
    this.#down.clear();
    this.#failing.clear();
  }

  /** @returns whether it is about outputs as a whole */
  hear(event: LightingEvent, nowS: number): boolean {
    switch (event.kind) {
      case 'interface-lost':
        this.#goDown(event.interface, lostInWords(event.reason), nowS);
        return true;
      case 'carrier-lost':
        this.#goDown(event.interface, 'no carrier on its interface', nowS);
        return true;
      case 'artnet-held':
        if (event.held) this.#held.set(event.interface, nowS);
        else this.#held.delete(event.interface);
        return true;
      case 'interface-back':
      case 'carrier-back':
        this.#down.delete(event.interface);
        return true;
      case 'send-failed': {
        const { output, reason, sent } = event;
        const sinceS = this.#failing.get(output)?.sinceS ?? nowS;
        const what = `${sent > 0 ? 'some ' : ''}packets can't be sent, ${sendFaultInWords(reason)}`;
        this.#failing.set(output, { what, sinceS, isDown: sent === 0 });
        return true;
      }
      case 'sent-again':
        this.#failing.delete(event.output);
        return true;
      case 'sends-ended':
        for (const { output } of event.outputs) this.#failing.delete(output);
        return false;
      default:
        return false;
    }
  }

  /** It may be told of again: the first time counts. */
  #goDown(name: string, what: string, nowS: number): void {
    this.#down.set(name, { what, sinceS: this.#down.get(name)?.sinceS ?? nowS });
  }

  troubleOf(output: OutputPlan, iso: (atS: number) => string) {
    const failing = this.#failing.get(output.name);
    const down = this.#down.get(output.interface);
    const trouble = down ?? (failing?.isDown === true ? failing : undefined);
    const heldS = output.protocol === 'artnet' ? this.#held.get(output.interface) : undefined;
    if (trouble === undefined) {
      if (heldS === undefined) return { trouble: undefined };
      return { trouble: undefined, heldBack: true as const, since: iso(heldS) };
    }
    return { trouble: trouble.what, since: iso(trouble.sinceS) };
  }

  /** Outputs of which some packets leave, and others don't. */
  partlyFailing({ outputs }: Show): Trouble[] {
    return outputs.flatMap(({ name }) => {
      const failing = this.#failing.get(name);
      if (failing === undefined || failing.isDown) return [];
      return [{ what: `output ${name}: ${failing.what}`, sinceS: failing.sinceS }];
    });
  }
}
