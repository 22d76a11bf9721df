import { attributeClass } from '../../fixtures/attributes.js';
import { beamDiameterM } from '../../fixtures/optics.js';
import { enumerated } from '../../stage/enumerated.js';
import { type Degrees, toRadians } from '../../stage/units.js';
import type { Vec3 } from '../../stage/vector.js';
import { mappingsOf } from '../model/basis.js';
import type { CuePlan, FixturePlan, FollowMappingPlan, MappingPlan, Show } from '../model/model.js';
import type { Finding } from '../problems/problem.js';

/** What was probably not meant in follow mappings. */
export function followWarnings(show: Show): Finding[] {
  return [
    ...litBodies(show),
    ...darkHeads(show),
    ...choicesOfOne(show),
    ...beamRoom(show),
    ...farReferences(show),
    ...farOffsets(show),
    ...samePlaces(show),
  ];
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
      const message = `fixture "${plan.name}" follows but has no Dimmer to go dark with: after a loss, and when it changes to another performer, it moves while lit. Drive its lit parts by the same performers, so that they go dark with them.`;
      return [{ code: 'follow-lit', message, path: ['mappings', mapping.place ?? index] }];
    });
  });
}

function hasIntensity({ profile }: FixturePlan): boolean {
  return profile.channels.some(({ attribute }) => attributeClass(attribute) === 'intensity');
}

/** Heads that follow in a cue in which nothing gives them intensity. Of a fixture that can never be lit that is said alone. */
function darkHeads(show: Show): Finding[] {
  const { cues, fixtures } = show;
  const looks: readonly (CuePlan | undefined)[] = cues.length === 0 ? [undefined] : cues;
  const indexOf = new Map(show.mappings.map((one, index) => [one as MappingPlan, index]));
  return [...byPlace(show.mappings)].flatMap(([place, mappings]): Finding[] =>
    looks.flatMap((cue): Finding[] => {
      const dark = mappings
        .filter(one => cue === undefined || (cue.levels[indexOf.get(one) ?? -1] ?? 0) > 0)
        .flatMap(({ heads }) => heads)
        .filter(head => !isLitIn(show, cue, head) && isEverLit(show, head));
      if (dark.length === 0) return [];
      const names = dark.map(head => `"${fixtures[head]?.name}"`);
      const [subject, verb] = dark.length === 1 ? ['fixture', 'follows'] : ['fixtures', 'follow'];
      const where = cue === undefined ? '' : ` in cue "${cue.name}"`;
      const stays =
        dark.length === 1 ? 'stays dark: nothing gives it' : 'stay dark: nothing gives them';
      const message = `${subject} ${enumerated(names)} ${verb}${where} but ${stays} a Dimmer there.`;
      return [{ code: 'follow-dark', message, path: ['mappings', place] }];
    }),
  );
}

/** By its base, or by anything that acts. */
function isLitIn({ mappings, fixtures }: Show, cue: CuePlan | undefined, light: number): boolean {
  const plan = fixtures[light] as FixturePlan;
  const base = cue?.base[light] ?? plan.base;
  const channels = intensitiesOf(plan);
  // Without any it is always lit; the desk may have it at any level.
  if (channels.length === 0) return true;
  if (channels.some(c => plan.ground[c] !== 'ours' || (base[c] ?? 0) > 0)) return true;
  return mappingsOf(mappings, light).some(
    index =>
      (cue === undefined || (cue.levels[index] ?? 0) > 0) &&
      mappings[index]?.values.some(
        one => one.fixture === light && channels.includes(one.channel) && one.value > 0,
      ),
  );
}

function isEverLit(show: Show, light: number): boolean {
  const plan = show.fixtures[light] as FixturePlan;
  const safes = [plan.safe, ...show.cues.map(({ safe }) => safe[light] ?? plan.safe)];
  if (intensitiesOf(plan).some(c => safes.some(safe => (safe[c] ?? 0) > 0))) return true;
  return show.cues.some(cue => isLitIn(show, cue, light));
}

function intensitiesOf({ profile: { channels } }: FixturePlan): number[] {
  return channels.flatMap(({ attribute }, c) =>
    attributeClass(attribute) === 'intensity' ? [c] : [],
  );
}

/** A rule is a mapping for each head: what is true for all of them is reported once. */
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
    // Heads that share one performer hand them over.
    if (rule?.kind !== 'nearest' && rule?.kind !== 'middle') return [];
    const others = rule.kind === 'nearest' ? people?.filter(p => p !== rule.to) : people;
    if (others?.length !== 1) return [];
    const name = performers[others[0] ?? -1]?.name;
    const message = `${rule.kind} has only one performer, "${name}". Write follow: ${name}, or name the others.`;
    return [{ code: 'choice-of-one', message, path: ['mappings', place, 'follow', rule.kind] }];
  });
}

/** More is asked by less than this: figures are rounded. */
const AS_ASKED = 1.01;
/** Opening nearly so far is what was asked, but for a beam that has to hold several. */
const NEARLY = 1.25;

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
    const isMiddle = all[0]?.choice?.rule.kind === 'middle';
    const enough = isMiddle ? AS_ASKED : NEARLY;
    const short =
      coverM === undefined
        ? []
        : widths.filter(({ mostM }) => mostM * enough < coverM && mostM > diameterM * AS_ASKED);
    const wide = widths.filter(({ leastM }) => leastM > (coverM ?? diameterM) * AS_ASKED);
    const most = (some: readonly { mostM: number }[]) =>
      metres(Math.max(...some.map(({ mostM }) => mostM)));
    const plans = (some: readonly { plan: FixturePlan }[]) => some.map(({ plan }) => plan);
    return [
      ...tell(
        plans(narrow),
        `a beam of ${diameterM} m is asked for, but it is at most this wide anywhere on the stage: ${most(narrow)}.`,
      ),
      ...tell(
        plans(stuck),
        `\`cover\` can't open the beam, which is at most this wide anywhere on the stage: ${most(stuck)}.`,
      ),
      ...tell(
        plans(short),
        `\`cover\` up to ${coverM} m is asked for, but the beam is at most this wide anywhere on the stage: ${most(short)}${isMiddle ? '; if the performers are farther apart, one of them is outside it' : ''}.`,
      ),
      ...tell(
        plans(wide),
        `a beam of ${coverM ?? diameterM} m at most is asked for, but it is at least this wide everywhere on the stage: ${metres(Math.min(...wide.map(({ leastM }) => leastM)))}.`,
      ),
    ];
  });
}

