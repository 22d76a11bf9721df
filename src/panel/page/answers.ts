export interface Answer {
  readonly ok: boolean;
  readonly text: string;
  /** A hold that names nothing newer than the hand's last release: the next picture is. */
  readonly isEarly?: boolean;
  /** Of a stop: the newest picture that the panel had when it came. A resume takes a newer one. */
  readonly newest?: number;
  /** The panel has answered, but could not hand it to the daemon. */
  readonly isUnreached?: boolean;
  /** It no longer holds once a new picture comes. */
  readonly untilPicture?: boolean;
}

/** What the line at the bottom says of a press. */
export interface Said {
  /** `sent`: no answer yet. `warned`: done, but something about it is wrong. */
  readonly kind: 'ok' | 'warned' | 'refused' | 'sent';
  readonly text: string;
  /** What was pressed; undefined: it was no act. */
  readonly words?: readonly string[];
  /** It no longer holds once a new picture comes. */
  readonly untilPicture?: boolean;
  /** The newest picture that there was when it was answered: one that is no newer says nothing against it. */
  readonly newest?: number;
}

const WARNINGS =
  /could not be saved|nothing has come from|not been heard|would lose it|the other machine has the light|tell that one too|sent by (another machine|other machines)/i;

/** @param words what was pressed, as it goes to the daemon */
export function saidOf(
  { ok, text, untilPicture, newest }: Answer,
  words?: readonly string[],
): Said {
  const kind = !ok ? 'refused' : WARNINGS.test(text) ? 'warned' : 'ok';
  return {
    ...{ kind, text },
    ...(words && { words }),
    ...(untilPicture && { untilPicture }),
    ...(newest !== undefined && { newest }),
  };
}

export function sentOf(words: readonly string[]): Said {
  return { kind: 'sent', text: `${pressName(words)} sent, no answer yet.`, words };
}

/**
 * Stop of everybody is said done, and they have been resumed since; or it is said not done, and it has been; and so on.
 * @param sequence of the picture in which everybody is stopped, or isn't
 */
export function isContradicted(said: Said, isStopped: boolean, sequence: number): boolean {
  const [act, whom] = said.words ?? [];
  if (whom !== 'everybody' || said.kind === 'sent') return false;
  if (said.newest !== undefined && sequence <= said.newest) return false;
  const isNow = isStopped ? 'stop' : 'resume';
  return said.kind === 'refused'
    ? act === isNow
    : act !== isNow && /^(stop|resume)$/.test(act ?? '');
}

/** What was pressed, for people: `Stop`, `Resume mara`. */
export function pressName([act = '', ...rest]: readonly string[]): string {
  const of = rest.join(' ');
  switch (act) {
    case 'stop':
      return of === 'everybody' ? 'Stop' : `Stop ${of}`;
    case 'resume':
      return of === 'everybody' ? 'Resume' : `Resume ${of}`;
    case 'cue':
      return rest[0] === 'next' ? 'Go' : rest[0] === 'back' ? 'Back' : `Cue ${of}`;
    case 'on':
      return `On stage (${of})`;
    case 'off':
      return `Off stage (${of})`;
    case 'mapping':
      return `Mapping ${rest.slice(1).join(' ')} ${rest[0] ?? ''}`;
    case 'assign':
      return `Tracker ${rest.join(' to ')}`;
    case 'release':
      return `Release of ${of}`;
    default:
      return [act, ...rest].join(' ');
  }
}
