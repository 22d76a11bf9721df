/** Axes of one position come at once, or nearly so; later than this the rest belongs to the next one. */
const TOGETHER_S = 0.05;
/** Far above the trackers of a stage; the one that was heard least lately goes. */
const MAX_GATHERED = 1024;
const NO_AXES = 0;

/** Positions of which each axis comes in a message of its own, and what is said of a tracker beside them. */
export interface Gathering {
  /** A bit for each axis of the feed that the routes have. */
  readonly wanted: number;
  readonly trackers: Map<string, Gathered>;
}

/** Of one tracker. Quality and charge stand until they are said anew. */
export interface Gathered {
  /** A bit for each axis that has come since the last whole position. */
  has: number;
  /** On the axes of the feed, shares of a box worked out. */
  readonly at: [x: number, y: number, z: number];
  /** When the first of them came, monotonic seconds. */
  sinceS: number;
  stampS: number | undefined;
  quality: number | undefined;
  battery: number | undefined;
  batteryOutside: number | undefined;
}

/** @param axes which of x, y and z of the feed come in parts */
export function createGathering(axes: readonly boolean[]): Gathering {
  const wanted = axes.reduce((bits, comes, axis) => (comes ? bits | (1 << axis) : bits), NO_AXES);
  return { wanted, trackers: new Map() };
}

export function gatheredOf({ trackers }: Gathering, tracker: string): Gathered {
  const there = trackers.get(tracker);
  if (there !== undefined) return there;
  if (trackers.size >= MAX_GATHERED) {
    for (const oldest of trackers.keys()) {
      trackers.delete(oldest);
      break;
    }
  }
  const made: Gathered = {
    has: NO_AXES,
    at: [0, 0, 0],
    sinceS: 0,
    stampS: undefined,
    quality: undefined,
    battery: undefined,
    batteryOutside: undefined,
  };
  trackers.set(tracker, made);
  return made;
}

/**
 * Takes the axes of a message. An axis that is there already, or one that comes late, begins anew: what was lost of
 * a position costs that one, and no two are ever mixed for longer.
 * @param axes a bit for each axis in `at`
 * @returns `whole`: all are there; `begun-anew`: a position is lost, as an axis of it did not come
 */
export function gather(
  gathering: Gathering,
  tracker: string,
  gathered: Gathered,
  axes: number,
  at: readonly [x: number, y: number, z: number],
  arrivalS: number,
): 'whole' | 'more to come' | 'begun-anew' {
  const isLate = arrivalS - gathered.sinceS > TOGETHER_S;
  const isAnew = gathered.has !== NO_AXES && ((gathered.has & axes) !== 0 || isLate);
  if (isAnew || gathered.has === NO_AXES) {
    gathered.has = NO_AXES;
    gathered.sinceS = arrivalS;
  }
  for (let axis = 0; axis < 3; axis++) {
    if ((axes & (1 << axis)) !== 0) gathered.at[axis] = at[axis] as number;
  }
  gathered.has |= axes;
  if (gathered.has !== gathering.wanted) return isAnew ? 'begun-anew' : 'more to come';
  gathered.has = NO_AXES;
  // Heard just now: the last to go.
  gathering.trackers.delete(tracker);
  gathering.trackers.set(tracker, gathered);
  return 'whole';
}