/** Three figures: what is a hundredth apart (`AS_ASKED`) never reads alike. */
function metres(value: number): string {
  return `${Number(value.toPrecision(3))} m`;
}

/** A reference throw at which nobody can ever be: usually centimetres. */
function farReferences({ mappings, fixtures, bounds }: Show): Finding[] {
  return [...byPlace(mappings)].flatMap(([place, all]): Finding[] => {
    const referenceM = all[0]?.optics.compensate?.referenceM;
    if (referenceM === undefined) return [];
    const throws = all
      .flatMap(mapping => mapping.heads)
      .flatMap(index => fixtures[index]?.head ?? [])
      .map(({ position }) => throwsTo(position, bounds));
    const leastM = Math.min(...throws.map(one => one.leastM));
    const mostM = Math.max(...throws.map(one => one.mostM));
    const isThere = referenceM * AS_ASKED >= leastM && referenceM <= mostM * AS_ASKED;
    if (throws.length === 0 || isThere) return [];
    const unit = [100, 1000].find(
      parts => referenceM / parts >= leastM && referenceM / parts <= mostM,
    );
    const meant =
      unit === undefined
        ? ''
        : ` Did you mean ${unit === 100 ? 'centimetres' : 'millimetres'}? That would be ${referenceM / unit}.`;
    const message = `\`reference\` is ${referenceM} m, but from ${throws.length === 1 ? 'its head' : 'its heads'} the stage is ${metres(leastM)} to ${metres(mostM)} away: ${referenceM > mostM ? 'the light is always turned down' : 'the light is always turned up'}.${meant}`;
    return [
      { code: 'reference-far', message, path: ['mappings', place, 'compensate', 'reference'] },
    ];
  });
}

/** Nobody has their light so far beside themselves (common practice). */
const FARTHEST_OFFSET_M = 10;

function farOffsets({ mappings }: Show): Finding[] {
  return [...byPlace(mappings)].flatMap(([place, [mapping]]): Finding[] => {
    if (mapping === undefined) return [];
    const { x, y, z } = mapping.offset;
    const farM = Math.hypot(x, y, z);
    if (farM <= FARTHEST_OFFSET_M) return [];
    const message = `\`offset\` moves the aim ${Math.round(farM)} m away from the performer. It is in metres; these look like centimetres: divide by 100.`;
    return [{ code: 'offset-far', message, path: ['mappings', place, 'offset'] }];
  });
}

/** Heads that hang where another hangs: a line that was copied, and its position not changed. */
function samePlaces({ fixtures }: Show): Finding[] {
  const first = new Map<string, FixturePlan>();
  return fixtures.flatMap((plan): Finding[] => {
    const { head, inFile, name } = plan;
    if (head === undefined) return [];
    const { x, y, z } = head.position;
    const key = `${x} ${y} ${z}`;
    const there = first.get(key);
    if (there === undefined) first.set(key, plan);
    if (there === undefined || there.inFile === inFile) return [];
    const message = `heads "${there.name}" and "${name}" hang at the same place, [${x}, ${y}, ${z}]: one of the positions is wrong.`;
    return [{ code: 'position-twice', message, path: ['fixtures', name, 'position'] }];
  });
}

/** From a head to the nearest place at which anybody can be, and to the farthest corner of the stage, metres. */
function throwsTo({ x, y, z }: Readonly<Vec3>, { min, max }: Show['bounds']) {
  const far = (at: number, from: number, to: number) =>
    Math.max(Math.abs(at - from), Math.abs(at - to));
  const near = (at: number, from: number, to: number) => Math.max(0, from - at, at - to);
  const throwM = (of: typeof far) =>
    Math.hypot(of(x, min.x, max.x), of(y, min.y, max.y), of(z, min.z, max.z));
  return { leastM: throwM(near), mostM: throwM(far) };
}

/** Across the beam at the farthest corner of the stage, and at the nearest place of it. */
function widthsOn(
  { head, profile: { channels, optics } }: FixturePlan,
  by: 'zoom' | 'iris',
  bounds: Show['bounds'],
): { readonly mostM: number; readonly leastM: number } {
  const zoom = channels.find(({ attribute }) => attribute === 'Zoom');
  const fixedDeg = optics.beamAngleDeg ?? optics.fieldAngleDeg;
  const [low, high] = zoom === undefined ? [fixedDeg, fixedDeg] : [zoom.from, zoom.to];
  if (head === undefined || low === undefined || high === undefined) {
    return { mostM: Number.POSITIVE_INFINITY, leastM: 0 };
  }
  const throws = throwsTo(head.position, bounds);
  const across = (deg: number, distanceM: number) =>
    beamDiameterM(distanceM, toRadians(deg as Degrees), optics.beamRadiusM ?? 0);
  return {
    mostM: across(Math.max(low, high), throws.mostM),
    leastM: by === 'iris' ? 0 : across(Math.min(low, high), throws.leastM),
  };
}
