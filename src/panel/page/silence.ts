/** What is known of why no new picture comes. It changes only with what was found out, so that one can read it. */
export type Silence =
  /** Nothing was asked yet, or no answer has come. */
  | 'unknown'
  | 'panel'
  | 'daemon'
  | 'background'
  /** What the panel has said. */
  | { readonly refused: string };

export function silenceInWords(silence: Silence): string {
  switch (silence) {
    case 'unknown':
      return 'No new picture comes.';
    case 'panel':
      return 'The panel does not answer.';
    case 'daemon':
      return 'The panel answers, but the daemon does not.';
    case 'background':
      return 'The page was in the background.';
    default:
      return silence.refused;
  }
}

/** A picture that is older than this when the panel answers: the daemon gives it no newer one, seconds. */
const OLD_S = 1;

/**
 * @param before what was known
 * @param door what the panel says at its door; undefined: no answer
 */
export function silenceOf(
  before: Silence,
  door: { readonly ageS?: number | null } | string | undefined,
): Silence {
  if (door === undefined) return 'panel';
  if (typeof door === 'string') return { refused: door };
  const { ageS } = door;
  if (ageS === undefined) return before;
  // A panel that has just begun has none yet; it was the one that did not answer, and has one in a moment.
  if (ageS === null) return before === 'panel' ? before : 'daemon';
  return ageS > OLD_S ? 'daemon' : before;
}
