import { describeStage } from '../../live/describe-stage.js';
import { keepEvent } from '../../live/events.js';
import type { LiveEvent } from '../../live/schema.js';
import { sentOf } from '../../live/sent.js';
import { LIVE_VERSION } from '../../live/version.js';
import { type Show, SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import type { Status } from '../asking/status.js';
import type { Entry } from '../log/log-entry.js';

/** Somebody who looks. */
export interface Looker {
  /** Snapshots a second. */
  rateHz: number;
  /** Takes a line and its break; or leaves it out where the ones before are still to leave. */
  write(line: string): void;
}

/** Where the picture comes from. */
export interface LiveSource {
  readonly show: Show;
  readonly status: Status;
  /** Of all universes as last sent, 512 each. */
  readonly levels: Readonly<Uint8Array>;
  /** Has the engine make so many snapshots a second; 0: none. */
  look(rateHz: number): void;
}

const KEPT_S = 600;
const KEPT_MOST = 500;
const UNIVERSES_EVERY_S = 0.5;
/** An engine that has sent nothing for so long, and for so many periods, shows nothing any more. */
const STALE_S = 1;
const STALE_PERIODS = 2.5;
const LOOKS_EVERY_MS = 500;
/** A snapshot may come this much early and still counts as due. */
const EARLY_S = 0.02;

interface Looking {
  dueS: number;
  universesDueS: number;
  revision: number;
}

/**
 * The snapshot stream: one engine makes each snapshot once, and whoever looks gets the same text. While nobody looks
 * the engine makes none.
 */
export class LiveFeed {
  readonly #lookers = new Map<Looker, Looking>();
  #events: LiveEvent[] = [];
  #engine: string | undefined;
  #engineS = Number.NEGATIVE_INFINITY;
  #toldS = Number.NEGATIVE_INFINITY;
  #sequence = 0;
  #staleS = STALE_S;
  #show: Show | undefined;
  #revision = 0;
  #stage = '';
  #timer: NodeJS.Timeout | undefined;

  /** @param now monotonic seconds */
  constructor(
    private readonly source: () => LiveSource | undefined,
    private readonly now: () => number,
  ) {}

  get count(): number {
    return this.#lookers.size;
  }

  add(looker: Looker): void {
    const asked = { dueS: 0, universesDueS: 0, revision: -1 };
    this.#lookers.set(looker, asked);
    const source = this.source();
    if (source !== undefined) this.#tellStage(source, looker, asked);
    for (const event of this.#recent()) looker.write(`${JSON.stringify(event)}\n`);
    this.#changed();
    if (source !== undefined) this.#tell(source, this.now());
  }

  /** They want another rate from now on, beginning with a snapshot. */
  turn(looker: Looker, rateHz: number): void {
    const asked = this.#lookers.get(looker);
    if (asked === undefined) return;
    looker.rateHz = rateHz;
    asked.dueS = 0;
    this.#changed();
  }

  remove(looker: Looker): void {
    if (this.#lookers.delete(looker)) this.#changed();
  }

  /** What the log says of an event; what is only for those who look for faults is left out. */
  note({ level, text, data }: Entry, unixS: number): void {
    if (level === 'debug') return;
    const { kind } = data as { kind?: unknown };
    const what = typeof kind === 'string' ? kind : '';
    const event: LiveEvent = { kind: 'event', atS: unixS, level, text, what };
    keepEvent(this.#events, event);
    if (this.#events.length > KEPT_MOST) this.#events.shift();
    if (this.#lookers.size === 0) return;
    const line = `${JSON.stringify(event)}\n`;
    for (const looker of this.#lookers.keys()) looker.write(line);
  }

  /** A snapshot of the engine, JSON. */
  take(engine: string): void {
    if (this.#lookers.size === 0) return;
    const nowS = this.now();
    this.#engine = engine;
    this.#engineS = nowS;
    const source = this.source();
    if (source !== undefined) this.#tell(source, nowS);
  }

  close(): void {
    clearInterval(this.#timer);
    this.#lookers.clear();
  }

  #recent(): readonly LiveEvent[] {
    const sinceS = Date.now() / 1e3 - KEPT_S;
    this.#events = this.#events.filter(({ atS }) => atS >= sinceS);
    return this.#events;
  }

  #changed(): void {
    clearInterval(this.#timer);
    const rates = [...this.#lookers.keys()].map(({ rateHz }) => rateHz);
    const rateHz = Math.max(0, ...rates);
    this.source()?.look(rateHz);
    this.#staleS = Math.max(STALE_S, STALE_PERIODS / rateHz);
    if (rates.length === 0) return;
    this.#timer = setInterval(() => this.#tick(), LOOKS_EVERY_MS);
    this.#timer.unref();
  }

  /** Without an engine there are snapshots all the same: they say so. */
  #tick(): void {
    const source = this.source();
    const nowS = this.now();
    // Without an engine the supervisor fades, which takes seconds.
    const everyS = this.#isStale(nowS) ? LOOKS_EVERY_MS / 1e3 : this.#staleS;
    if (source === undefined || nowS - this.#toldS < everyS - EARLY_S) return;
    this.#tell(source, nowS);
  }

  #isStale(nowS: number): boolean {
    return nowS - this.#engineS > this.#staleS;
  }

  #tell(source: LiveSource, nowS: number): void {
    if (this.#isStale(nowS)) this.#engine = undefined;
    this.#toldS = nowS;
    this.#sequence += 1;
    let head: string | undefined;
    let universes: string | undefined;
    for (const [looker, asked] of this.#lookers) {
      if (nowS < asked.dueS - EARLY_S) continue;
      this.#tellStage(source, looker, asked);
      // Steady, whatever the ticks do; one that was away for long has no debts.
      const nextS = asked.dueS + 1 / looker.rateHz;
      asked.dueS = nextS > nowS ? nextS : nowS + 1 / looker.rateHz;
      head ??= this.#head(source);
      let line = head;
      if (nowS >= asked.universesDueS - EARLY_S) {
        asked.universesDueS = nowS + UNIVERSES_EVERY_S;
        universes ??= universesOf(source);
        line += `,"universes":${universes}`;
      }
      looker.write(`${line}}\n`);
    }
  }

  #head({ show, status, levels }: LiveSource): string {
    const atS = Date.now() / 1e3;
    const sent = JSON.stringify(sentOf(show, levels));
    return `{"kind":"snapshot","version":${LIVE_VERSION},"sequence":${this.#sequence},"revision":${this.#revision},"atS":${atS},"status":${JSON.stringify(status)},"engine":${this.#engine ?? 'null'},"sent":${sent}`;
  }

  #tellStage({ show }: LiveSource, looker: Looker, asked: Looking): void {
    if (show !== this.#show) {
      this.#show = show;
      this.#revision += 1;
      // Of the show before.
      this.#engine = undefined;
      this.#stage = `${JSON.stringify(describeStage(show, this.#revision))}\n`;
    }
    if (asked.revision === this.#revision) return;
    asked.revision = this.#revision;
    looker.write(this.#stage);
  }
}

function universesOf({ show, levels }: LiveSource): string {
  const all = show.universes.map((universe, index) => {
    const at = index * SLOTS_PER_UNIVERSE;
    const slots = Buffer.from(levels.buffer, levels.byteOffset + at, SLOTS_PER_UNIVERSE);
    return { universe, levels: slots.toString('base64') };
  });
  return JSON.stringify(all);
}
