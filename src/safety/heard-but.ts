/** Why the light does not follow somebody whose positions come in, but who has never been tracked well. */
export const HEARD_BUT = [
  'no-time-stamp',
  'clock',
  'refused',
  'frozen',
  'out-of-bounds',
  'confidence-low',
] as const;
export type HeardBut = (typeof HEARD_BUT)[number];

/** To be put after "heard, but": in a few words, and with the cause. */
export const HEARD_BUT_WORDS: Readonly<
  Record<HeardBut, { readonly short: string; readonly long: string }>
> = {
  'no-time-stamp': {
    short: 'without a time stamp',
    long: 'without a time stamp: its system sends none',
  },
  clock: {
    short: 'with wrong times',
    long: "with times that can't be right: look at its system's clock",
  },
  refused: { short: 'refused', long: 'every position is refused' },
  frozen: { short: 'frozen', long: 'it repeats the same position' },
  'out-of-bounds': { short: 'off the stage', long: 'off the stage' },
  'confidence-low': { short: 'confidence low', long: 'the confidence is too low' },
};
