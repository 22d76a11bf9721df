import { keepEvent } from '../../live/events.js';
import { LastPlaces } from '../../live/last-places.js';
import { keepMoment, type Moment } from '../../live/moments.js';
import type { LiveEvent, LiveLine, LiveSnapshot } from '../../live/schema.js';
import type { LiveStage } from '../../live/stage-schema.js';
import { type Answer, pressName } from './answers.js';
import { type Silence, silenceInWords, silenceOf } from './silence.js';
import { StopSender } from './stop-sender.js';

const KEY = 'lampwright-token';
const RATE_HZ = 5;
const AGAIN_MS = 1000;
/**
 * A browser has six connections to a host by HTTP/1.1, for all its tabs, and each stream keeps one: an act that has no
 * answer for so long may be waiting for one.
 */
const NO_ANSWER_MS = 300;
/** An enable is held by what the hand sees: a picture, or an answer, that is later than that releases it. */
const HOLD_WITHIN_MS = 1000;
/** Whoever presses does it by what they see: of an older picture only a stop is sent. */
const SEEN_WITHIN_MS = 3000;
const ACT_WITHIN_MS = 8000;
/** A picture that comes so long after the answer to a stop is of after it, however they are numbered: the daemon may be another. */
const AFTER_STOP_MS = 1000;
const DOOR_WITHIN_MS = 5000;
const WRONG_LINK = 'Wrong token in the link.';
const NEW_ONE =
  'Scan the new code, or enter the new token. On the show machine, lampwright panel prints both.';
const CHANGED = `The token was changed, so this device can only watch. ${NEW_ONE}`;
const CHANGED_AND_LOCKED = `The token was changed, so this device shows nothing until it has the new one. ${NEW_ONE}`;
const CHANNEL = 'lampwright-panel';
/** The panel says something each second. */
const SILENT_MS = 4000;
/** After so long without, it is asked whether it answers at all, and waited for. */
const ASKS_AFTER_MS = 1500;
const ASKS_FOR_MS = 2000;
const TRAIL_S = 4;
const EVENTS_MOST = 500;

/** What the door says: of the panel's own picture, too. */
interface DoorWords {
  readonly text?: string;
  readonly mayLook: boolean;
  readonly mayAct: boolean;
  readonly ageS?: number | null;
}

