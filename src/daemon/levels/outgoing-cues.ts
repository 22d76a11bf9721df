import type { ShowLevels } from './show-levels.js';

/** A cue of a show, and where its light is. */
export type Look = Pick<ShowLevels, 'show' | 'cue' | 'plan'>;

type OutgoingLook = Look & { readonly untilS: number };

/**
 * The cues whose light may still show beside that of the present cue, until the crossfade to it is over: a lost
 * performer may drive a lamp in only one of them.
 */
export class OutgoingCues {
  #on: OutgoingLook | undefined;
  #looks: readonly OutgoingLook[] = [];

  /** Called in each beat, before its levels are made, with the cue that is on, or coming on. Light that is not live belongs to no cue. */
  follow({ show, cue, plan, fallback }: Look & Pick<ShowLevels, 'fallback'>, nowS: number): void {
    if (fallback.phase !== 'live') {
      this.#on = undefined;
      this.#looks = [];
    }
    if (this.#on?.show !== show) {
      // A show that takes over goes on with the crossfade between its cues of the same names.
      const goOn = (look: OutgoingLook) => lookIn({ show, plan }, look);
      this.#looks = this.#looks.flatMap(goOn);
      this.#on = this.#on && goOn(this.#on)[0];
    }
    if (this.#on?.cue === cue) return;
    if (this.#on !== undefined) this.#leave(this.#on, cue, nowS);
    this.#on = { show, cue, plan, untilS: Number.POSITIVE_INFINITY };
  }

  /** Those of which some may show. */
  at(nowS: number): readonly Look[] {
    return this.#looks.filter(({ untilS }) => nowS < untilS);
  }

  /** How long the crossfade from them still takes, seconds; 0: none is under way. */
  leftS(nowS: number): number {
    return Math.max(0, ...this.#looks.map(({ untilS }) => untilS - nowS));
  }

  /** What is left of earlier cues goes with it. */
  #leave(left: OutgoingLook, cue: number, nowS: number): void {
    const untilS = nowS + (left.show.cues[cue]?.fadeS ?? 0);
    const still = this.#looks.filter(look => nowS < look.untilS);
    const others = [...still, left].filter(look => look.cue !== cue);
    this.#looks = others.map(look => ({ ...look, untilS }));
  }
}

/** The cue of the same name in another show with the same patch, if it has one. */
function lookIn({ show, plan }: Pick<Look, 'show' | 'plan'>, look: OutgoingLook): OutgoingLook[] {
  const name = look.show.cues[look.cue]?.name;
  const cue = show.cues.findIndex(one => one.name === name);
  return cue < 0 ? [] : [{ ...look, show, cue, plan }];
}
