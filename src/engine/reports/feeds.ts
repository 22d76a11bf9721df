import type { TrackerFeed } from '../values/counters.js';

/** Most senders listed for one tracker; reports from further ones are in no feed. */
const MOST_OF_A_TRACKER = 4;

/**
 * Counts one position. Allocates only for a sender that is new.
 * @param feeds all that there are
 * @param known this tracker's feeds found before; others are looked up in `feeds`, so it may be empty
 */
export function countFeed(
  feeds: TrackerFeed[],
  known: TrackerFeed[],
  tracker: string,
  input: string,
  from: string | undefined,
): void {
  const feed = find(known, tracker, input, from) ?? find(feeds, tracker, input, from);
  if (feed !== undefined) {
    feed.positions += 1;
    if (!known.includes(feed)) known.push(feed);
    return;
  }
  let there = 0;
  for (const one of feeds) if (one.tracker === tracker) there += 1;
  if (there >= MOST_OF_A_TRACKER) return;
  const added = { tracker, input, from, positions: 1 };
  feeds.push(added);
  known.push(added);
}

function find(
  feeds: readonly TrackerFeed[],
  tracker: string,
  input: string,
  from: string | undefined,
): TrackerFeed | undefined {
  for (const one of feeds) {
    if (one.from === from && one.input === input && one.tracker === tracker) return one;
  }
  return undefined;
}
