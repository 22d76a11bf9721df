import { type DeskSlot, deskChart } from '../../sheets/desk-chart.js';
import type { DeskInputPlan, Show } from '../../show/model/model.js';
import type { DeskStatus } from '../asking/status.js';
import { goneInWords } from '../desk/describe-desk.js';
import type { DeskEvent, DeskSource } from '../desk/events.js';

interface Note {
  state: DeskStatus['state'];
  sources: readonly DeskSource[];
  sinceS: number;
}

/** What is heard of the desk, by the names of the show's inputs. */
export class DeskNotes {
  #notes = new Map<string, Note>();
  /** Of the show of now, by input. */
  #chart:
    | { readonly show: Show; readonly slots: ReadonlyMap<string, readonly DeskSlot[]> }
    | undefined;
  /** By input, why it can't be heard. */
  readonly #deaf = new Map<string, string>();

  /** Another show, which hears other universes. */
  take({ desk }: Show, { desk: before }: Show, nowS: number): void {
    const key = (inputs: readonly DeskInputPlan[]) => JSON.stringify(inputs);
    // What goes on being heard is not told anew.
    if (key(desk) === key(before) && this.#notes.size === desk.length) return;
    this.#deaf.clear();
    this.#notes = new Map(
      desk.map(({ name }) => [name, { state: 'not heard', sources: [], sinceS: nowS }]),
    );
  }

  /** @returns whether it may have changed what there is to say */
  hear(event: DeskEvent, nowS: number): boolean {
    switch (event.kind) {
      case 'desk-heard':
        this.#notes.set(event.input, { state: 'heard', sources: event.sources, sinceS: nowS });
        return true;
      case 'desk-sources': {
        const sinceS = this.#notes.get(event.input)?.sinceS ?? nowS;
        this.#notes.set(event.input, { state: 'heard', sources: event.sources, sinceS });
        return true;
      }
      case 'desk-gone':
        this.#notes.set(event.input, { state: 'gone', sources: [], sinceS: nowS });
        return true;
      case 'desk-deaf':
        for (const input of event.inputs) this.#deaf.set(input, event.reason);
        return true;
      case 'desk-listens':
        for (const input of event.inputs) this.#deaf.delete(input);
        return true;
      default:
        return false;
    }
  }

  status(show: Show, iso: (atS: number) => string): DeskStatus[] {
    const { desk, universes } = show;
    return desk.map((plan): DeskStatus => {
      const { name, protocol, universe, interface: on, ground } = plan;
      const { state, sources, sinceS } = this.#notes.get(name) as Note;
      return {
        name,
        protocol,
        universe,
        interface: on,
        state,
        since: iso(sinceS),
        sources,
        ...(state === 'gone' ? { gone: goneInWords(plan) } : {}),
        ...(ground === undefined ? {} : { ground: universes[ground] ?? 0 }),
        slots: this.#slotsOf(show, name),
        trouble: this.#deaf.get(name),
      };
    });
  }

  /** Worked out once per show, because viewers ask often. */
  #slotsOf(show: Show, name: string): readonly DeskSlot[] {
    if (this.#chart?.show !== show) {
      const { universes } = deskChart(show);
      this.#chart = { show, slots: new Map(universes.map(one => [one.name, one.slots])) };
    }
    return this.#chart.slots.get(name) ?? [];
  }
}
