import { attributeClass } from '../fixtures/attributes.js';
import { beamDiameterM } from '../fixtures/optics.js';
import { enumerated } from '../stage/enumerated.js';
import { type Degrees, toRadians } from '../stage/units.js';
import type { FixturePlan, FollowMappingPlan, Show } from './model.js';
import type { Finding } from './problem.js';

/** What of following was probably meant otherwise. */
export function followWarnings(show: Show): Finding[] {
  return [...litBodies(show), ...choicesOfOne(show), ...beamRoom(show)];
}

/**
 * Heads that follow, and whose light is not their own: the body of a bar moves, and its cells are lights for themselves.
 * Each once, at the first mapping.
 */
function litBodies({ mappings, fixtures }: Show): Finding[] {
  const seen = new Set<FixturePlan>();
  return mappings.flatMap((mapping, index): Finding[] => {
    if (mapping.kind !== 'follow') return [];
    return mapping.heads.flatMap((head): Finding[] => {
      const plan = fixtures[head];
      if (plan === undefined || seen.has(plan) || hasIntensity(plan)) return [];
      seen.add(plan);
      const message = `fixture "${plan.name}" follows and has no Dimmer to go dark with: in a loss, and where it goes to somebody else, it swings with the light that shines through it. Let what makes that light rest on the same people, so that it goes dark with them.`;
      return [{ code: 'follow-lit', message, path: ['mappings', mapping.place ?? index] }];
    });
  });
}

function hasIntensity({ profile }: FixturePlan): boolean {
  return profile.channels.some(({ attribute }) => attributeClass(attribute) === 'intensity');
}

/** A rule is a mapping for each head: what of it is so for all of them is told once. */
function byPlace(mappings: Show['mappings']): Map<number, FollowMappingPlan[]> {
  const places = new Map<number, FollowMappingPlan[]>();
  mappings.forEach((mapping, index) => {
    if (mapping.kind !== 'follow') return;
    const place = mapping.place ?? index;
    places.set(place, [...(places.get(place) ?? []), mapping]);
  });
  return places;
}

function choicesOfOne({ mappings, performers }: Show): Finding[] {
  return [...byPlace(mappings)].flatMap(([place, [mapping]]): Finding[] => {
    const { rule, people } = mapping?.choice ?? {};
    if (rule?.kind !== 'nearest' && rule?.kind !== 'middle') return [];
    const others = rule.kind === 'nearest' ? people?.filter(p => p !== rule.to) : people;
    if (others?.length !== 1) return [];
    const name = performers[others[0] ?? -1]?.name;
    const message = `${rule.kind} has one performer only, "${name}": follow: ${name}, or name the others.`;
    return [{ code: 'choice-of-one', message, path: ['mappings', place, 'follow', rule.kind] }];
  });
}

/** More is asked by less than this: figures are rounded. */
const AS_ASKED = 1.01;

/** Widths of a beam that a head has at no distance at which anybody can be on the stage. */
function beamRoom({ mappings, fixtures, bounds }: Show): Finding[] {
  return [...byPlace(mappings)].flatMap(([place, all]): Finding[] => {
    const beam = all[0]?.optics.beam;
    if (beam === undefined) return [];
    const heads = all.flatMap(mapping => mapping.heads).flatMap(index => fixtures[index] ?? []);
    const path = ['mappings', place, 'beam'];
    const tell = (some: readonly FixturePlan[], message: string): Finding[] =>
      some.length === 0
        ? []
        : [
            {
              code: 'beam-room',
              message: `fixture${some.length === 1 ? '' : 's'} ${enumerated(some.map(({ name }) => `"${name}"`))}: ${message}`,
              path,
            },
          ];
    const { diameterM, coverM } = beam;
    const widths = heads.map(plan => ({ plan, ...widthsOn(plan, beam.by, bounds) }));
    // One that is wider than the stage has been told.
    const stageM = Math.max(bounds.max.x - bounds.min.x, bounds.max.y - bounds.min.y);
    const narrow =
      diameterM > stageM ? [] : widths.filter(({ mostM }) => mostM * AS_ASKED < diameterM);
    const stuck =
      coverM === undefined
        ? []
        : widths.filter(
            ({ mostM }) => mostM <= diameterM * AS_ASKED && mostM * AS_ASKED >= diameterM,
          );
    const wide = widths.filter(({ leastM }) => leastM > (coverM ?? diameterM) * AS_ASKED);
    const most = (some: readonly { mostM: number }[]) =>
      metres(Math.max(...some.map(({ mostM }) => mostM)));
    const plans = (some: readonly { plan: FixturePlan }[]) => some.map(({ plan }) => plan);
    return [
      ...tell(
        plans(narrow),
        `a beam of ${diameterM} m is asked, and nowhere on the stage is it wider than ${most(narrow)}.`,
      ),
      ...tell(
        plans(stuck),
        `\`cover\` can't open the beam: nowhere on the stage is it wider than ${most(stuck)}.`,
      ),
      ...tell(
        plans(wide),
        `a beam of ${coverM ?? diameterM} m at the most is asked, and nowhere on the stage is it narrower than ${metres(Math.min(...wide.map(({ leastM }) => leastM)))}.`,
      ),
    ];
  });
}

function metres(value: number): string {
  return `${Number(value.toFixed(1))} m`;
}

/** Across the beam at the farthest corner of the stage, and at the nearest place of it. */
function widthsOn(
  { head, profile: { channels, optics } }: FixturePlan,
  by: 'zoom' | 'iris',
  { min, max }: Show['bounds'],
): { readonly mostM: number; readonly leastM: number } {
  const zoom = channels.find(({ attribute }) => attribute === 'Zoom');
  const fixedDeg = optics.beamAngleDeg ?? optics.fieldAngleDeg;
  const [low, high] = zoom === undefined ? [fixedDeg, fixedDeg] : [zoom.from, zoom.to];
  if (head === undefined || low === undefined || high === undefined) {
    return { mostM: Number.POSITIVE_INFINITY, leastM: 0 };
  }
  const { x, y, z } = head.position;
  const far = (at: number, from: number, to: number) =>
    Math.max(Math.abs(at - from), Math.abs(at - to));
  const near = (at: number, from: number, to: number) => Math.max(0, from - at, at - to);
  const throwM = (of: typeof far) =>
    Math.hypot(of(x, min.x, max.x), of(y, min.y, max.y), of(z, min.z, max.z));
  const across = (deg: number, distanceM: number) =>
    beamDiameterM(distanceM, toRadians(deg as Degrees), optics.beamRadiusM ?? 0);
  return {
    mostM: across(Math.max(low, high), throwM(far)),
    leastM: by === 'iris' ? 0 : across(Math.min(low, high), throwM(near)),
  };
}
