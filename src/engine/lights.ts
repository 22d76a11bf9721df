import { attributeClass } from '../fixtures/attributes.js';
import { createRetreat } from '../safety/retreat.js';
import type { FixturePlan } from '../show/model.js';
import { moves, safeIsDark } from '../show/safe-look.js';
import type { Estimate } from '../tracking/sighting.js';
import { followOf } from './follow.js';
import { type HeadRoom, pointingOf } from './heads.js';
import type { Binding, Crowd, Light, Trust } from './state.js';
import type { Ask, LightTable } from './table.js';

/** What the lights of a show have in common while they are made. */
export interface LightMaking {
  readonly table: LightTable;
  readonly bindings: readonly Binding[];
  /** Those made so far, by performer and fade, and by performers and fade: lights share them. */
  readonly trusts: Map<string, Trust>;
  readonly crowds: Map<string, Crowd>;
  readonly headRoom: HeadRoom;
  /** What is asked of the lights made so far. */
  readonly asks: Ask[];
  /** A performer as the light of a fixture with this lag will find them. */
  readonly estimateOf: (performer: number, lagS: number) => Estimate;
}

/** A fixture at run time; what the mappings ask of it is added to `making.asks` and to their bindings. */
export function createLight(plan: FixturePlan, index: number, making: LightMaking): Light {
  const { table, bindings, trusts, crowds, headRoom, asks, estimateOf } = making;
  const { channels } = plan.profile;
  const mine = bindings.filter(
    ({ mapping }) =>
      mapping.values.some(value => value.fixture === index) ||
      (mapping.kind === 'follow' && mapping.heads.includes(index)),
  );
  const intensity = channels.findIndex(one => attributeClass(one.attribute) === 'intensity');
  const follow = followOf(plan, index, mine, intensity, estimateOf);
  const trustOf = (performer: number): Trust =>
    shared(trusts, `${performer}/${plan.fadeS}`, () => ({
      performer,
      fadeS: plan.fadeS,
      level: 0,
    }));
  const performers = [...new Set(mine.map(binding => binding.performer))].sort((a, b) => a - b);
  const crowd =
    performers.length === 0
      ? undefined
      : shared(crowds, `${performers.join(',')}/${plan.fadeS}`, () => ({
          trusts: performers.map(trustOf),
          lowest: 0,
          highest: 0,
        }));
  const light: Light = {
    index,
    plan,
    channels,
    classes: channels.map(channel => attributeClass(channel.attribute)),
    stepped: channels.map(channel => channel.snap),
    moves: moves(plan),
    safeIsDark: safeIsDark(plan),
    intensity,
    retreat: createRetreat(),
    live: table.live.subarray(table.start[index], table.start[index + 1]),
    out: table.out.subarray(table.start[index], table.start[index + 1]),
    from: Float64Array.from(plan.safe),
    crowd,
    isLayered: mine.some(({ mapping }) =>
      mapping.values.some(value => value.fixture === index && value.channel !== intensity),
    ),
    active: [],
    follow,
    pointing: pointingOf(plan, index, headRoom),
    turning: false,
  };
  for (const binding of mine) {
    const values = binding.mapping.values.filter(value => value.fixture === index);
    const trust = trustOf(binding.performer);
    const governs = follow?.performer === binding.performer;
    const full = values.find(value => value.channel === intensity)?.value;
    if (full !== undefined) asks.push({ binding, light: index, full, trust, governs });
    const others = values.filter(value => value.channel !== intensity);
    if (others.length === 0) continue;
    binding.layers.push({
      binding,
      light,
      trust,
      governs,
      channels: others.map(value => value.channel),
      values: others.map(value => value.value),
    });
  }
  return light;
}

function shared<T>(made: Map<string, T>, key: string, make: () => T): T {
  const there = made.get(key);
  if (there !== undefined) return there;
  const fresh = make();
  made.set(key, fresh);
  return fresh;
}
