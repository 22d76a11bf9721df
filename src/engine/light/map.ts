import { type Curve, compileCurve } from '../../mapping/curve.js';
import { stepEnvelope } from '../../mapping/envelope.js';
import type { EnvelopeOptions } from '../../mapping/options.js';
import type { ChannelValue, Mix, Show, SignalMappingPlan } from '../../show/model/model.js';
import type { Cues } from '../cues/cues.js';
import type { Watched, WatchedPerformer } from '../people/watch.js';
import type { Presences } from '../people/zones.js';
import { believedOf, type Lights } from '../values/lights.js';
import { type Crossfades, crossfadeOf } from './crossfade.js';
import type { Wish } from './explaining.js';
import type { Fades } from './fades.js';
import { createDrives, type Drive, type Lane } from './lanes.js';
import { type Binding, type Layer, layer, type PresenceMapping, restack } from './layers.js';

/** What the mappings ask for. */
export interface Mappings {
  readonly bindings: readonly Binding[];
  /** For each zone and performer (zone * performers + performer), what their presence drives. */
  readonly byPair: readonly (readonly Binding[])[];
  /** The few bindings, of a large house's many, that have a level or something that drives one. */
  awake: Binding[];
  /** Lights for which some mapping sets more than intensity. */
  readonly layered: readonly number[];
  /** For each light its layers whose binding is above 0, in the order in which they rose: the latest is on top. */
  readonly active: readonly Layer[][];
  /** Mappings that depend on signals or conditions, and what these set beside intensities. */
  readonly drives: readonly Drive[];
  /** The same by the index of the mapping. */
  readonly driveOf: readonly (Drive | undefined)[];
  readonly laneLayers: readonly Layer[];
}

/** Within one priority: the highest, over it the latest, then what is added, and last what scales everything. */
export const MIX_ORDER: Readonly<Record<Mix, number>> = {
  highest: 0,
  usual: 1,
  latest: 1,
  add: 2,
  scale: 3,
};
const MIXES = 4;
const BINDINGS_IN_A_PART = 500;
/** For zone and follow mappings: priority 0, the usual mix. */
const USUAL_RANK = MIX_ORDER.usual;

export function* createMappings(
  show: Show,
  presences: Presences,
  lights: Lights,
  crossfades: Crossfades,
  watched: Watched,
): Generator<undefined, Mappings> {
  const drives = createDrives(show, crossfades, watched);
  yield;
  const driveOf = new Map(drives.map(drive => [drive.of, drive]));
  const bindings: Binding[] = [];
  let boundNext = BINDINGS_IN_A_PART;
  const performers = show.performers.length;
  const byPair = Array.from({ length: presences.zones.length * performers }, (): Binding[] => []);
  for (const [of, mapping] of show.mappings.entries()) {
    if (mapping.kind === 'signal') continue;
    if (bindings.length >= boundNext) {
      boundNext = bindings.length + BINDINGS_IN_A_PART;
      yield;
    }
    const lane = driveOf.get(of)?.lanes[0];
    const asks = {
      curve: compileCurve(mapping.kind === 'follow' ? 'linear' : mapping.curve),
      others: othersThanIntensity(mapping.values, lights),
    };
    for (const performer of performersOf(mapping)) {
      const whose = lane === undefined ? performer : (believedOf(show, of)[0] as number);
      const place = { of, index: bindings.length, lane, whose };
      const binding = bind(mapping, performer, place, asks, presences, crossfades);
      bindings.push(binding);
      if (mapping.kind === 'zone') byPair[mapping.zone * performers + performer]?.push(binding);
    }
  }
  yield;
  const laneLayers = drives.flatMap(drive => layersOfLanes(drive, lights, crossfades));
  const active = lights.plans.map((): Layer[] => []);
  for (const layer of laneLayers) if (layer.from !== undefined) restack(active, layer, true);
  const layered = new Set(
    [...bindings.flatMap(({ layers }) => layers), ...laneLayers].map(({ light }) => light),
  );
  // With cues the base of any light may change, and a head that chooses shows its base while it is on nobody.
  const choosing = show.mappings.flatMap(one =>
    one.kind === 'follow' && one.choice ? one.heads : [],
  );
  for (const light of show.cues.length > 0 ? lights.plans.keys() : choosing) layered.add(light);
  return {
    bindings,
    byPair,
    awake: bindings.filter(({ sleeps }) => !sleeps),
    layered: [...layered].sort((a, b) => a - b),
    active,
    drives,
    driveOf: show.mappings.map((_, of) => driveOf.get(of)),
    laneLayers,
  };
}

function performersOf(mapping: PresenceMapping): readonly number[] {
  return mapping.kind === 'follow' ? [mapping.performer] : mapping.performers;
}

function bind(
  mapping: PresenceMapping,
  performer: number,
  { of, index, lane, whose }: Pick<Binding, 'of' | 'index' | 'lane' | 'whose'>,
  { curve, others }: { curve: Curve; others: ReturnType<typeof othersThanIntensity> },
  { zones }: Presences,
  crossfades: Crossfades,
): Binding {
  const isFollow = mapping.kind === 'follow';
  const layers: Layer[] = [];
  const binding: Binding = {
    index,
    mapping,
    of,
    performer,
    whose,
    lane,
    curve,
    presence: isFollow ? undefined : zones[mapping.zone]?.presences[performer],
    sleeps: !isFollow && curve(0) === 0,
    own: 0,
    level: 0,
    layers,
  };
  for (const { light, channels, values } of others) {
    layers.push({
      binding,
      light,
      crossfade: crossfadeOf(crossfades, light, whose),
      of,
      whose,
      channels,
      values,
      from: undefined,
      mix: 'usual',
      rank: USUAL_RANK,
      isActive: false,
    });
  }
  return binding;
}

