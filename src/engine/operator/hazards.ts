import { toRaw } from '../../fixtures/encode.js';
import type { Channel } from '../../fixtures/profile.js';
import type { EnabledClass } from '../../protocols/osc/orders.js';
import { type GateState, isHeld, nextGate } from '../../safety/enable.js';
import { type HazardClass, isHazardousRaw, type RawRange } from '../../safety/hazard.js';
import { performersOf, touches } from '../../show/model/basis.js';
import type { FixturePlan, Show } from '../../show/model/model.js';
import { unreachable } from '../../stage/unreachable.js';
import type { Cues } from '../cues/cues.js';
import type { EnabledOutput, EngineEvent, KeptOff } from '../events/events.js';
import type { Orders } from '../events/orders.js';
import type { Watched } from '../people/watch.js';
import type { EnableReason } from '../values/enable-reasons.js';
import type { Lights } from '../values/lights.js';

/** The channels of one fixture with one hazard class, which leave their safe values only while enabled. */
export interface HazardOutput {
  readonly fixture: string;
  readonly hazard: EnabledClass;
  /** Its channels, in the arrays by channel. */
  readonly channels: Int32Array;
  /** Channels where only some values are hazardous, such as the strobing values of a shutter. */
  readonly partly: readonly PartlyHazardous[];
  /** Those who drive it, and through which mappings; empty if no mapping does. */
  readonly drivers: readonly Driver[];
  gate: GateState;
  /** What the events have said of it, and why it is off. */
  told: GateState;
  reason: EnableReason | undefined;
}

/** Hazardous outputs, all of them and section by section. */
export interface Hazards {
  readonly all: readonly HazardOutput[];
  readonly sections: readonly (readonly HazardOutput[])[];
}

interface PartlyHazardous {
  readonly at: number;
  readonly channel: Channel;
  readonly raws: readonly RawRange[];
}

export function createHazards(show: Show, lights: Lights): Hazards {
  const ofLight = lights.plans.map((_, light) =>
    outputsOf(lights, light, () => driversOf(show, lights, light)),
  );
  return {
    all: ofLight.flat(),
    sections: lights.sections.map(section => [...section].flatMap(light => ofLight[light] ?? [])),
  };
}

interface Driver {
  readonly performer: number;
  readonly mappings: readonly number[];
}

function driversOf(show: Show, { drivers }: Lights, light: number): Driver[] {
  return (drivers[light] ?? []).map(performer => ({
    performer,
    mappings: show.mappings.flatMap((mapping, index) =>
      touches(mapping, light) && performersOf(show, mapping).includes(performer) ? [index] : [],
    ),
  }));
}

function outputsOf(
  { plans, start }: Lights,
  light: number,
  driversOfIt: () => readonly Driver[],
): HazardOutput[] {
  const plan = plans[light] as FixturePlan;
  const first = start[light] as number;
  const partly = plan.profile.channels.flatMap((channel, c): PartlyHazardous[] => {
    const raws = plan.hazards[c] === 'ordinary' ? plan.strobes[c] : undefined;
    return raws === undefined ? [] : [{ at: first + c, channel, raws }];
  });
  const classes = new Set(plan.hazards.filter(isEnabledClass));
  if (partly.length > 0) classes.add('strobe');
  if (classes.size === 0) return [];
  const drivers = driversOfIt();
  return [...classes].map(
    (hazard): HazardOutput => ({
      fixture: plan.name,
      hazard,
      channels: Int32Array.from(
        plan.hazards.flatMap((one, c) => (one === hazard ? [first + c] : [])),
      ),
      partly: hazard === 'strobe' ? partly : [],
      drivers,
      // An enable that is held when an engine starts may have been held since before the previous engine died.
      gate: 'latched-off',
      told: 'off',
      reason: undefined,
    }),
  );
}

function isEnabledClass(hazard: HazardClass): hazard is EnabledClass {
  return hazard !== 'ordinary';
}