/** The page's end of the stream: the newest of everything, and whoever wants to know is told. */
export class Connection {
  stage: LiveStage | undefined;
  snapshot: LiveSnapshot | undefined;
  universes: LiveSnapshot['universes'];
  events: LiveEvent[] = [];
  moments: Moment[] = [];
  /** By performer, where they were in the last seconds. */
  readonly trails = new Map<
    string,
    { readonly atS: number; readonly x: number; readonly y: number }[]
  >();
  readonly #lastPlaces = new LastPlaces();
  /** When the newest snapshot came, by `performance.now()`. */
  cameMs = Number.NEGATIVE_INFINITY;
  isConnected = false;
  /** Why no new picture comes, where none does. */
  silence: Silence = 'unknown';
  /** It takes a token even to look. */
  isLocked = false;
  mayAct = false;
  /** What is wrong with this device's token: it no longer opens, or the one of a link did not. */
  #tokenFault: 'changed' | 'wrong link' | undefined;
  readonly #listeners = new Set<() => void>();
  #token: string | undefined;
  /** That of a link, until it was tried. */
  #offered: string | undefined;
  #abort: AbortController | undefined;
  /** When the panel got the snapshot that it tells first; undefined once it was told. */
  #toldMs: number | undefined;
  /** Stops of this page that have no answer yet. */
  readonly #stops = new StopSender(
    (request, signal) => this.#post(request, ACT_WITHIN_MS, signal),
    () => this.#tell(),
    pressedMs => this.#aheadS && this.#aheadS + pressedMs / 1e3,
  );
  /**
   * How far the daemon's clock is ahead of the page's, by the picture that was quickest here, seconds: a Stop says when
   * it was pressed, however long it takes.
   */
  #aheadS: number | undefined;
  /** Its last one that was answered: the picture that it came after, and when the answer came. */
  #stop: { readonly newest: number; readonly answeredMs: number } | undefined;
  readonly #others = new BroadcastChannel(CHANNEL);
  #isDrawn = true;
  /** Not `randomUUID`: that takes TLS. */
  readonly #page = [...crypto.getRandomValues(new Uint32Array(4))].join('-');

  constructor() {
    const [, given] = /(?:^#|&)token=([\w-]+)/.exec(location.hash) ?? [];
    if (given !== undefined) {
      // Not in the address any more: it would be in history, bookmarks and over shoulders.
      history.replaceState(null, '', location.pathname);
    }
    this.#token = kept();
    if (given !== this.#token) this.#offered = given;
    addEventListener('hashchange', () => location.reload());
    addEventListener('storage', ({ key, newValue }) => {
      if (key !== KEY) return;
      this.#token = newValue ?? undefined;
      this.#letGo();
    });
    document.addEventListener('visibilitychange', () => {
      if (!document.hidden) return;
      this.silence = 'background';
      this.#letGo();
    });
    this.#others.onmessage = () => this.#letGo();
  }

  get hasToken(): boolean {
    return this.#token !== undefined && this.#token !== '';
  }

  /** Why this device's token no longer opens, or the one of a link did not, and what that means for this page. */
  get tokenFault(): string | undefined {
    if (this.#tokenFault === undefined) return undefined;
    if (this.#tokenFault === 'wrong link') return WRONG_LINK;
    return this.isLocked ? CHANGED_AND_LOCKED : CHANGED;
  }

  /** This page has stopped something, and its picture is still of before that: by it, a resume would be refused. */
  get isStopping(): boolean {
    if (this.#stops.isAnyFresh) return true;
    if (this.#stop === undefined || this.snapshot === undefined) return false;
    const { newest, answeredMs } = this.#stop;
    return this.snapshot.sequence <= newest && this.cameMs < answeredMs + AFTER_STOP_MS;
  }

  /** Of a Stop that has no answer yet; undefined: there is none. */
  get lateStop(): string | undefined {
    return this.#stops.lateInWords;
  }

  listen(listener: () => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  start(): void {
    void this.#run();
  }

  /** Another token. @returns what is wrong with it; undefined: it opens */
  async unlock(token: string): Promise<string | undefined> {
    const door = await this.#door(token.trim());
    if (door === undefined) return silenceInWords('panel');
    if (typeof door === 'string') return door;
    if (!door.mayAct) return 'Wrong token.';
    this.#token = token.trim();
    keep(this.#token);
    this.#tokenFault = undefined;
    this.mayAct = true;
    this.isLocked = false;
    this.#letGo();
    this.#tell();
    return undefined;
  }

  /** What was wrong with a link has been read. */
  forgive(): void {
    this.#tokenFault = undefined;
    this.#tell();
  }

  forget(): void {
    this.#token = undefined;
    this.#tokenFault = undefined;
    keep('');
    this.mayAct = false;
    this.#letGo();
    this.#tell();
  }

  /** A Stop is sent until it is answered; all but what makes light safe is done only by whoever saw how it is now. */
  async act(...words: string[]): Promise<Answer> {
    if (words[0] === 'stop') return this.#stopAnyhow(words);
    if (words[0] === 'resume') this.#stops.giveUpFor(words[1] ?? '');
    const isRelease = words[0] === 'release';
    const { snapshot, cameMs } = this;
    const oldMs = performance.now() - cameMs;
    if (!isRelease && (snapshot === undefined || oldMs > SEEN_WITHIN_MS)) {
      const old =
        snapshot === undefined
          ? 'there is no picture'
          : `the picture is ${(oldMs / 1e3).toFixed(0)} s old`;
      const text = `Nothing was done: ${old}. Press again once a new one has come.`;
      return { ok: false, text, untilPicture: true };
    }
    const free = this.#freeLater();
    const request = isRelease ? { words } : { words, seen: snapshot?.sequence };
    const answer = await this.#post(request, ACT_WITHIN_MS);
    clearTimeout(free);
    const later = isRelease
      ? 'The output goes off by itself when its enable is not repeated.'
      : 'Check whether it was done. If it was not, it will not be done later: press again.';
    const text = `${pressName(words)}: the panel did not answer. ${later}`;
    return answer ?? { ok: false, text };
  }

  async #stopAnyhow(words: readonly string[]): Promise<Answer> {
    const free = this.#freeLater();
    const answer = await this.#stops.press(words);
    clearTimeout(free);
    if (answer.newest !== undefined) {
      this.#stop = { newest: answer.newest, answeredMs: performance.now() };
    }
    return answer;
  }

  /** An act that has no answer by then may be waiting for a connection: each stream keeps one. */
  #freeLater(): ReturnType<typeof setTimeout> {
    return setTimeout(() => {
      this.#letGo();
      this.#others.postMessage('let go');
    }, NO_ANSWER_MS);
  }

  /**
   * Holds an enable for as long as the show lets it last (`enableTimeout`). What would come late is not sent any more,
   * and the panel and the daemon drop what comes late all the same.
   */
  async hold(hazard: string): Promise<Answer> {
    const { snapshot, cameMs } = this;
    const oldMs = performance.now() - cameMs;
    if (snapshot === undefined || oldMs > HOLD_WITHIN_MS) {
      const text = `The picture is ${(oldMs / 1e3).toFixed(1)} s old, so ${hazard} is no longer held.`;
      return { ok: false, text, untilPicture: true };
    }
    const request = { words: ['hold', hazard], seen: snapshot.sequence };
    const text = `No answer within a second, so ${hazard} is no longer held. Press again once the connection is better.`;
    return (await this.#post(request, HOLD_WITHIN_MS)) ?? { ok: false, text, untilPicture: true };
  }

  /** @returns undefined where no answer came within that, or before it was broken off */
  async #post(request: object, withinMs: number, until?: AbortSignal): Promise<Answer | undefined> {
    const token = this.#token;
    const abort = new AbortController();
    const late = setTimeout(() => abort.abort(), withinMs);
    until?.addEventListener('abort', () => abort.abort());
    try {
      const response = await fetch('/api/act', {
        method: 'POST',
        headers: { 'content-type': 'application/json', ...this.#authorization() },
        body: JSON.stringify({ ...request, page: this.#page }),
        signal: abort.signal,
      });
      const said = (await response.json()) as Partial<Answer> & { readonly outcome?: string };
      const { ok = false, text = 'No answer.', outcome, newest } = said;
      if (response.status === 401 || response.status === 429) {
        this.mayAct = false;
        this.#drop(token);
        this.#tell();
        const why =
          this.#tokenFault === 'changed' ? 'the token of this device no longer counts' : text;
        return { ok, text: `Nothing was done: ${why}.` };
      }
      const isEarly = outcome === 'overtaken';
      const isUnreached = outcome === 'no daemon' || outcome === 'failed' || response.status >= 500;
      return {
        ...{ ok, text },
        ...(isEarly && { isEarly }),
        ...(isUnreached && { isUnreached }),
        ...(newest !== undefined && { newest }),
      };
    } catch {
      return undefined;
    } finally {
      clearTimeout(late);
    }
  }

  /** Ends the stream; it begins again a second later, or when the page is seen again. */
  #letGo(): void {
    this.#abort?.abort();
  }

  /** One that was refused is not sent again: each time counts as a guess. Another tab may have kept a newer one. */
  #drop(token: string | undefined): void {
    if (token === undefined || this.#token !== token) return;
    const other = kept();
    if (other === token) this.#tokenFault = 'changed';
    this.#token = other === token ? undefined : other;
    if (other === token) keep('');
  }

  async #run(): Promise<void> {
    for (;;) {
      while (document.hidden) {
        await new Promise(resolve =>
          document.addEventListener('visibilitychange', resolve, { once: true }),
        );
      }
      const offered = this.#offered;
      const token = this.#token;
      const door = await this.#door(offered ?? token);
      if (typeof door !== 'object') this.#lost(silenceOf(this.silence, door));
      else if (offered !== undefined) {
        this.#offered = undefined;
        if (door.mayAct) {
          this.#token = offered;
          keep(offered);
        } else this.#tokenFault = 'wrong link';
        continue;
      } else {
        this.mayAct = door.mayAct;
        if (door.mayAct && this.#tokenFault === 'changed') this.#tokenFault = undefined;
        if (!door.mayAct) this.#drop(token);
        this.isLocked = !door.mayLook;
        this.silence = silenceOf(this.silence, door);
        this.#tell();
        if (door.mayLook) await this.#follow(door.ageS ?? 0);
      }
      await new Promise(resolve => setTimeout(resolve, AGAIN_MS));
    }
  }

  /** @returns what it says; why it refuses; undefined: it does not answer */
  async #door(
    token: string | undefined,
    withinMs = DOOR_WITHIN_MS,
  ): Promise<DoorWords | string | undefined> {
    try {
      const headers = token ? { authorization: `Bearer ${token}` } : {};
      const response = await fetch('/api/door', { headers, signal: AbortSignal.timeout(withinMs) });
      const said = (await response.json()) as DoorWords;
      return response.ok ? said : (said.text ?? 'The panel refused.');
    } catch {
      return undefined;
    }
  }

  /** Nothing comes: is it the panel, or the daemon behind it? */
  async #askWhy(signal: AbortSignal): Promise<void> {
    const cameMs = this.cameMs;
    const door = await this.#door(this.#token, ASKS_FOR_MS);
    if (this.cameMs !== cameMs || (signal.aborted && door !== undefined)) return;
    this.silence = silenceOf(this.silence === 'panel' ? 'unknown' : this.silence, door);
    this.#tell();
  }

  /** @param ageS how old the picture is that the panel has */
  async #follow(ageS: number): Promise<void> {
    const abort = new AbortController();
    this.#abort = abort;
    let silent = 0;
    let asks = 0;
    const hear = () => {
      clearTimeout(silent);
      clearTimeout(asks);
      silent = setTimeout(() => abort.abort(), SILENT_MS) as unknown as number;
      asks = setTimeout(() => this.#askWhy(abort.signal), ASKS_AFTER_MS) as unknown as number;
    };
    // What it tells first may be long past: the daemon has said nothing since.
    this.#toldMs = performance.now() - 1e3 * ageS;
    hear();
    try {
      await this.#fetchMoments(abort.signal);
      const response = await fetch(`/api/stream?rate=${RATE_HZ}&page=${this.#page}`, {
        headers: this.#authorization(),
        signal: abort.signal,
      });
      if (!response.ok || response.body === null) {
        const { text } = (await response.json()) as Partial<Answer>;
        this.#lost({ refused: text ?? 'The panel refused.' });
        return;
      }
      this.isConnected = true;
      this.#aheadS = undefined;
      this.#stops.retry();
      this.events = [];
      let text = '';
      const reader = response.body.pipeThrough(new TextDecoderStream()).getReader();
      for (;;) {
        const { done, value } = await reader.read();
        if (done) break;
        hear();
        const parts = (text + value).split('\n\n');
        text = parts.pop() ?? '';
        for (const part of parts) this.#take(part);
      }
      this.#lost(this.silence);
    } catch {
      this.#lost(this.silence);
    } finally {
      clearTimeout(silent);
      clearTimeout(asks);
    }
  }

  async #fetchMoments(signal: AbortSignal): Promise<void> {
    const response = await fetch('/api/history', { headers: this.#authorization(), signal });
    if (response.ok) this.moments = ((await response.json()) as { moments: Moment[] }).moments;
  }

  #authorization(): Record<string, string> {
    return this.#token ? { authorization: `Bearer ${this.#token}` } : {};
  }

  #lost(why: Silence): void {
    this.isConnected = false;
    this.silence = why;
    this.#tell();
  }

  #take(part: string): void {
    const data = part.split('\n').find(line => line.startsWith('data: '));
    if (data === undefined) return;
    const line = JSON.parse(data.slice('data: '.length)) as LiveLine;
    if (line.kind === 'stage') {
      if (this.stage?.show !== line.show) {
        this.trails.clear();
        this.#lastPlaces.clear();
        // At the first one there is what was fetched, and nothing of another show.
        if (this.stage !== undefined) this.moments = [];
      }
      this.stage = line;
      this.universes = undefined;
    } else if (line.kind === 'event') {
      keepEvent(this.events, line);
      if (this.events.length > EVENTS_MOST) this.events.shift();
    } else {
      this.snapshot = this.#lastPlaces.fill(line);
      this.cameMs = this.#toldMs ?? performance.now();
      if (this.#toldMs === undefined) this.silence = 'unknown';
      this.#aheadS = Math.max(line.atS - this.cameMs / 1e3, this.#aheadS ?? -Infinity);
      this.#toldMs = undefined;
      if (line.universes !== undefined) this.universes = line.universes;
      this.#note(line);
      this.#stops.see(line, this.cameMs);
    }
    this.#tell();
  }

  #note(snapshot: LiveSnapshot): void {
    const { atS, engine } = snapshot;
    keepMoment(this.moments, snapshot);
    for (const { name, place } of engine?.performers ?? []) {
      const trail = this.trails.get(name) ?? [];
      if (place !== undefined) trail.push({ atS, x: place.x, y: place.y });
      while ((trail[0]?.atS ?? atS) < atS - TRAIL_S) trail.shift();
      this.trails.set(name, trail);
    }
  }

  /** At most once a frame. */
  #tell(): void {
    if (!this.#isDrawn) return;
    this.#isDrawn = false;
    const draw = () => {
      this.#isDrawn = true;
      for (const listener of this.#listeners) listener();
    };
    // A page in the background draws no frames.
    if (document.hidden) setTimeout(draw, 200);
    else requestAnimationFrame(draw);
  }
}

function kept(): string | undefined {
  try {
    return localStorage.getItem(KEY) ?? undefined;
  } catch {
    return undefined;
  }
}

function keep(token: string): void {
  try {
    if (token === '') localStorage.removeItem(KEY);
    else localStorage.setItem(KEY, token);
  } catch {
    // A browser that keeps nothing asks again.
  }
}
