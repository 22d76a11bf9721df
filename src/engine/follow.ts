import type { FixturePlan, Show } from '../show/model.js';
import type { Estimate } from '../tracking/sighting.js';
import { followMapping, intensityOf } from './lights.js';
import { compileOptics, type FollowOptics } from './optics.js';

/** Whom a head follows, and how. */
export interface Follow {
  readonly performer: number;
  readonly name: string;
  /** Of the performer as the light of this head will find them. */
  readonly estimate: Estimate;
  readonly lagS: number;
  readonly aheadS: number;
  /** undefined: the mapping asks for nothing. */
  readonly optics: FollowOptics | undefined;
  readonly offset: { readonly x: number; readonly y: number; readonly z: number };
  /** What the last event said of its reach; nobody expects to be told that a head can aim. */
  saidReachable: boolean;
}

export function followOf(
  plan: FixturePlan,
  light: number,
  { mappings, performers }: Show,
  estimateOf: (performer: number, lagS: number) => Estimate,
): Follow | undefined {
  const mapping = followMapping(mappings, plan, light);
  if (mapping === undefined) return undefined;
  const { performer, offset, aheadS, optics } = mapping;
  const { lagS } = plan;
  const asksNothing = Object.values(optics).every(one => one === undefined);
  return {
    performer,
    name: performers[performer]?.name ?? '',
    offset,
    aheadS,
    lagS,
    estimate: estimateOf(performer, lagS),
    optics: asksNothing ? undefined : compileOptics(plan, optics, intensityOf(plan)),
    saidReachable: true,
  };
}