/** Orders, whom to believe -> which hazardous outputs may leave their safe values. */
export function stepGates(
  { all }: Hazards,
  orders: Orders,
  cues: Cues,
  watched: Watched,
  { operator }: Show,
  nowS: number,
  events: EngineEvent[],
): void {
  if (all.length === 0) return;
  const timeoutS = operator?.enableTimeoutS ?? 0;
  const news: EnableNews[] = [];
  for (const output of all) {
    const heard = isHeld(orders.enables[output.hazard], nowS, timeoutS);
    const before = output.gate;
    output.gate = gateOf(output, heard, orders, cues, watched, nowS, timeoutS);
    // Latched off with no hand on it, as at the start: it is simply off, and there is nothing to report.
    const gate = output.gate === 'latched-off' && !heard ? 'off' : output.gate;
    if (gate === output.told) continue;
    const wasOn = output.told === 'on';
    output.told = gate;
    const { fixture, hazard } = output;
    const reason = reasonOf(orders, watched, hazard, gate, before, wasOn);
    const { goneFrom } = orders.enables[hazard];
    const from = reason === 'hand-gone' ? goneFrom || undefined : orders.enablesFrom[hazard];
    const by = from === undefined ? {} : { by: from };
    output.reason = reason;
    tell(news, { fixture, hazard }, { kind: 'enable', gate, wasOn, reason, ...by });
  }
  for (const { what, outputs } of news) events.push({ ...what, outputs });
}

/** @param heard somebody holds its enable */
function gateOf(
  output: HazardOutput,
  heard: boolean,
  orders: Orders,
  cues: Cues,
  watched: Watched,
  nowS: number,
  timeoutS: number,
): GateState {
  const begins = nowS - orders.sinceS <= timeoutS;
  const isFree = !orders.allStopped && !orders.needsDesk && !orders.safeLookHeld;
  const isWell = isFree && !watched.feedSilent && !orders.enables[output.hazard].isDropped;
  return nextGate(output.gate, begins || heard, isWell && isTracked(output, cues, watched));
}

/** What the gates read. */
interface Seen {
  readonly hazards: Hazards;
  readonly orders: Orders;
  readonly cues: Cues;
  readonly watched: Watched;
  readonly lights: Lights;
  readonly show: Show;
}

/**
 * The hazardous outputs that these values would take from their safe values, and that stay safe as things stand now.
 * @param on for each light 1 if it is to be checked
 * @param values for each channel, physical; NaN leaves it as it is
 */
export function keptOff(seen: Seen, on: Uint8Array, values: Float64Array, nowS: number): KeptOff[] {
  const { hazards, lights } = seen;
  return lights.plans.flatMap(({ name }, light) =>
    on[light] !== 1
      ? []
      : hazards.all.flatMap((output): KeptOff[] => {
          const { fixture, hazard } = output;
          if (fixture !== name || !wouldLeaveSafe(output, values, lights)) return [];
          const reason = whyOff(seen, output, nowS);
          return reason === undefined ? [] : [{ fixture, hazard, reason }];
        }),
  );
}

/** The outputs of a class that stay off although its enable is now held, and whether that is all of them. */
export function keptOffOf(
  seen: Seen,
  hazard: EnabledClass,
  nowS: number,
): { readonly keptOff: readonly KeptOff[]; readonly areAllOff: boolean } {
  const outputs = seen.hazards.all.filter(output => output.hazard === hazard);
  const keptOff = outputs.flatMap((output): KeptOff[] => {
    const reason = whyOff(seen, output, nowS);
    return reason === undefined ? [] : [{ fixture: output.fixture, hazard, reason }];
  });
  return { keptOff, areAllOff: keptOff.length > 0 && keptOff.length === outputs.length };
}

