import { useEffect, useRef, useState } from 'preact/hooks';
import type { Answer } from './answers.js';

/** Well within the time that the show lets pass between two (`enableTimeout`, from 0.2 s). */
const AGAIN_MS = 120;
/** A picture that comes sooner after a press may be of before it. */
const SEEN_AFTER_MS = 300;

interface HoldProps {
  readonly label: string;
  /** What comes on. */
  readonly outputs: string;
  readonly disabled: boolean;
  /** Why the output stays off although it is held, by the picture that came then (`performance.now()`). */
  readonly refused: string | undefined;
  readonly cameMs: number;
  readonly onRefused: (why: string) => unknown;
  /** Said again and again while it is held, until it fails: then it takes another press. */
  readonly hold: () => Promise<Answer>;
  /** @param why it failed; undefined: the hand has let go; `again`: what was said of it stands */
  readonly release: (why: Answer | 'again' | undefined) => unknown;
}

/** A dead man's handle: it acts for as long as a finger, or the space bar, is on it, and not a moment longer. */
export function Hold({ label, outputs, disabled, hold, release, ...seen }: HoldProps) {
  const [isHeld, setHeld] = useState(false);
  /** Which press it is that holds, counted; 0: none. */
  const held = useRef(0);
  const count = useRef(0);
  const pressedMs = useRef(0);
  const isSeen = isHeld && seen.cameMs > pressedMs.current + SEEN_AFTER_MS;
  const refused = isSeen ? seen.refused : undefined;
  useEffect(() => {
    if (refused !== undefined) seen.onRefused(refused);
  }, [refused]);

  const loop = async (mine: number) => {
    while (held.current === mine) {
      const next = new Promise(resolve => setTimeout(resolve, AGAIN_MS));
      const answer = await hold();
      // It may have overtaken the release.
      if (held.current === 0) release('again');
      // Pressed again so soon that no newer picture has come: the next one is.
      else if (held.current === mine && !answer.ok && answer.isEarly !== true) letGo(answer);
      await next;
    }
  };
  const press = () => {
    if (held.current !== 0 || disabled) return;
    count.current += 1;
    held.current = count.current;
    pressedMs.current = performance.now();
    setHeld(true);
    void loop(held.current);
  };
  const letGo = (why?: Answer) => {
    if (held.current === 0) return;
    held.current = 0;
    setHeld(false);
    release(why);
  };
  const lift = () => letGo();
  useEffect(() => {
    // Whoever looks elsewhere holds nothing any more.
    const away = () => document.hidden && letGo();
    document.addEventListener('visibilitychange', away);
    window.addEventListener('blur', lift);
    return () => {
      letGo();
      document.removeEventListener('visibilitychange', away);
      window.removeEventListener('blur', lift);
    };
  }, []);
  useEffect(() => {
    // A button that is disabled hears no release.
    if (disabled) {
      letGo({ ok: false, text: `Connection lost: ${label} is no longer held.` });
    }
  }, [disabled]);
  const isKey = (event: KeyboardEvent) => event.key === ' ' || event.key === 'Enter';
  return (
    <button
      type="button"
      class={refused !== undefined ? 'hold refused' : isHeld ? 'hold held' : 'hold'}
      disabled={disabled}
      aria-pressed={isHeld}
      onPointerDown={event => {
        event.currentTarget.setPointerCapture(event.pointerId);
        press();
      }}
      onPointerUp={lift}
      onPointerCancel={lift}
      onContextMenu={event => event.preventDefault()}
      onKeyDown={event => {
        if (!isKey(event)) return;
        event.preventDefault();
        if (!event.repeat) press();
      }}
      onKeyUp={event => isKey(event) && letGo()}
      onBlur={lift}
    >
      {refused !== undefined
        ? `${label} refused, release: ${outputs}`
        : isHeld
          ? `${label} held: ${outputs}`
          : `Hold ${label}: ${outputs}`}
    </button>
  );
}
