import type { TrackerFeed } from '../values/counters.js';

/** Most senders listed for one tracker; reports from further ones are in no feed. */
const MOST_OF_A_TRACKER = 4;
/** A sender that takes a new port for each datagram fills them with ports that never come again. */
const MOST_PORTS = 4;
/** Nobody is so far from where another port has just placed them, metres and metres a second. */
const APART_M = 1;
const APART_MPS = 10;

/**
 * Counts one position. Allocates only for a sender that is new.
 * @returns the feed that it belongs to; undefined: too many send this tracker
 * @param feeds all that there are
 * @param known this tracker's feeds found before; others are looked up in `feeds`, so it may be empty
 */
export function countFeed(
  feeds: TrackerFeed[],
  known: TrackerFeed[],
  tracker: string,
  input: string,
  from: string | undefined,
): TrackerFeed | undefined {
  const feed = find(known, tracker, input, from) ?? find(feeds, tracker, input, from);
  if (feed !== undefined) {
    feed.positions += 1;
    if (!known.includes(feed)) known.push(feed);
    return feed;
  }
  let there = 0;
  for (const one of feeds) if (one.tracker === tracker) there += 1;
  if (there >= MOST_OF_A_TRACKER) return undefined;
  const added: TrackerFeed = { tracker, input, from, positions: 1 };
  feeds.push(added);
  known.push(added);
  return added;
}

/**
 * Counts the position for its port, and whether another port has just placed the tracker elsewhere.
 * @param movedM from the last place of the tracker, and in what time; NaN: there is none
 */
export function countPort(feed: TrackerFeed, port: number, movedM: number, inS: number): void {
  feed.ports ??= [];
  const { ports } = feed;
  const [last] = ports;
  if (last?.port === port) {
    last.positions += 1;
    return;
  }
  if (last !== undefined && movedM > APART_M + APART_MPS * inS) feed.apart = (feed.apart ?? 0) + 1;
  const at = ports.findIndex(one => one.port === port);
  const found = ports[at];
  const entry = found ?? (ports.length < MOST_PORTS ? { port, positions: 0 } : ports.pop());
  if (entry === undefined) return;
  if (found !== undefined) ports.splice(at, 1);
  if (entry.port !== port) entry.positions = 0;
  entry.port = port;
  entry.positions += 1;
  ports.unshift(entry);
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
