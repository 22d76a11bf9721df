import type { FixturePlan } from '../show/model.js';
import { createEstimate, type Estimate } from '../tracking/sighting.js';
import { compileOptics, type FollowOptics } from './optics.js';
import type { Binding } from './state.js';

/** A performer predicted beyond the moment of light, for heads that move late. */
export interface Lead {
  readonly performer: number;
  readonly lagS: number;
  readonly estimate: Estimate;
}

export interface Follow {
  readonly performer: number;
  /** Of the performer, or of a lead. */
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
  index: number,
  bindings: readonly Binding[],
  intensity: number,
  estimateOf: (performer: number, lagS: number) => Estimate,
): Follow | undefined {
  for (const { mapping } of bindings) {
    if (mapping.kind !== 'follow' || !mapping.heads.includes(index) || plan.head === undefined) {
      continue;
    }
    const { performer, offset, aheadS, optics } = mapping;
    const { lagS } = plan;
    const asksNothing = Object.values(optics).every(one => one === undefined);
    return {
      performer,
      offset,
      aheadS,
      lagS,
      estimate: estimateOf(performer, lagS),
      optics: asksNothing ? undefined : compileOptics(plan, optics, intensity),
      saidReachable: true,
    };
  }
  return undefined;
}

export function leadOf(leads: Lead[], performer: number, lagS: number): Lead {
  const there = leads.find(lead => lead.performer === performer && lead.lagS === lagS);
  if (there !== undefined) return there;
  const lead = { performer, lagS, estimate: createEstimate() };
  leads.push(lead);
  return lead;
}