/** As things stand now. @returns undefined if it may leave its safe values */
function whyOff(
  { orders, cues, watched, show }: Omit<Seen, 'lights'>,
  output: HazardOutput,
  nowS: number,
): EnableReason | undefined {
  const { hazard, told } = output;
  const timeoutS = show.operator?.enableTimeoutS ?? 0;
  const heard = isHeld(orders.enables[hazard], nowS, timeoutS);
  const gate = gateOf(output, heard, orders, cues, watched, nowS, timeoutS);
  if (gate === 'on') return undefined;
  if (gate === 'off' || !heard) return 'not-repeated';
  const why =
    told === 'latched-off'
      ? output.reason
      : reasonOf(orders, watched, hazard, gate, output.gate, told === 'on');
  return why ?? 'not-repeated';
}

function wouldLeaveSafe(
  { channels, partly }: HazardOutput,
  values: Float64Array,
  { safe }: Lights,
): boolean {
  const isSet = (c: number) => !Number.isNaN(values[c] as number);
  return (
    channels.some(c => isSet(c) && values[c] !== safe[c]) ||
    partly.some(
      ({ at, channel, raws }) =>
        isSet(at) && isHazardousRaw(raws, toRaw(channel, values[at] as number)),
    )
  );
}

type EnableEvent = Extract<EngineEvent, { kind: 'enable' }>;

interface EnableNews {
  readonly what: Omit<EnableEvent, 'outputs'>;
  readonly outputs: EnabledOutput[];
}

/** Outputs that change in one tick for one reason are one event. */
function tell(news: EnableNews[], output: EnabledOutput, what: EnableNews['what']): void {
  const { gate, wasOn, reason, by } = what;
  const same = news.find(
    one =>
      one.what.gate === gate &&
      one.what.wasOn === wasOn &&
      one.what.reason === reason &&
      one.what.by === by,
  );
  if (same === undefined) news.push({ what, outputs: [output] });
  else same.outputs.push(output);
}

/** After the guard, and stricter: at once, and only ever towards the safe values. */
export function gateHazards({ sections }: Hazards, section: number, { out, safe }: Lights): void {
  for (const output of sections[section] as readonly HazardOutput[]) {
    if (output.gate === 'on') continue;
    for (const c of output.channels) out[c] = safe[c] as number;
    for (const { at, channel, raws } of output.partly) {
      const raw = toRaw(channel, out[at] as number);
      if (isHazardousRaw(raws, raw)) out[at] = safe[at] as number;
    }
  }
}

/** All are latched off: the supervisor has taken the light. */
export function dropHazards({ all }: Hazards): void {
  for (const output of all) output.gate = 'latched-off';
}

function reasonOf(
  orders: Orders,
  { feedSilent }: Watched,
  hazard: EnabledClass,
  gate: GateState,
  before: GateState,
  wasOn: boolean,
): EnableReason | undefined {
  const { heardS, isDropped, goneFrom } = orders.enables[hazard];
  switch (gate) {
    case 'on':
      return undefined;
    case 'off':
      if (Number.isNaN(heardS)) return 'released';
      return wasOn && goneFrom !== undefined ? 'hand-gone' : 'not-repeated';
    case 'latched-off':
      if (before === 'latched-off') return wasOn ? 'engine-stalled' : 'engine-started';
      if (isDropped) return goneFrom === undefined ? 'released' : 'hand-gone';
      if (orders.allStopped) return 'everybody-stopped';
      if (orders.needsDesk) return 'desk-lost';
      if (orders.safeLookHeld) return 'safe-look';
      return feedSilent ? 'feed-silent' : 'nobody-tracked';
    default:
      return unreachable(gate);
  }
}

/** Somebody who drives it in this cue is believed; or nobody drives it. */
function isTracked({ drivers }: HazardOutput, { says }: Cues, watched: Watched): boolean {
  let isDriven = false;
  for (const { performer, mappings } of drivers) {
    if (!mappings.some(mapping => (says[mapping] as number) > 0)) continue;
    if (watched.performers[performer]?.follows === true) return true;
    isDriven = true;
  }
  return !isDriven;
}
