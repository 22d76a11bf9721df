import { type Curve, compileCurve } from '../mapping/curve.js';
import { stepEnvelope } from '../mapping/envelope.js';
import type { Presence } from '../mapping/presence.js';
import type { MappingPlan, Show } from '../show/model.js';
import {
  type Crossfade,
  type CrossfadeGroup,
  type Crossfades,
  crossfadeOf,
  goesLive,
  governorOf,
  shareAmong,
} from './crossfade.js';
import type { Fades } from './fades.js';
import { KIND, type Lights } from './lights.js';
import type { Watched, WatchedPerformer } from './watch.js';
import type { Presences } from './zones.js';

/** What the mappings ask for. */
export interface Mappings {
  readonly bindings: readonly Binding[];
  /** For each zone and performer (zone * performers + performer) what their presence drives. */
  readonly byPair: readonly (readonly Binding[])[];
  /** Those with a level, or with something that drives one: of a house's many, the few to look at. */
  awake: Binding[];
  /** Lights of which some mapping sets more than the intensity. */
  readonly layered: readonly number[];
  /** For each light its layers whose binding is above 0, in the order in which they rose: the latest is on top. */
  readonly active: readonly Layer[][];
}

type PresenceMapping = Exclude<MappingPlan, { kind: 'signal' }>;

/** One mapping as one performer drives it. */
export interface Binding {
  readonly index: number;
  readonly mapping: PresenceMapping;
  readonly performer: number;
  readonly curve: Curve;
  /** Presence in this zone drives it; undefined for a follow mapping. */
  readonly presence: Presence | undefined;
  /** Without presence it asks for nothing, and needs no look. */
  readonly sleeps: boolean;
  /** 0..1 after curve and fade. */
  level: number;
  /** What it does to fixtures beside their intensity. */
  readonly layers: readonly Layer[];
}

/** What one binding sets of one light beside its intensity. */
export interface Layer {
  readonly binding: Binding;
  readonly light: number;
  readonly crossfade: Crossfade;
  /** The head follows this performer: its fade stands for the crossfade. */
  readonly governs: boolean;
  /** The channels that it sets, in the arrays by channel, and their values at full level. */
  readonly channels: readonly number[];
  readonly values: readonly number[];
}

export function createMappings(
  show: Show,
  presences: Presences,
  lights: Lights,
  crossfades: Crossfades,
): Mappings {
  const bindings: Binding[] = [];
  const performers = show.performers.length;
  const byPair = Array.from({ length: presences.zones.length * performers }, (): Binding[] => []);
  for (const mapping of show.mappings) {
    if (mapping.kind === 'signal') continue;
    for (const performer of performersOf(mapping)) {
      const binding = bind(mapping, performer, bindings.length, presences, lights, crossfades);
      bindings.push(binding);
      if (mapping.kind === 'zone') byPair[mapping.zone * performers + performer]?.push(binding);
    }
  }
  const layered = new Set(bindings.flatMap(({ layers }) => layers.map(({ light }) => light)));
  return {
    bindings,
    byPair,
    awake: bindings.filter(({ sleeps }) => !sleeps),
    layered: [...layered].sort((a, b) => a - b),
    active: lights.plans.map(() => []),
  };
}

function performersOf(mapping: PresenceMapping): readonly number[] {
  return mapping.kind === 'follow' ? [mapping.performer] : mapping.performers;
}

function bind(
  mapping: PresenceMapping,
  performer: number,
  index: number,
  { zones }: Presences,
  lights: Lights,
  crossfades: Crossfades,
): Binding {
  const isFollow = mapping.kind === 'follow';
  const curve = compileCurve(isFollow ? 'linear' : mapping.curve);
  const layers: Layer[] = [];
  const binding: Binding = {
    index,
    mapping,
    performer,
    curve,
    presence: isFollow ? undefined : zones[mapping.zone]?.presences[performer],
    sleeps: !isFollow && curve(0) === 0,
    level: 0,
    layers,
  };
  const { start, intensity, followed } = lights;
  const at = ({ fixture, channel }: MappingPlan['values'][number]) =>
    (start[fixture] as number) + channel;
  const others = mapping.values.filter(one => at(one) !== intensity[one.fixture]);
  for (const light of new Set(others.map(({ fixture }) => fixture))) {
    const mine = others.filter(({ fixture }) => fixture === light);
    layers.push({
      binding,
      light,
      crossfade: crossfadeOf(crossfades, light, performer),
      governs: followed[light] === performer,
      channels: mine.map(at),
      values: mine.map(({ value }) => value),
    });
  }
  layers.sort((a, b) => a.light - b.light);
  return binding;
}

