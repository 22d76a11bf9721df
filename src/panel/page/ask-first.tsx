import { useId, useRef } from 'preact/hooks';

interface AskFirstProps {
  readonly class?: string;
  /** What is pressed, and its name for a screen reader where that says too little. */
  readonly label: string;
  readonly name?: string;
  readonly question: string;
  readonly text: string;
  readonly yes: string;
  readonly onYes: () => unknown;
  /** Instead of the question, where this device may not. */
  readonly refuse?: (() => void) | undefined;
}

/** A button that asks before it does anything. */
export function AskFirst({ label, name, question, text, yes, onYes, ...rest }: AskFirstProps) {
  const dialog = useRef<HTMLDialogElement>(null);
  const title = useId();
  return (
    <>
      <button
        type="button"
        class={rest.class}
        aria-label={name}
        onClick={rest.refuse ?? (() => dialog.current?.showModal())}
      >
        {label}
      </button>
      <dialog ref={dialog} aria-labelledby={title}>
        <h2 id={title}>{question}</h2>
        <p>{text}</p>
        <form method="dialog">
          <button type="submit">Not now</button>
          <button type="submit" class="go" onClick={onYes}>
            {yes}
          </button>
        </form>
      </dialog>
    </>
  );
}
