/** Where somebody stands with what is known of them. */
export const STANDING = {
  /** Lost, stopped, or not heard yet: they may be anywhere. */
  lost: 0,
  known: 1,
  /** Off stage, and known to be: in no zone, far from everything. */
  away: 2,
} as const;

/** What is known of the performers, in the order of the show; metres, metres a second. */
export interface People {
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly z: Float64Array;
  readonly vx: Float64Array;
  readonly vy: Float64Array;
  /** One of STANDING. */
  readonly standing: Uint8Array;
  /** Of who is lost: how long their light takes from live to safe, seconds. */
  readonly fadeS: Float64Array;
  /** 1 where they have come back from a loss so long that nothing shows of them any more. */
  readonly afresh: Uint8Array;
  /** Everybody is known, and nobody has just come back: most of the time, and then there is no need to ask for each. */
  areAllThere: boolean;
}

export function createPeople(count: number): People {
  return {
    x: new Float64Array(count),
    y: new Float64Array(count),
    z: new Float64Array(count),
    vx: new Float64Array(count),
    vy: new Float64Array(count),
    standing: new Uint8Array(count),
    fadeS: new Float64Array(count),
    afresh: new Uint8Array(count),
    areAllThere: false,
  };
}

/** For each signal (or condition): whether anybody on whom it rests is lost, and what that means for its light. */
export interface Doubts {
  /** 1 where somebody on whom it rests is lost, whether that makes a difference or not. */
  readonly lost: Uint8Array;
  /** The shortest fade of those, seconds; infinite for nobody. */
  readonly fadeS: Float64Array;
  /** 1 where somebody on whom it rests is there. */
  readonly known: Uint8Array;
  /** 1 where somebody on whom it rests comes back with nothing to go on from. */
  readonly afresh: Uint8Array;
}

export function createDoubts(count: number): Doubts {
  return {
    lost: new Uint8Array(count),
    fadeS: new Float64Array(count).fill(Number.POSITIVE_INFINITY),
    known: new Uint8Array(count),
    afresh: new Uint8Array(count),
  };
}

export function clearDoubt({ lost, fadeS, known, afresh }: Doubts, at: number): void {
  lost[at] = 0;
  known[at] = 0;
  fadeS[at] = Number.POSITIVE_INFINITY;
  afresh[at] = 0;
}

/** What is at `at` rests on this performer. @returns where they stand */
export function restOn(doubts: Doubts, at: number, people: People, performer: number): number {
  const standing = people.standing[performer] as number;
  if (standing === STANDING.lost) doubt(doubts, at, people.fadeS[performer] as number);
  else {
    doubts.known[at] = 1;
    if (people.afresh[performer] === 1) doubts.afresh[at] = 1;
  }
  return standing;
}

/** Something on which it rests is not there. */
export function doubt({ lost, fadeS }: Doubts, at: number, theirFadeS: number): void {
  lost[at] = 1;
  if (theirFadeS < (fadeS[at] as number)) fadeS[at] = theirFadeS;
}

/** It rests on all on which another does. */
export function inherit(to: Doubts, at: number, from: Doubts, other: number): void {
  if (from.lost[other] === 1) doubt(to, at, from.fadeS[other] as number);
  if (from.known[other] === 1) to.known[at] = 1;
  if (from.afresh[other] === 1) to.afresh[at] = 1;
}
