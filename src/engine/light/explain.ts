import type { SafeFadeStage } from '../../safety/fade-to-safe.js';
import { touches } from '../../show/model/basis.js';
import type { Show } from '../../show/model/model.js';
import type { Lights } from '../values/lights.js';
import type { Crossfades } from './crossfade.js';
import type { Explaining, Wish } from './explaining.js';
import type { Fades } from './fades.js';
import type { Binding } from './layers.js';
import type { Mappings } from './map.js';

/** Why one channel of a fixture had its value in the last tick. Physical values. */
export interface ChannelWhy {
  /** Index of the fixture, and of the channel in its profile. */
  readonly fixture: number;
  readonly channel: number;
  readonly base: number;
  readonly safe: number;
  /** What mappings asked of it, in the order in which it was merged. */
  readonly wishes: readonly WishWhy[];
  /** Mappings that touch it and asked for nothing. */
  readonly idle: readonly number[];
  /** After each stage, from the first to the last. */
  readonly merged: number;
  readonly aimed: number;
  readonly guarded: number;
  readonly steered: number;
  readonly crossed: number;
  readonly highlighted: number;
  readonly out: number;
  /** Where its fixture is between live and safe. */
  readonly fade: FadeWhy;
}

export interface WishWhy {
  /** Index of the mapping, and of the performer who drives it, if any. */
  readonly mapping: number;
  readonly performer: number | undefined;
  readonly level: number;
  readonly trust: number;
  readonly asks: number;
  /** The result, with trust and everything merged before it. */
  readonly result: number;
  /**
   * `won`: it shows, or lies on top; `part`: what lies over it is added to it, or scales it; `cue`: it shows in some
   * of the cues of a crossfade; `below`: another overrides it; `lower`: another asks for more.
   */
  readonly place: 'won' | 'part' | 'cue' | 'below' | 'lower';
}

export interface FadeWhy {
  /** 0 safe, 1 live: the highest of those who drive it. */
  readonly live: number;
  /** For a fixture that moves. */
  readonly stage: SafeFadeStage | undefined;
  readonly turning: boolean;
}

/** What it looks at. */
interface Seen {
  readonly show: Show;
  readonly lights: Lights;
  readonly mappings: Mappings;
  readonly crossfades: Crossfades;
  readonly fades: Fades;
}

/** Values closer than this are the same. */
const SAME = 1e-9;

/** For all channels that a mapping touches, or that a stage changed. */
export function explainTick(seen: Seen, explaining: Explaining): ChannelWhy[] {
  const { show, lights } = seen;
  const byChannel = new Map<number, Wish[]>();
  for (const wish of explaining.wishes) {
    byChannel.set(wish.channel, [...(byChannel.get(wish.channel) ?? []), wish]);
  }
  return show.fixtures.flatMap((_, fixture) => {
    const start = lights.start[fixture] as number;
    const end = lights.start[fixture + 1] as number;
    const touching = show.mappings.flatMap((mapping, i) => (touches(mapping, fixture) ? [i] : []));
    const whys: ChannelWhy[] = [];
    for (let c = start; c < end; c++) {
      const setting = touching.filter(i =>
        show.mappings[i]?.values.some(one => one.fixture === fixture && one.channel === c - start),
      );
      const why = explainChannel(seen, explaining, fixture, c, byChannel.get(c) ?? [], setting);
      if (setting.length > 0 || isChanged(why)) whys.push(why);
    }
    return whys;
  });
}

/** Its value is not just its base, or what a look says. */
function isChanged(why: ChannelWhy): boolean {
  const { base, merged, aimed, guarded, steered, crossed, highlighted, out } = why;
  return [merged, aimed, guarded, steered, crossed, highlighted, out].some(
    value => Math.abs(value - base) > SAME,
  );
}

function explainChannel(
  seen: Seen,
  { merged, aimed, guarded, steered, crossed, highlighted }: Explaining,
  fixture: number,
  c: number,
  wishes: readonly Wish[],
  setting: readonly number[],
): ChannelWhy {
  const { show, lights, crossfades, fades } = seen;
  const at = (values: Float64Array) => values[c] as number;
  const found = wishes.map(wish => ({ ...wish, ...driverOf(seen, wish) }));
  const isSum = c === lights.intensity[fixture] && !isMerged(seen, setting);
  const places = isSum
    ? highest(found, at(merged))
    : stacked(found, at(lights.base), ({ mapping }) => mixes(show, mapping));
  const safeFade = fades.safeFades[fixture];
  return {
    fixture,
    channel: c - (lights.start[fixture] as number),
    base: at(lights.base),
    safe: at(lights.safe),
    wishes: found.map(({ mapping, performer, driver, trust, asks, result }, i) => ({
      mapping,
      performer,
      level: driver.level,
      trust,
      asks,
      result,
      place: places[i] as WishWhy['place'],
    })),
    idle: setting.filter(mapping => !found.some(one => one.mapping === mapping)),
    merged: at(merged),
    aimed: at(aimed),
    guarded: at(guarded),
    steered: at(steered),
    crossed: at(crossed),
    highlighted: at(highlighted),
    out: at(lights.out),
    fade: {
      live: crossfades.ofLight[fixture]?.highest ?? 1,
      stage: safeFade?.stage,
      turning: fades.turning[fixture] === 1,
    },
  };
}

/** Its result includes what is below it. */
function mixes({ mappings }: Show, index: number): boolean {
  const mapping = mappings[index];
  return mapping?.kind === 'signal' && (mapping.mix === 'add' || mapping.mix === 'scale');
}

function driverOf({ show, mappings }: Seen, { driver }: Wish) {
  const binding = mappings.bindings.find(one => one === driver) as Binding | undefined;
  if (binding !== undefined) {
    return { mapping: show.mappings.indexOf(binding.mapping), performer: binding.performer };
  }
  const drive = mappings.drives.find(({ lanes }) => lanes.some(lane => lane === driver));
  return { mapping: drive?.of ?? -1, performer: undefined };
}

/** Priorities, or a mix other than the highest, decide. */
function isMerged({ show }: Seen, setting: readonly number[]): boolean {
  return setting.some(index => {
    const mapping = show.mappings[index];
    if (mapping?.kind !== 'signal') return false;
    return mapping.priority !== 0 || !['usual', 'highest'].includes(mapping.mix);
  });
}

/** Each by itself: the one that asks for the most shows, or all that ask for as much. */
function highest(wishes: readonly Wish[], merged: number): WishWhy['place'][] {
  return wishes.map(({ result, share }) => {
    if (Math.abs(result - merged) <= SAME) return 'won';
    return share !== undefined && share > 0 ? 'cue' : 'lower';
  });
}

/** One over the other: the last one that changes anything is on top. */
function stacked<One extends Wish>(
  wishes: readonly One[],
  base: number,
  mixesIn: (wish: One) => boolean,
): WishWhy['place'][] {
  let below = base;
  const changing = wishes.flatMap(({ result }, i) => {
    const changes = Math.abs(result - below) > SAME;
    below = result;
    return changes ? [i] : [];
  });
  const top = changing.at(-1) ?? -1;
  const parts = new Set<number>();
  // Down to the first that covers all below it.
  for (let k = changing.length - 1; k > 0; k--) {
    if (!mixesIn(wishes[changing[k] as number] as One)) break;
    parts.add(changing[k - 1] as number);
  }
  return wishes.map((_, i) =>
    i === top ? 'won' : parts.has(i) ? 'part' : i < top ? 'below' : 'lower',
  );
}
