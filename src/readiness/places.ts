import { basisOf } from '../show/model/basis.js';
import type { MappingPlan, Show } from '../show/model/model.js';
import { type AreaOptions, compileArea, signedDistanceM } from '../stage/area.js';
import type { Vec3 } from '../stage/vector.js';

/** A zone that does something for a performer: where they have to be believed. */
export interface MatteringPlace {
  readonly performer: number;
  readonly zone: number;
  /** A mapping names the performers, this one among them; otherwise it is for anybody. */
  readonly named: boolean;
}

interface Ask {
  readonly zone: number;
  readonly performers: readonly number[];
}

/** The zones that a mapping asks about, by itself or by its signals, and about whom. */
function asksOf(show: Show, mapping: MappingPlan): Ask[] {
  if (mapping.kind === 'zone') return [mapping];
  return [...basisOf(show, mapping).signals].flatMap((index): Ask[] => {
    const source = show.signals.signals[index]?.source;
    switch (source?.kind) {
      case 'presence':
      case 'count':
        return [source];
      case 'across':
        return [{ zone: source.zone, performers: [source.performer] }];
      default:
        return [];
    }
  });
}

/** Zones with mappings, and for whom; in a cue those of the mappings that act in it. */
export function placesThatMatter(show: Show, cue?: number): MatteringPlace[] {
  const places = new Map<string, MatteringPlace>();
  const levels = cue === undefined ? undefined : show.cues[cue]?.levels;
  const acting = show.mappings.filter(
    (_, index) => levels === undefined || (levels[index] ?? 0) > 0,
  );
  for (const { zone, performers } of acting.flatMap(mapping => asksOf(show, mapping))) {
    // It goes wherever they go.
    if (show.zones[zone]?.around !== undefined) continue;
    const named = performers.length < show.performers.length || show.performers.length === 1;
    for (const performer of performers) {
      const key = `${performer} ${zone}`;
      const known = places.get(key);
      places.set(key, { performer, zone, named: named || known?.named === true });
    }
  }
  return [...places.values()];
}

/** Squares a side of the box round an area among which its middle is sought. */
const ACROSS = 24;

/** A place well inside of an area, also of one whose centre of mass lies outside. */
export function middleOf(options: AreaOptions, heightM: number): Vec3 {
  const area = compileArea(options);
  const { height } = options;
  const z =
    height === undefined || (heightM >= height.fromM && heightM <= height.toM)
      ? heightM
      : (height.fromM + height.toM) / 2;
  let best = { x: (area.minX + area.maxX) / 2, y: (area.minY + area.maxY) / 2, z };
  let depth = signedDistanceM(area, best.x, best.y, z);
  for (let i = 0; i < ACROSS * ACROSS; i++) {
    const x = area.minX + (((i % ACROSS) + 0.5) / ACROSS) * (area.maxX - area.minX);
    const y = area.minY + ((Math.floor(i / ACROSS) + 0.5) / ACROSS) * (area.maxY - area.minY);
    const one = signedDistanceM(area, x, y, z);
    // Only what is clearly deeper: the middle of a circle stays the middle.
    if (one < depth - 1e-9) {
      depth = one;
      best = { x, y, z };
    }
  }
  return best;
}

/**
 * Where a performer may stand for a try: in a zone that they drive, one of their own if there is one, else in the middle
 * of the stage.
 * @param cue the one that is on, where it matters
 */
export function standingPlace(show: Show, performer: number, cue?: number): Vec3 {
  const heightM = show.performers[performer]?.wornAtM ?? 1.5;
  const mine = placesThatMatter(show, cue).filter(one => one.performer === performer);
  const own = mine.filter(({ named }) => named);
  // In zones that are for anybody they spread out, so that more than one is lit.
  const place = own[0] ?? mine[performer % mine.length];
  const zone = place === undefined ? undefined : show.zones[place.zone];
  if (zone !== undefined) return middleOf(zone.area, heightM);
  const { min, max } = show.bounds;
  return { x: (min.x + max.x) / 2, y: (min.y + max.y) / 2, z: heightM };
}
