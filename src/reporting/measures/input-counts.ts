import type { Counters, DropReason, TrackerFeed } from '../../engine/values/counters.js';
import type { InputPlan } from '../../show/model/model.js';
import { type FeedCount, FeedsWithin, sumOfFeeds } from './tracker-feeds.js';

/** How often input was of no use, by reason. */
export interface InputCounts {
  readonly drops: Partial<Record<DropReason, number>>;
  readonly duplicates: number;
  readonly outOfOrder: number;
  readonly invalid: number;
  /** Address of the last sender of what was dropped, where it is known. */
  readonly from?: Senders;
  /** Which tracker came on which input, and from whom. */
  readonly trackerFeeds?: readonly FeedCount[];
}

export type Senders = Partial<Record<DropReason, string>>;

/** Drops that only the sockets know; they come from the recorded counters. */
export type ShellDrops = Partial<Record<DropReason, number>>;

/** How much the counters of an engine grew within the time asked for. */
export class CountsWithin {
  #from: InputCounts | undefined;
  #to: InputCounts | undefined;
  #shell: ShellDrops = {};
  #senders: Senders = {};

  readonly #feeds: FeedsWithin;

  constructor(
    private readonly counters: Counters,
    inputs: readonly Pick<InputPlan, 'name' | 'psn'>[] = [],
  ) {
    this.#feeds = new FeedsWithin(counters.feeds, inputs);
  }

  /** Call before the input of a moment is taken in. @param isWithin the moment is within the time asked for */
  at(isWithin: boolean): void {
    this.#feeds.at(isWithin);
    if (isWithin) this.#from ??= this.#now();
    else if (this.#from !== undefined) this.#to ??= this.#now();
  }

  shell(drops: ShellDrops, from: Senders = {}): void {
    this.#shell = drops;
    this.#senders = from;
  }

  /** Who sent, as it was recorded. */
  sent(feeds: readonly TrackerFeed[] | undefined, when: 'before' | 'within' | 'after'): void {
    this.#feeds.told(feeds, when);
  }

  counts(): InputCounts {
    const from = this.#from;
    if (from === undefined) return NOTHING;
    const to = this.#to ?? this.#now();
    const drops: Partial<Record<DropReason, number>> = {};
    for (const [reason, count] of Object.entries(to.drops)) {
      drops[reason as DropReason] = count - (from.drops[reason as DropReason] ?? 0);
    }
    return {
      drops,
      duplicates: to.duplicates - from.duplicates,
      outOfOrder: to.outOfOrder - from.outOfOrder,
      invalid: to.invalid - from.invalid,
      from: this.#senders,
      trackerFeeds: this.#feeds.counts(),
    };
  }

  #now(): InputCounts {
    const { drops, duplicates, outOfOrder, invalid } = this.counters;
    return { drops: { ...drops, ...this.#shell }, duplicates, outOfOrder, invalid };
  }
}

const NOTHING: InputCounts = { drops: {}, duplicates: 0, outOfOrder: 0, invalid: 0 };

/** Sum over several engines, one after the other. */
export function sumOf(all: readonly InputCounts[]): InputCounts {
  const drops: Partial<Record<DropReason, number>> = {};
  let [duplicates, outOfOrder, invalid] = [0, 0, 0];
  const from: Senders = {};
  for (const one of all) {
    Object.assign(from, one.from);
    for (const [reason, count] of Object.entries(one.drops)) {
      drops[reason as DropReason] = (drops[reason as DropReason] ?? 0) + count;
    }
    duplicates += one.duplicates;
    outOfOrder += one.outOfOrder;
    invalid += one.invalid;
  }
  const trackerFeeds = sumOfFeeds(all.flatMap(one => one.trackerFeeds ?? []));
  return { drops, duplicates, outOfOrder, invalid, from, trackerFeeds };
}
