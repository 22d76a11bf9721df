import type { DeskEvent, DeskSource } from './events.js';
import type { HeardUniverse } from './heard-universe.js';

/** How often to check for news, seconds: a source that comes and goes with each packet must not flood the log. */
const LOOK_S = 1;
/** For one universe, this many reports at that pace; then one in this many seconds. */
const MOST_IN_A_ROW = 8;
const SLOW_S = 30;
/** A desk that is switched on with us is not called silent, seconds. */
const SILENT_AFTER_S = 5;

interface Told {
  isHeard: boolean;
  goneS: number;
  silent: boolean;
  /** Who was there, as text, and the first of those who lead. */
  sources: string;
  last: DeskSource | undefined;
  terminated: number;
  dueS: number;
  left: number;
}

/** Sources that have come and gone since the last report. */
export class DeskNews {
  readonly #told: readonly Told[];
  #dueS = Number.NEGATIVE_INFINITY;
  #startS: number | undefined;

  constructor(
    private readonly universes: readonly HeardUniverse[],
    private readonly onEvent: (event: DeskEvent) => void,
    /** What was reported of universes that go on is not reported again. */
    before?: DeskNews,
  ) {
    const known = new Map<HeardUniverse, Told>();
    before?.universes.forEach((one, i) => {
      known.set(one, before.#told[i] as Told);
    });
    this.#told = universes.map(
      one =>
        known.get(one) ?? {
          isHeard: false,
          goneS: Number.NaN,
          silent: false,
          sources: '',
          last: undefined,
          terminated: 0,
          dueS: Number.NEGATIVE_INFINITY,
          left: MOST_IN_A_ROW,
        },
    );
  }

  /** Once a beat. */
  look(nowS: number): void {
    this.#startS ??= nowS;
    if (nowS < this.#dueS) return;
    this.#dueS = nowS + LOOK_S;
    const isLate = nowS - this.#startS >= SILENT_AFTER_S;
    this.universes.forEach((universe, i) => {
      const told = this.#told[i] as Told;
      const event = newsOf(universe, told, nowS, isLate);
      if (event === undefined) {
        if (nowS - told.dueS > SLOW_S) told.left = MOST_IN_A_ROW;
        return;
      }
      if (nowS < told.dueS) return;
      note(universe, told, nowS);
      told.left = Math.max(0, told.left - 1);
      told.dueS = nowS + (told.left === 0 ? SLOW_S : 0);
      this.onEvent(event);
    });
  }
}

function newsOf(
  universe: HeardUniverse,
  told: Told,
  nowS: number,
  isLate: boolean,
): DeskEvent | undefined {
  const { plan, isHeard, everHeard, counters } = universe;
  const { name: input, gone, goneApart, leavesSafe } = plan;
  if (!isHeard) {
    if (told.isHeard) {
      const ended = counters.terminated > told.terminated;
      return { kind: 'desk-gone', input, last: told.last, ended, gone, goneApart, leavesSafe };
    }
    return isLate && !everHeard && !told.silent ? { kind: 'desk-silent', input } : undefined;
  }
  const { sources } = universe;
  if (!told.isHeard) {
    const afterS = Number.isNaN(told.goneS) ? undefined : nowS - told.goneS;
    return { kind: 'desk-heard', input, sources, afterS };
  }
  if (textOf(sources) !== told.sources) return { kind: 'desk-sources', input, sources };
  return undefined;
}

function note({ isHeard, sources, counters }: HeardUniverse, told: Told, nowS: number): void {
  if (told.isHeard && !isHeard) told.goneS = nowS;
  if (!isHeard) told.silent = true;
  told.isHeard = isHeard;
  told.terminated = counters.terminated;
  told.sources = textOf(sources);
  if (isHeard) told.last = sources.find(({ leads }) => leads);
}

function textOf(sources: readonly DeskSource[]): string {
  return sources
    .map(({ name, address, priority, leads }) => `${name}\0${address}\0${priority}\0${leads}`)
    .sort()
    .join('\n');
}
