import { useEffect, useRef, useState } from 'preact/hooks';

/** Well within the time that the show lets pass between two (`enableTimeout`, from 0.2 s). */
const AGAIN_MS = 120;

interface HoldProps {
  readonly label: string;
  readonly disabled: boolean;
  /** Said again and again while it is held. */
  readonly hold: () => Promise<unknown>;
  readonly release: () => Promise<unknown>;
}

/** A dead man's handle: it acts for as long as a finger, or the space bar, is on it, and not a moment longer. */
export function Hold({ label, disabled, hold, release }: HoldProps) {
  const [isHeld, setHeld] = useState(false);
  const held = useRef(false);
  const isAway = useRef(false);

  const loop = async () => {
    while (held.current && !isAway.current) {
      const next = new Promise(resolve => setTimeout(resolve, AGAIN_MS));
      await hold();
      await next;
    }
  };
  const press = () => {
    if (held.current || disabled) return;
    held.current = true;
    setHeld(true);
    void loop();
  };
  const letGo = () => {
    if (!held.current) return;
    held.current = false;
    setHeld(false);
    void release();
  };
  useEffect(() => {
    // Whoever looks elsewhere holds nothing any more.
    const away = () => document.hidden && letGo();
    document.addEventListener('visibilitychange', away);
    window.addEventListener('blur', letGo);
    return () => {
      isAway.current = true;
      letGo();
      document.removeEventListener('visibilitychange', away);
      window.removeEventListener('blur', letGo);
    };
  }, []);
  useEffect(() => {
    // A button that is disabled hears no release.
    if (disabled) letGo();
  }, [disabled]);
  const isKey = (event: KeyboardEvent) => event.key === ' ' || event.key === 'Enter';
  return (
    <button
      type="button"
      class={isHeld ? 'hold held' : 'hold'}
      disabled={disabled}
      aria-pressed={isHeld}
      onPointerDown={event => {
        event.currentTarget.setPointerCapture(event.pointerId);
        press();
      }}
      onPointerUp={letGo}
      onPointerCancel={letGo}
      onContextMenu={event => event.preventDefault()}
      onKeyDown={event => {
        if (!isKey(event)) return;
        event.preventDefault();
        if (!event.repeat) press();
      }}
      onKeyUp={event => isKey(event) && letGo()}
      onBlur={letGo}
    >
      {isHeld ? `${label}: held` : `Hold ${label}`}
    </button>
  );
}