/**
 * Presence -> how much each mapping asks of each fixture; and LTP of all but intensity.
 * @param crossfades of the last tick, as are the fades
 */
export function map(
  mappings: Mappings,
  { entered }: Presences,
  watched: Watched,
  crossfades: Crossfades,
  fades: Fades,
  lights: Lights,
  dtS: number,
): void {
  for (const pair of entered) wake(mappings, pair);
  let sleeps = false;
  for (const binding of mappings.awake) {
    stepBinding(mappings, binding, watched, dtS);
    sleeps ||= isAsleep(binding);
  }
  if (sleeps) mappings.awake = mappings.awake.filter(binding => !isAsleep(binding));
  for (const light of mappings.layered) layer(mappings, light, watched, crossfades, fades, lights);
}

/** From now on the mapping has something to do for these. */
function wake({ awake, byPair }: Mappings, pair: number): void {
  for (const binding of byPair[pair] ?? []) if (!awake.includes(binding)) awake.push(binding);
}

/** Until its performer comes into the zone again. */
function isAsleep({ presence, level, sleeps }: Binding): boolean {
  return sleeps && level === 0 && presence?.level === 0;
}

function stepBinding(
  { active }: Mappings,
  binding: Binding,
  { performers }: Watched,
  dtS: number,
): void {
  const { presence, level: before } = binding;
  const one = performers[binding.performer] as WatchedPerformer;
  // Who isn't believed keeps their levels: the guard fades them as they were.
  if (!one.isKnown) return;
  // Of who is off stage, as if they had left the zones.
  const target = presence === undefined ? (one.follows ? 1 : 0) : binding.curve(presence.level);
  if (target === before) return;
  const { fade } = binding.mapping;
  const { risesInS } = one;
  const times = fade.inS < risesInS ? { inS: risesInS, outS: fade.outS } : fade;
  // From full loss the levels start where the performer is now; there is nothing to fade from.
  const level = one.startsAfresh ? target : stepEnvelope(before, target, dtS, times);
  binding.level = level;
  if (before === 0 && level > 0) {
    for (const one of binding.layers) active[one.light]?.push(one);
  } else if (before > 0 && level === 0) {
    for (const one of binding.layers) {
      const stack = active[one.light] as Layer[];
      stack.splice(stack.indexOf(one), 1);
    }
  }
}

/** Who rose last lies on top, and crossfades over what is below. Intensity is the guard's. */
function layer(
  { active }: Mappings,
  light: number,
  watched: Watched,
  crossfades: Crossfades,
  fades: Fades,
  { start, wanted, base, kind, followed, movement, stepped }: Lights,
): void {
  const group = crossfades.ofLight[light] as CrossfadeGroup;
  const whom = followed[light] as number;
  // From the loss on, a fixture that moves holds all that it shows; the change waits for the dark.
  if (
    kind[light] === KIND.moving &&
    (fades.retreats[light]?.stage === 'fading' || !goesLive(governorOf(group, whom, watched), whom))
  ) {
    return;
  }
  const end = start[light + 1] as number;
  for (let c = start[light] as number; c < end; c++) {
    // Pan and tilt of a head that follows are the aim's.
    if (whom < 0 || movement[c] === 0) wanted[c] = base[c] as number;
  }
  for (const { binding, crossfade, governs, channels, values } of active[light] as Layer[]) {
    const share = governs ? binding.level : shareAmong(binding.level, crossfade, group);
    for (let i = 0; i < channels.length; i++) {
      const c = channels[i] as number;
      const below = wanted[c] as number;
      // There is nothing between two positions of a wheel, and half way between two aims is neither: the
      // layer on top has it. A head goes there in the dark.
      const isWhole = stepped[c] === 1 || movement[c] === 1;
      const shown = isWhole && share > 0 ? 1 : share;
      wanted[c] = below + shown * ((values[i] as number) - below);
    }
  }
}
