import { keepEvent, timesInWords } from '../live/events.js';
import { LastPlaces } from '../live/last-places.js';
import type { LiveEvent, LiveLine, LiveSnapshot } from '../live/schema.js';
import type { LiveStage } from '../live/stage-schema.js';
import { EVENT_LEVELS } from '../live/version.js';
import type { Paint } from './line.js';
import { liveView } from './live-view.js';

const NEWS_KEPT = 50;
/** A picture older than this is said to be old, seconds: the daemon makes ten a second. */
const OLD_S = 1.5;
/** A screen of its own, no cursor, and long lines cut instead of wrapped. */
const BEGIN = '\x1b[?1049h\x1b[?25l\x1b[?7l';
const END = '\x1b[?7h\x1b[?25h\x1b[?1049l';

export interface ScreenStream {
  readonly columns?: number;
  readonly rows?: number;
  write(text: string): unknown;
}

/** The live view on a terminal: what has come of the stream, drawn as often as it changes. */
export class Screen {
  #news: (string | LiveEvent)[] = [];
  readonly #events: LiveEvent[] = [];
  #stage: LiveStage | undefined;
  #snapshot: LiveSnapshot | undefined;
  readonly #lastPlaces = new LastPlaces();
  #cameS = Number.NEGATIVE_INFINITY;
  /** Why nothing comes. */
  fault: string | undefined;

  /** @param nowS monotonic seconds */
  constructor(
    private readonly stream: ScreenStream,
    private readonly style: Paint,
    /** The last line: what the keys do. */
    public hint: string,
    private readonly nowS: () => number,
  ) {}

  begin(): void {
    this.stream.write(BEGIN);
  }

  end(): void {
    this.stream.write(END);
    for (const line of this.#told().slice(-5)) this.stream.write(`${line}\n`);
  }

  take(line: LiveLine): void {
    if (line.kind === 'stage') {
      if (this.#stage?.show !== line.show) this.#lastPlaces.clear();
      this.#stage = line;
    } else if (line.kind === 'event') {
      const was = keepEvent(this.#events, line);
      this.#news = this.#news.filter(one => one !== was);
      this.#add(this.#events.at(-1) ?? line);
    } else {
      this.#snapshot = this.#lastPlaces.fill(line);
      this.#cameS = this.nowS();
      this.fault = undefined;
      this.draw();
    }
  }

  say(text: string): void {
    this.#add(text);
  }

  #add(one: string | LiveEvent): void {
    this.#news.push(one);
    if (this.#news.length > NEWS_KEPT) this.#news.shift();
    if (this.#events.length > NEWS_KEPT) this.#events.shift();
  }

  #told(): string[] {
    return this.#news.map(one => (typeof one === 'string' ? one : newsOf(one)));
  }

  /** All that it was told is of another daemon's life. */
  forgetNews(): void {
    this.#news = [];
    this.#events.length = 0;
  }

  draw(): void {
    const { columns = 0, rows = 0 } = this.stream;
    const lines = liveView({
      stage: this.#stage,
      snapshot: this.#snapshot,
      news: this.#told(),
      notice: this.#notice(),
      hint: this.hint,
      columns,
      rows,
      style: this.style,
    });
    // Home, each line cleared to its end, and all below: no flicker, nothing left over.
    this.stream.write(`\x1b[H${lines.map(line => `${line}\x1b[K\n`).join('')}\x1b[J`);
  }

  #notice(): string | undefined {
    const ageS = this.nowS() - this.#cameS;
    const why = this.fault === undefined ? '' : ` ${this.fault}`;
    if (this.#snapshot === undefined) return this.fault;
    if (ageS <= OLD_S) return undefined;
    return `THIS PICTURE IS ${Math.floor(ageS)} s OLD.${why}`;
  }
}

/** "20:14:03  Ines: the light fades ...". */
export function newsOf(event: LiveEvent): string {
  const { atS, level, text } = event;
  const isLoud = EVENT_LEVELS.indexOf(level) >= EVENT_LEVELS.indexOf('warn');
  const times = timesInWords(event, clockOf);
  return `${clockOf(atS)}${isLoud ? ' !' : '  '} ${text}${times === undefined ? '' : ` (${times})`}`;
}

const clockOf = (unixS: number) => new Date(unixS * 1e3).toTimeString().slice(0, 8);