/** What is set beside intensities, light by light: channels in the arrays by channel. */
function othersThanIntensity(all: readonly ChannelValue[], { start, intensity }: Lights) {
  const at = ({ fixture, channel }: ChannelValue) => (start[fixture] as number) + channel;
  const others = all.filter(one => at(one) !== intensity[one.fixture]);
  const lights = [...new Set(others.map(({ fixture }) => fixture))].sort((a, b) => a - b);
  return lights.map(light => {
    const mine = others.filter(({ fixture }) => fixture === light);
    return { light, channels: mine.map(at), values: mine.map(({ value }) => value) };
  });
}

function layersOfLanes(
  { mapping, lanes, of }: Drive,
  lights: Lights,
  crossfades: Crossfades,
): Layer[] {
  if (mapping.kind !== 'signal') return [];
  const fromAt = new Map(
    mapping.from.map(({ fixture, channel, value }) => [
      (lights.start[fixture] as number) + channel,
      value,
    ]),
  );
  const laneOf = new Map(lanes.flatMap(lane => lane.fixtures.map(fixture => [fixture, lane])));
  const whose = crossfades.performers + of;
  const others = othersThanIntensity(mapping.values, lights);
  return others.map(({ light, channels, values }): Layer => {
    const lane = laneOf.get(light) as Lane;
    const hasFrom = channels.some(c => fromAt.has(c));
    return {
      binding: lane,
      light,
      crossfade: crossfadeOf(crossfades, light, whose),
      of,
      whose,
      channels,
      values,
      from: hasFrom ? channels.map((c, i) => fromAt.get(c) ?? (values[i] as number)) : undefined,
      mix: mapping.mix,
      rank: rankOf(mapping),
      isActive: false,
    };
  });
}

export function rankOf({ priority, mix }: Pick<SignalMappingPlan, 'priority' | 'mix'>): number {
  return priority * MIXES + MIX_ORDER[mix];
}

/**
 * Presence -> how much each mapping asks of each fixture; and LTP of all but intensity.
 * @param crossfades of the last tick, as are the fades
 */
export function map(
  mappings: Mappings,
  { entered }: Presences,
  cues: Cues,
  watched: Watched,
  crossfades: Crossfades,
  fades: Fades,
  lights: Lights,
  dtS: number,
  wishes?: Wish[],
): void {
  for (const layer of mappings.laneLayers) {
    const acts = layer.from !== undefined && (cues.levels[layer.of] as number) > 0;
    restack(mappings.active, layer, acts || layer.binding.level > 0);
  }
  for (const pair of entered) wake(mappings, pair);
  let sleeps = false;
  for (const binding of mappings.awake) {
    stepBinding(mappings, binding, cues, watched, dtS);
    sleeps ||= isAsleep(binding);
  }
  if (sleeps) mappings.awake = mappings.awake.filter(binding => !isAsleep(binding));
  for (const light of mappings.layered) {
    const layers = mappings.active[light] as Layer[];
    layer(layers, light, cues, watched, crossfades, fades, lights, wishes);
  }
}

/** Makes these active: the mapping has something to do for them. */
function wake({ awake, byPair }: Mappings, pair: number): void {
  for (const binding of byPair[pair] ?? []) if (!awake.includes(binding)) awake.push(binding);
}

/** Inactive until its performer comes into the zone again. */
function isAsleep({ presence, own, sleeps }: Binding): boolean {
  return sleeps && own === 0 && presence?.level === 0;
}

function stepBinding(
  { active }: Mappings,
  binding: Binding,
  { levels }: Cues,
  { performers }: Watched,
  dtS: number,
): void {
  const { presence, level: before, lane, own } = binding;
  const one = performers[binding.performer] as WatchedPerformer;
  // Performers who aren't believed keep their levels: the guard fades them as they were.
  if (one.isKnown || isChoice(binding.mapping)) {
    // Performers who are off stage count as having left the zones.
    const target = presence === undefined ? (one.follows ? 1 : 0) : binding.curve(presence.level);
    binding.own = lane?.own ?? levelOf(own, target, binding.mapping.fade, one, dtS);
  }
  const level =
    binding.own * (levels[binding.of] as number) * (lane === undefined ? 1 : lane.master);
  if (level === before) return;
  binding.level = level;
  for (const one of binding.layers) restack(active, one, level > 0);
}

/** Its lane decides whether the level is known. */
function isChoice(mapping: PresenceMapping): boolean {
  return mapping.kind === 'follow' && mapping.choice !== undefined;
}

function levelOf(
  before: number,
  target: number,
  fade: EnvelopeOptions,
  { startsAfresh, risesInS }: WatchedPerformer,
  dtS: number,
): number {
  // After a full loss the levels start where the performer is now; there is nothing to fade from.
  if (target === before || startsAfresh) return target;
  const times = fade.inS < risesInS ? { inS: risesInS, outS: fade.outS } : fade;
  return stepEnvelope(before, target, dtS, times);
}
