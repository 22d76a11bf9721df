import type { DeskLevels } from '../../engine/values/inputs.js';

/** Frames of an engine are on their way for a while: one that comes this much later was made with what it had been told, seconds. */
const ON_ITS_WAY_S = 0.1;

interface Known {
  readonly levels: Uint8Array;
  from: string;
}

/**
 * The desk levels that the engine has surely taken in, by name of the input. The next engine is told these first: a
 * fader that was up then and is down now was released while there was no engine.
 */
export class EngineKnows {
  readonly #told = new Map<string, Known>();
  /** Told at this time, but no frame has yet shown that it was taken in. */
  readonly #waiting = new Map<string, Known>();
  #waitingS = Number.NaN;
  readonly #known = new Map<string, Known>();

  tell(name: string, { levels, from = '' }: Pick<DeskLevels, 'levels' | 'from'>, nowS: number) {
    note(this.#told, name, levels, from);
    if (Number.isNaN(this.#waitingS)) this.#wait(nowS);
    else if (nowS === this.#waitingS) note(this.#waiting, name, levels, from);
  }

  /** @param frameS when the last frame came that was on time */
  look(frameS: number, nowS: number): void {
    // Written so that NaN, nothing waits, is false.
    if (!(frameS > this.#waitingS + ON_ITS_WAY_S)) return;
    for (const [name, { levels, from }] of this.#waiting) note(this.#known, name, levels, from);
    this.#wait(nowS);
  }

  /** What the previous engine has taken in; whatever else it was told has died with it. */
  begin(): void {
    this.#told.clear();
    this.#waiting.clear();
    this.#waitingS = Number.NaN;
  }

  of(name: string): Readonly<Known> | undefined {
    return this.#known.get(name);
  }

  #wait(nowS: number): void {
    this.#waitingS = nowS;
    for (const [name, { levels, from }] of this.#told) note(this.#waiting, name, levels, from);
  }
}

function note(all: Map<string, Known>, name: string, levels: Uint8Array, from: string): void {
  const known = all.get(name);
  if (known === undefined) all.set(name, { levels: levels.slice(), from });
  else {
    known.levels.set(levels);
    known.from = from;
  }
}
