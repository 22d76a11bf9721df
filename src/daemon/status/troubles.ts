/** Something that is wrong, in a sentence without a full stop. */
export interface Trouble {
  readonly what: string;
  readonly sinceS: number;
}

/** Of each a row in docs/reference/status.md says what to do (tests/daemon/status/troubles.test.ts). */
export const TROUBLE_KINDS = [
  ...['engine', 'stale', 'reload', 'state', 'accepted-show', 'identity', 'last-look', 'control'],
  ...[
    'recording',
    'panel',
    'pair',
    'other-show',
    'other-tracking',
    'senders',
    'battery-unit',
    'highlight',
    'rejoin',
    'mapping',
    'signal',
  ],
  ...['enable', 'input', 'receiver', 'errand', 'source', 'nodes', 'interfaces'],
] as const;
type TroubleKind = (typeof TROUBLE_KINDS)[number];
export type TroubleKey = TroubleKind | `${TroubleKind} ${string}`;

/** What is wrong just now, by key: "mapping warmth", "signal train", "engine". */
export class Troubles {
  readonly #all = new Map<TroubleKey, Trouble>();

  get all(): Trouble[] {
    return [...this.#all.values()];
  }

  of(key: TroubleKey): Trouble | undefined {
    return this.#all.get(key);
  }

  /** The latest text counts, the first time is kept. @param what undefined: it is well again */
  tell(key: TroubleKey, what: string | undefined, nowS: number): void {
    if (what === undefined) this.#all.delete(key);
    else this.#all.set(key, { what, sinceS: this.#all.get(key)?.sinceS ?? nowS });
  }

  delete(key: TroubleKey): void {
    this.#all.delete(key);
  }

  /** Of one kind, forgets those of which the names are not among these. */
  keepOf(kind: 'mapping' | 'signal' | 'enable', names: ReadonlySet<string>): void {
    const begin = `${kind} `;
    for (const key of this.#all.keys()) {
      if (key.startsWith(begin) && !names.has(key.slice(begin.length))) this.#all.delete(key);
    }
  }
}
