import type { LiveSnapshot } from '../../live/schema.js';
import { type Answer, pressName } from './answers.js';

/** A Stop is sent again so often. */
const AGAIN_MS = 1000;
/** So many of its requests wait for an answer at once: a browser has six connections to a host, and the stream keeps one. */
const MOST_AT_ONCE = 3;
/** Whoever pressed so long ago has seen to it in another way. */
const GIVES_UP_MS = 30_000;
/** From then on it is said that it is not done yet. */
const LATE_MS = 1000;
/** A picture that comes so long after a press was made after it. */
const LATER_MS = 1000;

/** Sends one request; undefined: no answer came. */
export type SendStop = (
  request: { readonly words: readonly string[]; readonly pressedAtS: number | undefined },
  signal: AbortSignal,
) => Promise<Answer | undefined>;

interface Sending {
  readonly words: readonly string[];
  pressedMs: number;
  /** By the wall clock, which goes on while a phone sleeps. */
  pressedUnixMs: number;
  /** By the daemon's clock, Unix seconds. */
  pressedAtS: number | undefined;
  readonly tries: AbortController[];
  readonly answer: Promise<Answer>;
  end(answer: Answer): void;
}

/**
 * A Stop is sent, at once and then each second, until it is answered or seen in a picture. It is the same order each
 * time. One that is too old, or older than a Resume, is given up: it must not undo what somebody has done since.
 */
export class StopSender {
  readonly #all = new Map<string, Sending>();

  constructor(
    private readonly send: SendStop,
    private readonly onChange: () => void,
    /** What the daemon's clock said then, Unix seconds; undefined: not known. @param pressedMs by `performance.now()` */
    private readonly daemonS: (pressedMs: number) => number | undefined = () => undefined,
  ) {}

  /** A press while it is still being sent makes it new. */
  press(words: readonly string[]): Promise<Answer> {
    const key = words.join(' ');
    const before = this.#all.get(key);
    if (before !== undefined) {
      before.pressedMs = performance.now();
      before.pressedUnixMs = Date.now();
      before.pressedAtS = this.daemonS(before.pressedMs);
      this.#try(before);
      return before.answer;
    }
    let resolve: (answer: Answer) => void = () => undefined;
    const answer = new Promise<Answer>(done => {
      resolve = done;
    });
    const again = setInterval(() => this.#again(sending), AGAIN_MS);
    const sending: Sending = {
      words,
      pressedMs: performance.now(),
      pressedUnixMs: Date.now(),
      pressedAtS: this.daemonS(performance.now()),
      tries: [],
      answer,
      end: said => {
        if (!this.#all.delete(key)) return;
        clearInterval(again);
        for (const one of sending.tries) one.abort();
        resolve(said);
        this.onChange();
      },
    };
    this.#all.set(key, sending);
    this.#try(sending);
    return answer;
  }

  /** Nothing that could answer was there before; now something is. */
  retry(): void {
    for (const one of this.#all.values()) this.#try(one);
  }

  /** @param cameMs when it came, by `performance.now()` */
  see(snapshot: LiveSnapshot, cameMs: number): void {
    for (const one of this.#all.values()) {
      const isLater = cameMs > one.pressedMs + LATER_MS;
      const who = isLater ? stoppedIn(snapshot, one.words[1] ?? '') : undefined;
      if (who !== undefined) one.end({ ok: true, text: `${who} stopped.` });
    }
  }

  /** Somebody wants the light back, at this page. @param whom a performer, or `everybody` */
  giveUpFor(whom: string): void {
    for (const one of this.#all.values()) {
      if (whom !== 'everybody' && one.words[1] !== whom) continue;
      const text = `${pressName(one.words)} is no longer sent, as you pressed Resume.`;
      one.end({ ok: false, text });
    }
  }

  get isAnyFresh(): boolean {
    return [...this.#all.values()].some(one => forMs(one) <= LATE_MS);
  }

  /** What is to be said of the Stop that has no answer yet; undefined: none is late. */
  get lateInWords(): string | undefined {
    const late = [...this.#all.values()].find(one => forMs(one) > LATE_MS);
    if (late === undefined) return undefined;
    return `${pressName(late.words)} is being sent: not done yet. Act at the desk.`;
  }

  #again(one: Sending): void {
    if (forMs(one) <= GIVES_UP_MS) {
      this.#try(one);
      this.onChange();
      return;
    }
    const name = pressName(one.words);
    const text = `${name} is no longer sent: there was no answer for 30 s, and nobody knows whether it was done. Act at the desk. Once a new picture comes, look at who is stopped, and press again.`;
    one.end({ ok: false, text, untilPicture: true });
  }

  #try(one: Sending): void {
    if (one.tries.length >= MOST_AT_ONCE) one.tries[0]?.abort();
    const abort = new AbortController();
    one.tries.push(abort);
    const request = { words: one.words, pressedAtS: one.pressedAtS };
    void this.send(request, abort.signal).then(answer => {
      const at = one.tries.indexOf(abort);
      if (at >= 0) one.tries.splice(at, 1);
      if (answer !== undefined && answer.isUnreached !== true) one.end(answer);
    });
  }
}

function forMs({ pressedMs, pressedUnixMs }: Sending): number {
  return Math.max(0, performance.now() - pressedMs, Date.now() - pressedUnixMs);
}

/** "Everybody", or the performer's label; undefined where they are not stopped. */
function stoppedIn({ status }: LiveSnapshot, whom: string): string | undefined {
  if (whom === 'everybody') return status.stops.everybody ? 'Everybody' : undefined;
  return status.performers.find(({ name, state }) => name === whom && state === 'stopped')?.label;
}
