import type { Show } from '../../show/model/model.js';
import type { TrackerFit } from '../../tracking/options.js';

/** The performer of a spare tracker. */
export const NOBODY = -1;

/** A tracker of the show, and who wears it now. */
export interface Tracker {
  readonly id: string;
  readonly fit: TrackerFit;
  /** Index in the roster; other stages keep what they know of the tracker under it. */
  readonly index: number;
  /** Index of the performer, or NOBODY. */
  performer: number;
  /** Place among the trackers of the performer's track; -1 for a spare. */
  place: number;
}

/** Who wears what. */
export interface Roster {
  readonly trackers: readonly Tracker[];
  readonly byId: ReadonlyMap<string, Tracker>;
}

/** What has changed for one performer. */
export interface RosterChange {
  readonly tracker: Tracker;
  readonly performer: number;
  readonly kind: 'put on' | 'taken off';
  /** How each tracker they now wear is worn, and its place before; undefined for a new one. */
  readonly fits: readonly TrackerFit[];
  readonly from: readonly (number | undefined)[];
}

export function createRoster({ performers, spares }: Show): Roster {
  const worn = performers.flatMap(({ trackers }, performer) =>
    trackers.map((plan, place) => ({ ...plan, performer, place })),
  );
  const spare = spares.map(plan => ({ ...plan, performer: NOBODY, place: -1 }));
  const trackers = [...worn, ...spare].map(
    ({ id, fit, performer, place }, index): Tracker => ({ id, fit, index, performer, place }),
  );
  return { trackers, byId: new Map(trackers.map(one => [one.id, one])) };
}

/** Takes it off. @returns undefined if nobody wore it */
export function takeOff(roster: Roster, tracker: Tracker): RosterChange | undefined {
  const { performer } = tracker;
  if (performer === NOBODY) return undefined;
  const worn = wornBy(roster, performer).filter(one => one !== tracker);
  tracker.performer = NOBODY;
  tracker.place = -1;
  return { tracker, performer, kind: 'taken off', ...settle(worn, tracker) };
}

/** Gives a spare tracker to a performer, in addition to those they wear. */
export function putOn(roster: Roster, tracker: Tracker, performer: number): RosterChange {
  const worn = wornBy(roster, performer);
  tracker.performer = performer;
  return { tracker, performer, kind: 'put on', ...settle([...worn, tracker], tracker) };
}

function settle(worn: readonly Tracker[], changed: Tracker): Pick<RosterChange, 'fits' | 'from'> {
  const from = worn.map(one => (one === changed ? undefined : one.place));
  worn.forEach((one, place) => {
    one.place = place;
  });
  return { fits: worn.map(({ fit }) => fit), from };
}

/** In the order of their places. */
function wornBy({ trackers }: Roster, performer: number): Tracker[] {
  return trackers.filter(one => one.performer === performer).sort((a, b) => a.place - b.place);
}
