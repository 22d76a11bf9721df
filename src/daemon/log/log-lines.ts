import { listed } from '../../engine/events/event-words.js';
import type { Entry } from './log-entry.js';

type Data = Readonly<Record<string, unknown>>;

/** Said again by an engine that begins, where nothing has changed. */
const RESTORED = ['cue', 'off-stage', 'tracker'];

/**
 * The log as people read it: what happens to several performers at once is one line, and so is all that an engine finds
 * as it was. Programs get every event by itself.
 */
export class LogLines {
  readonly #waiting: Entry[] = [];
  /** The daemon has just said what holds again, and its first engine has nothing to add. */
  #isSaid = false;
  #isFirst = true;

  /** @param soon is called back once all that comes together has come */
  constructor(
    private readonly write: (entry: Entry) => void,
    private readonly soon: (then: () => void) => void = setImmediate,
  ) {}

  note(entry: Entry): void {
    const { kind, to } = entry.data as Data;
    if (kind === 'state-restored') this.#isSaid = true;
    if (kind === 'engine-started') {
      this.#isSaid = this.#isSaid && this.#isFirst;
      this.#isFirst = false;
    }
    if (kind !== 'performer' && !isRestored(entry)) {
      this.flush();
      this.write(entry);
      return;
    }
    if (isRestored(entry) && this.#isSaid) return;
    // All light comes up in a moment, and that is a line of its own.
    if (kind === 'performer' && to === 'returning' && entry.text.includes('all light is held'))
      return;
    if (this.#waiting.push(entry) === 1) this.soon(() => this.flush());
  }

  flush(): void {
    for (const some of groupsOf(this.#waiting.splice(0))) this.write(joined(some));
  }
}

function isRestored({ level, data }: Entry): boolean {
  const { kind, cause } = data as Data;
  return level === 'info' && cause === 'restored' && RESTORED.includes(String(kind));
}

function groupsOf(entries: readonly Entry[]): Entry[][] {
  const groups = new Map<string, Entry[]>();
  for (const entry of entries) {
    const key = isRestored(entry) ? 'restored' : `${entry.level} ${saidOf(entry)}`;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [entry]);
    else group.push(entry);
  }
  return [...groups.values()];
}

/** What is said of a performer, without who and how sure. */
function saidOf({ text, data }: Entry): string {
  const label = String((data as Data).performerLabel ?? '');
  return text.slice(label.length).replace(/, confidence [\d.]+$/, '');
}

function joined(group: readonly Entry[]): Entry {
  const [first] = group as [Entry];
  if (isRestored(first)) {
    const texts = group.map(({ text }) => text.replace(', as before', ''));
    return { ...first, text: `as before: ${texts.join('; ')}` };
  }
  if (group.length === 1) return first;
  const labels = group.map(({ data }) => String((data as Data).performerLabel));
  return { ...first, text: `${listed(labels)}${saidOf(first)}` };
}
