/** What the line at the bottom says of a press. */
export interface Said {
  /** `sent`: no answer yet. `warned`: done, but something about it is wrong. */
  readonly kind: 'ok' | 'warned' | 'refused' | 'sent';
  readonly text: string;
  /** What was pressed; undefined: it was no act. */
  readonly words?: readonly string[];
}

const WARNINGS =
  /could not be saved|nothing has come from|not been heard|would lose it|the other machine has the light|tell that one too/i;

/** @param words what was pressed, as it goes to the daemon */
export function saidOf(
  { ok, text }: { readonly ok: boolean; readonly text: string },
  words?: readonly string[],
): Said {
  const kind = !ok ? 'refused' : WARNINGS.test(text) ? 'warned' : 'ok';
  return { kind, text, ...(words && { words }) };
}

export function sentOf(words: readonly string[]): Said {
  return { kind: 'sent', text: `${pressName(words)} sent, no answer yet.`, words };
}

/** Stop of everybody is said done, and they have been resumed since; or the other way round. */
export function isContradicted(said: Said, isStopped: boolean): boolean {
  const [act, whom] = said.words ?? [];
  if (whom !== 'everybody' || said.kind === 'refused' || said.kind === 'sent') return false;
  return act === (isStopped ? 'resume' : 'stop');
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
