/** How many the panel takes on at a time. */
export interface Room {
  readonly connections: number;
  readonly streams: number;
  /** Of these, from one address. */
  readonly streamsOfOne: number;
}

const MOST: Room = { connections: 256, streams: 48, streamsOfOne: 24 };
/** For files that it reads and writes each second or so. */
const FOR_FILES = 6;

/**
 * What there is room for with so many descriptors left. A connection takes one, and while it acts another one, to the
 * daemon; streams stay, so they get half of the connections at most, and whoever acts finds one.
 * @param descriptorsLeft undefined: any number
 */
export function roomFor(descriptorsLeft: number | undefined): Room {
  if (descriptorsLeft === undefined) return MOST;
  const left = descriptorsLeft - FOR_FILES;
  // Where streams are at their most, each connection more may act, and take two.
  const most = Math.min((left * 2) / 3, (left + MOST.streams) / 2);
  const connections = Math.max(2, Math.floor(most));
  if (connections >= MOST.connections) return MOST;
  const streams = Math.min(MOST.streams, Math.floor(connections / 2));
  return { connections, streams, streamsOfOne: Math.min(MOST.streamsOfOne, streams) };
}

/** What whoever reads the log should know; undefined: there is room for all that it takes on. */
export function scarceRoom({ streams }: Room): string | undefined {
  if (streams >= MOST.streams) return undefined;
  return `it may have so few files open that ${streams === 1 ? 'one page' : `${streams} pages`} at most can look at a time, of ${MOST.streams}.`;
}
