import type { Scene, ScenePart } from '../rehearsal/scenes/scene.js';
import type { Show } from '../show/model/model.js';
import { middleOf, placesThatMatter, standingPlace } from './places.js';

/** How long each place is stood at, seconds: long enough for a preflight to call it walked, and still. */
const STANDS_S = 4;
/** Walking, metres a second. */
const WALK_M_S = 1.2;

/**
 * The performers of a show as they would walk it before the doors: each stands in each of the zones that
 * they drive, one after the other, and begins anew.
 */
export function tourOf(show: Show): Scene {
  const matter = placesThatMatter(show);
  const tours = show.performers.map((one, performer) => {
    const heightM = one.wornAtM ?? standingPlace(show, performer).z;
    const zones = matter.filter(place => place.performer === performer);
    // Not all in one zone at a time.
    const turn = zones.length === 0 ? 0 : performer % zones.length;
    const places = [...zones.slice(turn), ...zones.slice(0, turn)].flatMap(({ zone }) => {
      const area = show.zones[zone]?.area;
      return area === undefined ? [] : [middleOf(area, heightM)];
    });
    const stops = places.length > 0 ? places : [standingPlace(show, performer)];
    const marks: [number, number, number][] = [];
    let atS = 0;
    stops.forEach(({ x, y }, i) => {
      const before = stops[i - 1];
      if (before !== undefined) atS += Math.hypot(x - before.x, y - before.y) / WALK_M_S;
      marks.push([atS, x, y], [atS + STANDS_S, x, y]);
      atS += STANDS_S;
    });
    const [first] = stops;
    const last = stops.at(-1);
    const homeS =
      first === undefined || last === undefined
        ? 0
        : Math.hypot(first.x - last.x, first.y - last.y) / WALK_M_S;
    return {
      performer: one.name,
      trackers: one.trackers,
      heightM,
      marks,
      first,
      endS: atS + homeS,
    };
  });
  const lengthS = Math.max(STANDS_S, ...tours.map(({ endS }) => endS));
  const parts = tours.flatMap(({ performer, trackers, heightM, marks, first }) =>
    trackers.map(
      ({ id }): ScenePart => ({
        performer,
        tracker: id,
        heightM,
        marks: first === undefined ? marks : [...marks, [lengthS, first.x, first.y]],
        silences: [],
      }),
    ),
  );
  return { name: `a walk through ${show.name}`, lengthS, parts };
}
