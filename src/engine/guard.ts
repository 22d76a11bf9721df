import { hasArrived, hasSettled, moveHead, POINTING } from '../fixtures/pointing.js';
import { fall, rise } from '../safety/ramp.js';
import { movedValue, steppedValue, stepRetreat } from '../safety/retreat.js';
import { chooseWayTo, degreesOf } from './aim.js';
import { radians } from './heads.js';
import { governorOf, shareAmong } from './layers.js';
import { compensate } from './optics.js';
import type { Crowd, EngineSection, EngineState, Light, PerformerState, Trust } from './state.js';
import { KIND, type LightTable } from './table.js';

/** Estimates -> how far each performer is trusted; mappings -> the intensity that is asked of each light. */
export function trust(state: EngineState, dtS: number): void {
  for (const one of state.trusts) stepTrust(state, one, dtS);
  for (const crowd of state.crowds) span(crowd);
  ask(state);
}

/**
 * The last word: wanted values -> values that may go out. Each performer's wish for a fixture is
 * crossfaded with its safe value by the trust in that performer, then the highest wins; so a lost
 * performer brings up the safe value without taking the light from those who are still tracked.
 */
export function guard(state: EngineState, section: EngineSection, dtS: number): void {
  compensate(state, section);
  const { kind } = state.table;
  for (const i of section.indices) {
    // A fixture that no mapping touches shows its base values.
    if (kind[i] === KIND.idle) goLive(state.table, i);
    else if (kind[i] === KIND.moving) guardMoving(state, i, dtS);
    else guardStill(state.table, i);
  }
}

function stepTrust(state: EngineState, trust: Trust, dtS: number): void {
  const performer = state.performers[trust.performer] as PerformerState;
  const { watchdog } = state.show;
  trust.level = performer.follows
    ? rise(trust.level, dtS, watchdog.returnS)
    : fall(trust.level, dtS, trust.fadeS ?? performer.watch.fadeS);
}

function span(crowd: Crowd): void {
  crowd.lowest = 1;
  crowd.highest = 0;
  for (const { level } of crowd.trusts) {
    if (level < crowd.lowest) crowd.lowest = level;
    if (level > crowd.highest) crowd.highest = level;
  }
}

/** The highest intensity that anything asks of each light. */
function ask(state: EngineState): void {
  const { table, asks, awake } = state;
  const { kind, intensity, crowds, safe, base, asked } = table;
  for (let i = 0; i < kind.length; i++) {
    const crowd = crowds[i];
    const c = intensity[i] as number;
    if (crowd === undefined || c < 0) continue;
    const least = base[c] as number;
    // Of those who ask for nothing, safe + trust * (base - safe) is highest at one end of the trusts.
    asked[i] =
      kind[i] === KIND.moving
        ? least
        : Math.max(
            mix(safe[c] as number, least, crowd.lowest),
            mix(safe[c] as number, least, crowd.highest),
          );
  }
  for (const { level, firstAsk, endAsk } of awake) {
    if (level === 0) continue;
    for (let k = firstAsk; k < endAsk; k++) {
      const i = asks.light[k] as number;
      const c = intensity[i] as number;
      const full = asks.full[k] as number;
      const trust = asks.trust[k] as Trust;
      let wish: number;
      if (kind[i] === KIND.moving) {
        const share = asks.governs[k] === 1 ? level : shareAmong(level, trust, crowds[i]);
        wish = share * full;
      } else {
        wish = mix(safe[c] as number, Math.max(base[c] as number, level * full), trust.level);
      }
      if (wish > (asked[i] as number)) asked[i] = wish;
    }
  }
}

function mix(safe: number, live: number, trust: number): number {
  return safe + trust * (live - safe);
}

function goLive({ start, live, out }: LightTable, i: number): void {
  const end = start[i + 1] as number;
  for (let c = start[i] as number; c < end; c++) out[c] = live[c] as number;
}

function guardStill(table: LightTable, i: number): void {
  const { start, live, safe, stepped, out, intensity, crowds, asked } = table;
  const trusted = crowds[i]?.highest ?? 0;
  const end = start[i + 1] as number;
  for (let c = start[i] as number; c < end; c++) {
    // A wheel stays where it is for as long as any light of the performers shows.
    const share = stepped[c] === 1 && trusted > 0 ? 1 : trusted;
    out[c] = mix(safe[c] as number, live[c] as number, share);
  }
  const at = intensity[i] as number;
  if (at >= 0) out[at] = asked[i] as number;
}

/** Intensity first, movement after, in the dark. */
function guardMoving(state: EngineState, i: number, dtS: number): void {
  const { table } = state;
  const { out, intensity, asked, wanted } = table;
  const at = intensity[i] as number;
  const followed = table.followed[i] as number;
  if (table.steady[i] === 1 && followed >= 0 && state.performers[followed]?.follows === true) {
    // Most heads, most of the time: nothing to step, and everything goes out as wanted.
    goLive(table, i);
    if (at < 0) return;
    wanted[i] = asked[i] as number;
    out[at] = asked[i] as number;
    return;
  }
  const light = state.lights[i] as Light;
  const { retreat } = light;
  retreatOf(state, light, dtS);
  table.steady[i] = retreat.stage === 'live' ? 1 : 0;
  if (at < 0) return;
  if (retreat.stage !== 'fading') wanted[i] = asked[i] as number;
  out[at] = retreat.live * (wanted[i] as number) + retreat.safe * (table.safe[at] as number);
}

/** All that it shows but its intensity, wherever it is between live and safe. */
function retreatOf(state: EngineState, light: Light, dtS: number): void {
  const { out, live, from, plan, retreat, crowd, follow, pointing } = light;
  if (crowd === undefined) return;
  const governor = governorOf(state, light, crowd);
  const { follows, watch } = governor;
  // A loss in the middle of a turn is a loss.
  light.turning &&= follows && retreat.stage !== 'live';
  const times = light.turning ? state.turn : state.show.watchdog;
  const fadeS = light.turning ? state.turn.returnS : (plan.fadeS ?? watch.fadeS);
  const isFollow = follow !== undefined && retreat.stage === 'to-live';
  const hasCome =
    pointing === undefined || (isFollow ? hasArrived(pointing) : hasSettled(pointing));
  stepRetreat(retreat, follows, true, light.safeIsDark, dtS, fadeS, times, hasCome);
  if (retreat.departed) from.set(out);
  for (let c = 0; c < out.length; c++) {
    const [was, is, safe] = [from[c] ?? 0, live[c] ?? 0, plan.safe[c] ?? 0];
    out[c] = light.stepped[c]
      ? steppedValue(retreat, true, was, is, safe)
      : movedValue(retreat, was, is, safe);
  }
  if (pointing === undefined || retreat.stage === 'safe') return;
  if (retreat.departed && retreat.stage === 'to-live' && follow !== undefined) {
    chooseWayTo(pointing, follow);
  }
  // From the next tick on: the last of the light may go out with this one.
  if (retreat.stage === 'to-safe' && !retreat.departed) {
    const [pan, tilt] = [plan.safe[plan.panChannel] ?? 0, plan.safe[plan.tiltChannel] ?? 0];
    moveHead(pointing, radians(pan), radians(tilt), dtS);
  }
  out[plan.panChannel] = degreesOf(pointing, POINTING.pan);
  out[plan.tiltChannel] = degreesOf(pointing, POINTING.tilt);
}
