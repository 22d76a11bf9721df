import type { TrackerFeed } from '../../engine/values/counters.js';
import type { InputPlan } from '../../show/model/model.js';
import { enumerated } from '../../stage/enumerated.js';

/** What was received from one tracker on one input. */
export interface FeedCount {
  readonly tracker: string;
  readonly input: string;
  readonly protocol: 'osc' | 'psn';
  readonly positions: number;
  /** Who sent them, as the daemon counted every ten seconds; empty if the recording doesn't say. */
  readonly senders: readonly { readonly from: string; readonly positions: number }[];
}

type Key = readonly [tracker: string, input: string, from: string];

/** How much the counters of an engine grew within the time asked for. */
export class FeedsWithin {
  /** Counters by JSON of the key: from the replay, which knows every position but no sender, and as recorded, with senders. */
  #from: ReadonlyMap<string, number> | undefined;
  #to: ReadonlyMap<string, number> | undefined;
  #toldBefore: ReadonlyMap<string, number> = new Map();
  #told: ReadonlyMap<string, number> = new Map();

  constructor(
    private readonly feeds: readonly TrackerFeed[],
    private readonly inputs: readonly Pick<InputPlan, 'name' | 'psn'>[],
  ) {}

  /** Call before the input of a moment is taken in. @param isWithin the moment is within the time asked for */
  at(isWithin: boolean): void {
    if (isWithin) this.#from ??= byKey(this.feeds);
    else if (this.#from !== undefined) this.#to ??= byKey(this.feeds);
  }

  /** @param feeds those of a `counters` record */
  told(feeds: readonly TrackerFeed[] | undefined, when: 'before' | 'within' | 'after'): void {
    if (feeds === undefined || when === 'after') return;
    this.#told = byKey(feeds);
    if (when === 'before') this.#toldBefore = this.#told;
  }

  counts(): FeedCount[] {
    if (this.#from === undefined) return [];
    const senders = grown(this.#toldBefore, this.#told);
    return grown(this.#from, this.#to ?? byKey(this.feeds)).map(([[tracker, input], positions]) => {
      const isPsn = this.inputs.find(({ name }) => name === input)?.psn !== undefined;
      return {
        tracker,
        input,
        protocol: isPsn ? 'psn' : 'osc',
        positions,
        senders: senders.flatMap(([[of, by, from], sent]) =>
          of === tracker && by === input && from !== '' ? [{ from, positions: sent }] : [],
        ),
      };
    });
  }
}

function byKey(feeds: readonly TrackerFeed[]): Map<string, number> {
  return new Map(
    feeds.map(({ tracker, input, from = '', positions }) => [
      JSON.stringify([tracker, input, from] satisfies Key),
      positions,
    ]),
  );
}

function grown(
  before: ReadonlyMap<string, number>,
  after: ReadonlyMap<string, number>,
): [Key, number][] {
  return [...after].flatMap(([key, count]): [Key, number][] => {
    const more = count - (before.get(key) ?? 0);
    return more > 0 ? [[JSON.parse(key) as Key, more]] : [];
  });
}

/** Sum over several engines, one after the other. */
export function sumOfFeeds(all: readonly FeedCount[]): FeedCount[] {
  const sums = new Map<string, FeedCount>();
  for (const one of all) {
    const key = JSON.stringify([one.tracker, one.input]);
    const before = sums.get(key);
    if (before === undefined) {
      sums.set(key, one);
      continue;
    }
    const senders = new Map(before.senders.map(({ from, positions }) => [from, positions]));
    for (const { from, positions } of one.senders) {
      senders.set(from, (senders.get(from) ?? 0) + positions);
    }
    sums.set(key, {
      ...one,
      positions: before.positions + one.positions,
      senders: [...senders].map(([from, positions]) => ({ from, positions })),
    });
  }
  return [...sums.values()];
}

const PROTOCOLS = { osc: 'OSC', psn: 'PosiStageNet' } as const;
/** At most this many trackers are named in a line. */
const MOST_NAMED = 12;

/** A line for each input and sender, and one for each tracker that several sent. */
export function feedLines(feeds: readonly FeedCount[]): string[] {
  const groups = new Map<string, { trackers: string[]; positions: number }>();
  for (const { tracker, input, protocol, positions, senders } of feeds) {
    const from = senders.map(one => one.from).sort();
    const by = `${PROTOCOLS[protocol]} to input ${input}${from.length === 0 ? '' : ` from ${enumerated(from)}`}`;
    const group = groups.get(by) ?? { trackers: [], positions: 0 };
    groups.set(by, group);
    group.trackers.push(tracker);
    group.positions += positions;
  }
  const lines = [...groups].map(([by, { trackers, positions }]) => {
    return `${by}: ${namedTrackers(trackers)}, ${positions} positions`;
  });
  return [...lines, ...severalSenders(feeds)];
}

/** Lines about refused senders; of several, the last is known. */
export function refusedLines(
  dropped: readonly { readonly reason: string; readonly count: number; readonly from?: string }[],
): string[] {
  return dropped.flatMap(({ reason, count, from }) => {
    if (reason !== 'sender-not-allowed' || from === undefined) return [];
    return [
      `refused: ${count} ${count === 1 ? 'datagram' : 'datagrams'}, the last from ${from}, which \`allow\` of the input does not name`,
    ];
  });
}

/**
 * Lines about trackers that several senders sent, on whatever inputs: the light took their reports in turn.
 * @param of ids of the trackers; undefined: all
 */
export function severalSenders(feeds: readonly FeedCount[], of?: readonly string[]): string[] {
  const senders = new Map<string, Map<string, number>>();
  for (const { tracker, input, positions, senders: known } of feeds) {
    if (of?.includes(tracker) === false) continue;
    const its = senders.get(tracker) ?? new Map<string, number>();
    senders.set(tracker, its);
    if (known.length === 0) its.set(`input ${input}`, positions);
    for (const one of known) its.set(`${one.from} to input ${input}`, one.positions);
  }
  return [...senders].flatMap(([tracker, its]) => {
    if (its.size < 2) return [];
    const each = [...its].map(([who, positions]) => `${who} (${positions})`);
    return [`tracker ${tracker} had ${its.size} senders: ${enumerated(each)}`];
  });
}

function namedTrackers(trackers: readonly string[]): string {
  const named = trackers.slice(0, MOST_NAMED);
  const more = trackers.length - named.length;
  const list = enumerated([...named, ...(more > 0 ? [`${more} more`] : [])]);
  return `${trackers.length === 1 ? 'tracker' : 'trackers'} ${list}`;
}
