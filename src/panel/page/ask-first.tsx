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
  /** Why it can't be done at this moment, in a word that stands in place of `yes`. */
  readonly wait?: string | undefined;
  /** Instead of the question, where this device may not. */
  readonly refuse?: (() => void) | undefined;
}

/** Of the questions that are open. Stop closes them: what they ask may no longer be meant. */
export function closeQuestions() {
  for (const open of document.querySelectorAll('dialog')) open.close();
}

/**
 * A button that asks before it does anything. The question is not modal: Stop works beside it, with one touch.
 */
export function AskFirst({
  label,
  name,
  question,
  text,
  yes,
  onYes,
  wait,
  ...rest
}: AskFirstProps) {
  const dialog = useRef<HTMLDialogElement>(null);
  const title = useId();
  return (
    <>
      <button
        type="button"
        class={rest.class}
        aria-label={name}
        onClick={
          rest.refuse ??
          (() => {
            closeQuestions();
            dialog.current?.show();
          })
        }
      >
        {label}
      </button>
      <dialog
        ref={dialog}
        aria-labelledby={title}
        onKeyDown={event => event.key === 'Escape' && dialog.current?.close()}
      >
        <h2 id={title}>{question}</h2>
        <p>{text}</p>
        <form method="dialog">
          <button type="submit">Not now</button>
          <button type="submit" class="go" disabled={wait !== undefined} onClick={onYes}>
            {wait ?? yes}
          </button>
        </form>
      </dialog>
    </>
  );
}
