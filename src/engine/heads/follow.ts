import type { FixturePlan, FollowMappingPlan, Show } from '../../show/model/model.js';
import type { Estimate } from '../../tracking/sighting.js';
import { believedOf, intensityOf } from '../values/lights.js';
import { compileOptics, type FollowOptics } from './optics.js';

/** Whom a head follows, and how. */
export interface Follow {
  performer: number;
  /** Whose trust it goes by, as in `Watched.believed`. */
  readonly governor: number;
  readonly name: string;
  /** Where the performer will be when the light of this head arrives. */
  readonly estimate: Estimate;
  readonly lagS: number;
  readonly aheadS: number;
  /** undefined: the mapping asks for nothing. */
  readonly optics: FollowOptics | undefined;
  readonly offset: { readonly x: number; readonly y: number; readonly z: number };
  /** What the last event said about its reach; at the start it counts as in reach, which is no news. */
  saidReachable: boolean;
  /** For how long it has been otherwise, seconds. */
  otherwiseS: number;
  /** How long its light takes to go out when they leave the stage, seconds. */
  readonly leaveS: number;
}

/** Whether both mappings aim a head at the same point with the same beam. */
export function meansSame(a: Follow, b: Follow): boolean {
  return (
    a.performer === b.performer &&
    a.aheadS === b.aheadS &&
    a.offset.x === b.offset.x &&
    a.offset.y === b.offset.y &&
    a.offset.z === b.offset.z &&
    // They are as they stand in the file.
    JSON.stringify(a.optics?.options) === JSON.stringify(b.optics?.options)
  );
}

/** @param index of a follow mapping */
export function followOf(
  plan: FixturePlan,
  index: number,
  show: Show,
  estimateOf: (performer: number, lagS: number) => Estimate,
  whom?: Pick<FollowMappingPlan, 'performer' | 'offset'>,
): Follow {
  const mapping = show.mappings[index] as FollowMappingPlan;
  const { aheadS, optics } = mapping;
  const { performer, offset } = whom ?? mapping;
  const { lagS } = plan;
  const { performers } = show;
  const asksNothing = Object.values(optics).every(one => one === undefined);
  return {
    performer,
    governor: believedOf(show, index)[0] as number,
    name: performers[performer]?.name ?? '',
    offset,
    aheadS,
    lagS,
    estimate: estimateOf(performer, lagS),
    optics: asksNothing ? undefined : compileOptics(plan, optics, intensityOf(plan)),
    saidReachable: true,
    otherwiseS: 0,
    leaveS: mapping.fade.outS,
  };
}
