import type { LightDelays } from '../../live/light-delays.js';
import type { Show } from '../../show/model/model.js';
import type { Status } from '../asking/status.js';
import type { SupervisorOptions } from '../beats/supervisor-options.js';
import { monotonicS } from '../machine/clock.js';
import type { PanelEvent } from '../panel/panel-runner.js';
import { StatusBook } from './book.js';
import { SenderWatch } from './sender-watch.js';
import type { TroubleKey } from './troubles.js';
import { statusInWords } from './words.js';

/** Between two lines while nothing happens: the rates in them change all the time. */
const RENEWED_EVERY_S = 10;
const GATHERED_MS = 100;

/** Keeps the book on what the supervisor reports, and tells the service manager in one line. */
export class StatusTeller {
  readonly #book: StatusBook;
  readonly #senders = new SenderWatch();
  #sendersTold = false;
  #toldS = 0;
  #pending: NodeJS.Timeout | undefined;

  /** @param tell given what makes the new line, for those who want it */
  constructor(
    show: Show,
    private readonly tell: (line: () => string) => void,
    pair?: ConstructorParameters<typeof StatusBook>[2],
    sent?: ConstructorParameters<typeof StatusBook>[3],
  ) {
    this.#book = new StatusBook(show, monotonicS(), pair, sent);
  }

  /** Of positions on their way to the light. */
  get delays(): LightDelays {
    return this.#book.delays;
  }

  /** Positions come, or none was ever to come. */
  get hearsTracking(): boolean {
    return this.#book.hearsTracking;
  }

  get status(): Status {
    return this.#book.status(monotonicS());
  }

  /** The same options, with this one listening. */
  listeningTo(options: SupervisorOptions): SupervisorOptions {
    return {
      ...options,
      onEvent: event => {
        if (this.#book.hear(event, monotonicS())) this.say();
        options.onEvent(event);
      },
      onCounters: counters => {
        const nowS = monotonicS();
        this.#book.count(counters, nowS);
        const what = this.#senders.look(counters.feeds, nowS);
        this.#book.trouble('senders', what, nowS);
        const isNews = (what !== undefined) !== this.#sendersTold;
        this.#sendersTold = what !== undefined;
        if (isNews) {
          const kind = 'tracker-senders';
          options.onEvent(what === undefined ? { kind } : { kind, what });
        }
        if (monotonicS() - this.#toldS > RENEWED_EVERY_S) this.say();
        options.onCounters(counters);
      },
    };
  }

  /** Another show takes over. */
  take(show: Show): void {
    this.#book.take(show, monotonicS());
  }

  /** Index of the one that is on. */
  cue(index: number): void {
    if (this.#book.cue.goTo(index, monotonicS())) this.say();
  }

  /** Another show goes on from where this one stands. */
  goOn(show: Show): void {
    this.#book.goOn(show);
    this.say();
  }

  panel(event: PanelEvent): void {
    this.#book.hearPanel(event, monotonicS());
    this.say();
  }

  /** See `StatusBook.trouble`. */
  trouble(key: TroubleKey, what: string | undefined): void {
    this.#book.trouble(key, what, monotonicS());
    this.say();
  }

  /** See `StatusBook.rehearse`. */
  rehearse(what: string | undefined, holdsS: number | undefined): boolean {
    const changed = this.#book.rehearse(what, holdsS, monotonicS());
    if (changed) this.say();
    return changed;
  }

  /** Soon: a hundred performers who are lost at once are one line. */
  say(): void {
    this.#pending ??= setTimeout(() => {
      this.#pending = undefined;
      this.#toldS = monotonicS();
      this.tell(() => statusInWords(this.status).join(' | '));
    }, GATHERED_MS).unref();
  }
}
