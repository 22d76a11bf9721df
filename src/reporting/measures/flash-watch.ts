import type { EngineView } from '../../engine/view.js';
import {
  beginFlashBeat,
  createFlashLimit,
  type FlashLimit,
  limitFlash,
} from '../../safety/flash.js';
import { HoldTimes } from '../../safety/hold-times.js';

/** Light that the flash limit would hold back. */
export interface LateFlashes {
  readonly times: number;
  /** The longest delay from when light should have risen until it did, seconds. A fade that begins late ends as late. */
  readonly longestS: number;
  /** Labels of the fixtures. */
  readonly fixtures: readonly string[];
}

/** Runs the flash limit of the supervisor on the intensities of a rehearsal. */
export class FlashWatch {
  readonly #limit: FlashLimit;
  readonly #fixtures = new Set<string>();
  readonly #holds = new HoldTimes();
  #times = 0;
  #longestS = 0;

  /** @param perSecond `limits.flashesPerSecond` of the show */
  constructor(view: EngineView, perSecond: number) {
    this.#limit = createFlashLimit(view.fixtures.length, i => levelOf(view, i), { perSecond });
  }

  ticked(view: EngineView, nowS: number): void {
    beginFlashBeat(this.#limit, nowS);
    const held: string[] = [];
    view.fixtures.forEach(({ plan }, i) => {
      limitFlash(this.#limit, i, levelOf(view, i));
      if (this.#limit.heldS[i] === nowS) held.push(plan.label);
    });
    const before = this.#holds.isNone;
    for (const [name, forS] of this.#holds.beat(held, nowS)) {
      this.#fixtures.add(name);
      this.#longestS = Math.max(this.#longestS, forS);
    }
    if (!before && this.#holds.isNone) this.#times += 1;
  }

  late(): LateFlashes {
    return { times: this.#times, longestS: this.#longestS, fixtures: [...this.#fixtures] };
  }
}

/** 0 = dark, 1 = full. */
function levelOf({ fixtures }: EngineView, index: number): number {
  const one = fixtures[index];
  return one === undefined || one.intensity < 0 ? 0 : (one.values[one.intensity] as number) / 100;
}
