import { whoAsked } from '../../engine/events/event-words.js';
import type { Labels } from '../../show/model/labels.js';
import type { Status } from '../asking/status.js';
import type { EngineNews } from '../engine/engine-link.js';
import type { StoreEvent } from '../memory/store.js';

type StopNews = Extract<EngineNews, { kind: 'stopped' | 'resumed' }>;
type Restored = Extract<StoreEvent, { kind: 'state-restored' }>;

/** Of one who is stopped: since when, monotonic seconds, and who asked; undefined: nobody knows. */
interface Stop {
  readonly sinceS: number;
  readonly by: string | undefined;
}

interface Stops {
  readonly performers: ReadonlyMap<string, Stop>;
  /** The stop of everybody holds; undefined: it does not. */
  readonly everybody: Pick<Stop, 'by'> | undefined;
}

const NONE: Stops = { performers: new Map(), everybody: undefined };

/** Who is stopped, since when and by whom. A new engine that is told of the stops before it has stopped nobody. */
export class StopNote {
  #now = NONE;
  /** Of the engine before. */
  #before = NONE;
  #toldByMain: ReadonlySet<string> = new Set();

  get everybody(): boolean {
    return this.#now.everybody !== undefined;
  }

  status({ performer }: Labels): Status['stops'] {
    const performers = [...this.#now.performers.keys()];
    const by = this.#now.everybody?.by;
    return {
      everybody: this.everybody,
      ...(by === undefined ? {} : { by }),
      performers,
      performerLabels: performers.map(performer),
    };
  }

  /** @returns undefined: they are not stopped */
  of(performer: string): Stop | undefined {
    return this.#now.performers.get(performer);
  }

  /** They are stopped by an order to this machine, and not by what the main machine of two says. */
  isOwn(performer: string): boolean {
    return this.#now.performers.has(performer) && !this.#toldByMain.has(performer);
  }

  /** As it was before the daemon was started again. @param atS of a Unix time, monotonic seconds */
  restore(
    { stoppedSince = {}, stoppedBy = {}, everybodyStoppedBy: by }: Restored,
    atS: (unixS: number) => number,
  ): void {
    const performers = Object.entries(stoppedSince).map(([name, unixS]): [string, Stop] => [
      name,
      { sinceS: atS(unixS), by: whoAsked({ by: stoppedBy[name] }) },
    ]);
    this.#before = { performers: new Map(performers), everybody: { by: whoAsked({ by }) } };
  }

  /** It tells anew who is stopped. */
  engineBegins(): void {
    // One that ends before it has told of the stops leaves those that were known.
    if (this.#now.performers.size > 0 || this.everybody) this.#before = this.#now;
    this.#now = NONE;
  }

  hear(event: StopNews, nowS: number): void {
    const { stillStopped, stopOfEverybody, cause } = event;
    this.#toldByMain = new Set(event.toldByMain?.performers);
    const before = cause === 'restored' ? this.#before : NONE;
    const told: Stop = { sinceS: nowS, by: whoAsked(event) };
    const stopOf = (name: string): Stop => {
      const by = whoAsked({ by: event.byOf?.[name] }) ?? told.by;
      const known = this.#now.performers.get(name) ?? before.performers.get(name);
      const was = known ?? { ...told, by };
      // A stop that the main machine of two had told of is somebody else's from now on.
      const isTheirs = told.by !== undefined && event.performers.includes(name);
      return isTheirs ? { ...was, by: told.by } : was;
    };
    const ofAll = this.#now.everybody ?? before.everybody ?? told;
    this.#now = {
      performers: new Map(stillStopped.map(name => [name, stopOf(name)])),
      everybody: stopOfEverybody ? { by: ofAll.by } : undefined,
    };
  }
}
