import type { Mix } from '../show/model.js';
import {
  type Crossfade,
  type CrossfadeGroup,
  type Crossfades,
  crossfadeOf,
  shareAmong,
} from './crossfade.js';
import type { Wish as Noted } from './explaining.js';
import { groundOf, mix, wishOf } from './intensity.js';
import type { Lane } from './lanes.js';
import { KIND, type Lights } from './lights.js';
import { type Binding, type Mappings, meet } from './map.js';

/** What mappings that rest on signals ask of intensities, beside what the others do (intensity.ts). */
export interface Wishes {
  /** Of lights for which everybody's highest wish wins. */
  readonly plain: readonly Wish[];
  /** Of lights where priorities or another mix decide: all that is asked of each, the lowest rank first. */
  readonly merged: readonly { readonly light: number; readonly wishes: Wish[] }[];
}

/** What one lane (or binding) asks of the intensity of one light; physical values. */
interface Wish {
  readonly light: number;
  readonly lane: Lane | Binding;
  /** At level 0; undefined: it then asks for nothing. */
  readonly from: number | undefined;
  readonly to: number;
  readonly mix: Mix;
  readonly priority: number;
  readonly crossfade: Crossfade;
  /** Its trust is its mapping's own, and not that of a performer of several. */
  readonly isLane: boolean;
}

/** Of intensities, within one priority. */
const ORDER: Readonly<Record<Mix, number>> = { usual: 0, highest: 0, latest: 1, add: 2, scale: 3 };

export function createWishes(
  { bindings, drives }: Mappings,
  lights: Lights,
  crossfades: Crossfades,
): Wishes {
  const { start, intensity } = lights;
  const isIntensity = ({ fixture, channel }: { fixture: number; channel: number }) =>
    (start[fixture] as number) + channel === intensity[fixture];
  const ofLanes = drives.flatMap(({ mapping, lanes, of }): Wish[] => {
    if (mapping.kind !== 'signal') return [];
    const whose = crossfades.performers + of;
    return mapping.values.filter(isIntensity).map(({ fixture, channel, value }) => ({
      light: fixture,
      lane: lanes.find(({ fixtures }) => fixtures.includes(fixture)) as Lane,
      from: mapping.from.find(one => one.fixture === fixture && one.channel === channel)?.value,
      to: value,
      mix: mapping.mix,
      priority: mapping.priority,
      crossfade: crossfadeOf(crossfades, fixture, whose),
      isLane: true,
    }));
  });
  const lightsMerged = new Set(ofLanes.filter(isMerged).map(({ light }) => light));
  const ofOthers = bindings.flatMap((binding): Wish[] =>
    binding.mapping.values
      .filter(one => isIntensity(one) && lightsMerged.has(one.fixture))
      .map(({ fixture, value }) => ({
        light: fixture,
        lane: binding,
        from: undefined,
        to: value,
        mix: 'usual',
        priority: 0,
        crossfade: crossfadeOf(crossfades, fixture, binding.whose),
        isLane: binding.lane !== undefined,
      })),
  );
  return {
    plain: ofLanes.filter(({ light }) => !lightsMerged.has(light)),
    merged: [...lightsMerged].map(light => ({
      light,
      wishes: [...ofOthers, ...ofLanes]
        .filter(one => one.light === light)
        .sort((a, b) => a.priority - b.priority || ORDER[a.mix] - ORDER[b.mix]),
    })),
  };
}

function isMerged({ mix: how, priority }: Wish): boolean {
  return priority !== 0 || (how !== 'usual' && how !== 'highest');
}

/** After `ask`: the wishes of lanes, merged with those of the others. */
export function askByLanes(
  { plain, merged }: Wishes,
  { ofLight }: Crossfades,
  lights: Lights,
  noted?: Noted[],
): void {
  for (const wish of plain) askPlain(wish, ofLight[wish.light] as CrossfadeGroup, lights, noted);
  for (const { light, wishes } of merged) {
    askMerged(wishes, ofLight[light] as CrossfadeGroup, light, lights, noted);
  }
}

/** The highest wins. What it is at least, whoever is lost, does not fade with the rest. */
function askPlain(
  { light, lane, from, to, crossfade }: Wish,
  group: CrossfadeGroup,
  { kind, intensity, safe, base, asked }: Lights,
  noted: Noted[] | undefined,
): void {
  // Off in the cue it asks for nothing, not even for the base.
  if (actsOf(lane) === 0) return;
  const { level } = lane;
  const sure = from === undefined ? sureOf(lane, crossfade) * to : 0;
  if (level === 0 && from === undefined && sure === 0) return;
  const value = shownValue(lane, from, to);
  const c = intensity[light] as number;
  const rests = safe[c] as number;
  const wish =
    kind[light] === KIND.moving
      ? value * shareAmong(1, crossfade, group)
      : wishOf(value, rests, groundOf(rests, base[c] as number, crossfade, group), crossfade);
  asked[light] = Math.max(asked[light] as number, wish, sure);
  noted?.push({
    channel: c,
    driver: lane,
    trust: crossfade.level,
    asks: value,
    result: Math.max(wish, sure),
  });
}

