import { toRaw } from '../fixtures/encode.js';
import type { Channel } from '../fixtures/profile.js';
import type { EnabledClass } from '../protocols/osc/orders.js';
import { type GateState, isHeld, nextGate } from '../safety/enable.js';
import { type HazardClass, isHazardousRaw, type RawRange } from '../safety/hazard.js';
import type { Show } from '../show/model.js';
import { unreachable } from '../stage/unreachable.js';
import type { EnableReason } from './enable-reasons.js';
import type { EngineSection, EngineState, Light } from './state.js';
import type { LightTable } from './table.js';

/** What of one fixture has one hazard class, and leaves its safe values only while it is enabled. */
export interface HazardOutput {
  readonly fixture: string;
  /** Index of the fixture in the show. */
  readonly light: number;
  readonly hazard: EnabledClass;
  /** Its channels, in the table's arrays. */
  readonly channels: Int32Array;
  /** Channels of which only some values are: those of a shutter at which it strobes. */
  readonly partly: readonly PartlyHazardous[];
  /** Those who drive it; none where no mapping does. */
  readonly performers: readonly number[];
  gate: GateState;
  /** What the events have said of it. */
  told: GateState;
}

interface PartlyHazardous {
  readonly at: number;
  readonly channel: Channel;
  readonly raws: readonly RawRange[];
}

export function createHazards(
  show: Show,
  table: LightTable,
  lights: readonly Light[],
): HazardOutput[] {
  return show.fixtures.flatMap((plan, index) => {
    const start = table.start[index] as number;
    const partly = plan.profile.channels.flatMap((channel, c): PartlyHazardous[] => {
      const raws = plan.hazards[c] === 'ordinary' ? plan.strobes[c] : undefined;
      return raws === undefined ? [] : [{ at: start + c, channel, raws }];
    });
    const classes = new Set(plan.hazards.filter(isEnabledClass));
    if (partly.length > 0) classes.add('strobe');
    return [...classes].map(
      (hazard): HazardOutput => ({
        fixture: plan.name,
        light: index,
        hazard,
        channels: Int32Array.from(
          plan.hazards.flatMap((one, c) => (one === hazard ? [start + c] : [])),
        ),
        partly: hazard === 'strobe' ? partly : [],
        performers: lights[index]?.crowd?.trusts.map(trust => trust.performer) ?? [],
        // Whoever holds the enable of an engine that has just begun held that of one that died.
        gate: 'spent',
        told: 'off',
      }),
    );
  });
}

function isEnabledClass(hazard: HazardClass): hazard is EnabledClass {
  return hazard !== 'ordinary';
}

/** Orders, trust -> which hazardous outputs may leave their safe values. */
export function stepGates(state: EngineState, nowS: number): void {
  const { hazards, orders, show } = state;
  if (hazards.length === 0) return;
  const timeoutS = show.operator?.enableTimeoutS ?? 0;
  const begins = nowS - orders.sinceS <= timeoutS;
  const deskLost = orders.deskLost && show.operator?.desk === 'required';
  const allWell = !state.feedSilent && !orders.allStopped && !deskLost;
  for (const output of hazards) {
    const heard = isHeld(orders.enables[output.hazard], nowS, timeoutS);
    const before = output.gate;
    output.gate = nextGate(before, begins || heard, allWell && isTracked(state, output));
    // Latched off with no hand on it, as at the start: off is off, and there is nothing to tell.
    const gate = output.gate === 'spent' && !heard ? 'off' : output.gate;
    if (gate === output.told) continue;
    const wasOn = output.told === 'on';
    output.told = gate;
    const { fixture, hazard } = output;
    const from = orders.enablesFrom[hazard];
    const by = from === undefined ? {} : { by: from };
    const reason = reasonOf(state, output, gate, before, wasOn);
    state.events.push({ kind: 'enable', fixture, hazard, gate, wasOn, reason, ...by });
  }
}

/** After the guard, and harder than it: at once, and only ever towards the safe values. */
export function gateHazards({ table }: EngineState, { hazards }: EngineSection): void {
  for (const output of hazards) {
    if (output.gate === 'on') continue;
    for (const c of output.channels) table.out[c] = table.safe[c] as number;
    for (const { at, channel, raws } of output.partly) {
      const raw = toRaw(channel, table.out[at] as number);
      if (isHazardousRaw(raws, raw)) table.out[at] = table.safe[at] as number;
    }
  }
}

function reasonOf(
  { orders, show, feedSilent }: EngineState,
  { hazard }: HazardOutput,
  gate: GateState,
  before: GateState,
  wasOn: boolean,
): EnableReason | undefined {
  switch (gate) {
    case 'on':
      return undefined;
    case 'off':
      return Number.isNaN(orders.enables[hazard].heardS) ? 'released' : 'not-repeated';
    case 'spent':
      if (before === 'spent') return wasOn ? 'engine-stalled' : 'engine-started';
      if (orders.allStopped) return 'everybody-stopped';
      if (orders.deskLost && show.operator?.desk === 'required') return 'desk-lost';
      return feedSilent ? 'feed-silent' : 'nobody-tracked';
    default:
      return unreachable(gate);
  }
}

/** Somebody who drives it is believed, or nobody drives it. */
function isTracked(state: EngineState, { performers }: HazardOutput): boolean {
  if (performers.length === 0) return true;
  for (const performer of performers) {
    if (state.performers[performer]?.follows === true) return true;
  }
  return false;
}
