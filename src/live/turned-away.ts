/** Why the panel turns requests and connections away. */
export const REFUSALS = [
  'host',
  'origin',
  'method',
  'token missing',
  'token wrong',
  'token revoked',
  'too many tries',
  'too many streams',
  'too large',
  'not understood',
  'too slow',
  'headers too large',
  'malformed',
  'too many connections',
  'gone',
  'sent ahead',
  'too late',
  'overtaken',
  'not found',
] as const;
export type Refusal = (typeof REFUSALS)[number];

/** What was turned away for one reason, since the panel's process began. */
export interface TurnedAway {
  readonly reason: Refusal;
  readonly count: number;
  /** Of the last one: who, and when, Unix seconds. */
  readonly from?: string | undefined;
  readonly lastS: number;
}

/**
 * Those that somebody should know of who did not ask: one, and many. The rest is told to whoever asked, or is no
 * matter (a phone that has left, a page without a token).
 */
const WORDS: Readonly<Partial<Record<Refusal, readonly [one: string, many: string]>>> = {
  'token wrong': ['wrong token', 'wrong tokens'],
  'too many tries': ['wrong token', 'wrong tokens'],
  'token revoked': ['token that no longer counts', 'tokens that no longer count'],
  host: ['request by another name of this machine', 'requests by another name of this machine'],
  origin: ['request from a page of another origin', 'requests from a page of another origin'],
  'too many streams': ['viewer (no place left)', 'viewers (no place left)'],
  'too many connections': ['connection (too many)', 'connections (too many)'],
  'sent ahead': ['connection (requests sent ahead)', 'connections (requests sent ahead)'],
  'too slow': ['request that was too slow', 'requests that were too slow'],
  'headers too large': ['request that was too large', 'requests that were too large'],
  'too large': ['request that was too large', 'requests that were too large'],
  malformed: ['malformed request', 'malformed requests'],
};

export const isTold = ({ reason }: Pick<TurnedAway, 'reason'>): boolean => reason in WORDS;

/** "12 wrong tokens and 1 connection (too many), the last from 10.0.0.9"; empty where nobody need know. */
export function turnedAwayInWords(all: readonly TurnedAway[]): string {
  const counts = new Map<string, { one: string; count: number }>();
  for (const { reason, count } of all) {
    const [one, many] = WORDS[reason] ?? [];
    if (one === undefined || many === undefined || count === 0) continue;
    counts.set(many, { one, count: count + (counts.get(many)?.count ?? 0) });
  }
  const parts = [...counts].map(([many, { one, count }]) => `${count} ${count === 1 ? one : many}`);
  if (parts.length === 0) return '';
  const last = all
    .filter(isTold)
    .reduce((newest, one) => (one.lastS >= newest.lastS ? one : newest));
  const list =
    parts.length === 1 ? parts.join() : `${parts.slice(0, -1).join(', ')} and ${parts.at(-1)}`;
  return last.from === undefined ? list : `${list}, the last from ${last.from}`;
}