/** Where it is more than what shows of the level by its trust. */
function sureOf(lane: Lane | Binding, { ramp: trust }: Crossfade): number {
  if (!('shownSure' in lane)) return 0;
  return lane.shownSure > lane.level * trust + ROUNDING ? lane.shownSure : 0;
}

/** Sums and products of the same shares differ by less than this. */
const ROUNDING = 1e-9;

/** As far as the cue lets it act. */
function shownValue(lane: Lane | Binding, from: number | undefined, to: number): number {
  return from === undefined ? lane.level * to : actsOf(lane) * valueAt(from, to, lane.own);
}

function actsOf(lane: Lane | Binding): number {
  return 'acts' in lane ? lane.acts : 1;
}

function valueAt(from: number | undefined, to: number, level: number): number {
  return from === undefined ? level * to : from + level * (to - from);
}

/**
 * Priorities one after the other; what they come to rests on all of them, and so goes by the least trust of all. Those
 * who share the usual merge, the highest, hold it while one of them is there; and where anybody is lost, there is at
 * least as much of the safe value.
 */
function askMerged(
  wishes: Wish[],
  group: CrossfadeGroup,
  light: number,
  { kind, intensity, safe, base, asked, least, greatest }: Lights,
  noted: Noted[] | undefined,
): void {
  sortLatest(wishes);
  const c = intensity[light] as number;
  const floor = base[c] as number;
  let result = floor;
  let trust = 1;
  let best = -1;
  let most = 0;
  let at = 0;
  while (at < wishes.length) {
    const { priority } = wishes[at] as Wish;
    const below = result;
    // Those of no priority share the ground with the base.
    const isGround = priority === 0 && at === 0;
    let [high, opacity] = isGround ? [floor, 1] : [0, 0];
    let isHighest = true;
    for (; at < wishes.length && wishes[at]?.priority === priority; at++) {
      const one = wishes[at] as Wish;
      const { lane, from, to, crossfade, isLane } = one;
      const { ramp, says } = crossfade;
      // Where the cue takes the say away, a wish of somebody who is lost does not come up for that.
      const stays = says === 1 ? 1 : ramp / Math.max(crossfade.level, ROUNDING);
      const acts = (from === undefined ? lane.level : actsOf(lane)) * (isLane ? stays : 1);
      if (isLane) trust = Math.min(trust, crossfade.level);
      else {
        best = Math.max(best, says * ramp);
        most = Math.max(most, says);
      }
      if (one.mix === 'usual' || one.mix === 'highest') {
        const value = shownValue(lane, from, to);
        high = Math.max(high, value * (isLane ? stays : ramp));
        opacity = Math.max(opacity, acts);
        noted?.push(noteOf(one, c, value, over(below, high, opacity)));
        continue;
      }
      if (isHighest) result = over(below, high, opacity);
      isHighest = false;
      const value = from === undefined ? to : valueAt(from, to, lane.own);
      const met = meet(one.mix, result, value, least[c] as number, greatest[c] as number);
      result += acts * (met - result);
      noted?.push(noteOf(one, c, value, result));
    }
    if (isHighest) result = over(below, high, opacity);
  }
  if (best >= 0) trust = Math.min(trust, most < 1 ? best + 1 - most : best);
  if (kind[light] === KIND.moving) {
    asked[light] = group.highest > 0 ? result * Math.min(1, trust / group.highest) : 0;
    return;
  }
  const rests = safe[c] as number;
  asked[light] = Math.max(mix(rests, result, trust), mix(rests, 0, group.lowest));
}

function noteOf({ lane, crossfade }: Wish, channel: number, asks: number, result: number): Noted {
  return { channel, driver: lane, trust: crossfade.level, asks, result };
}

/** The highest wish of a priority over what is below: as far as it acts. */
function over(below: number, high: number, opacity: number): number {
  return below * (1 - opacity) + high;
}

/** Of one priority, who rose last comes last. */
function sortLatest(wishes: Wish[]): void {
  for (let i = 1; i < wishes.length; i++) {
    const one = wishes[i] as Wish;
    if (one.mix !== 'latest') continue;
    let at = i;
    while (at > 0 && isLater(wishes[at - 1] as Wish, one)) {
      wishes[at] = wishes[at - 1] as Wish;
      at -= 1;
    }
    wishes[at] = one;
  }
}

function isLater(a: Wish, b: Wish): boolean {
  return a.mix === 'latest' && a.priority === b.priority && risenFor(a) < risenFor(b);
}

function risenFor({ lane }: Wish): number {
  return 'risenFor' in lane ? lane.risenFor : 0;
}
