import { fall, rise } from '../safety/ramp.js';
import { movedValue, stepRetreat } from '../safety/retreat.js';
import { governorOf, shareOf } from './layers.js';
import type { Crowd, EngineState, Light, PerformerState, Trust } from './state.js';

/**
 * The last word: wanted values -> values that may go out. Each performer's wish for a fixture is
 * crossfaded with its safe value by the trust in that performer, then the highest wins; so a lost
 * performer brings up the safe value without taking the light from those who are still tracked.
 */
export function guard(state: EngineState, dtS: number): void {
  for (const trust of state.trusts) stepTrust(state, trust, dtS);
  for (const crowd of state.crowds) span(crowd);
  for (const light of state.lights) {
    const { crowd } = light;
    // A fixture that no mapping touches shows its base values.
    if (crowd === undefined) light.out.set(light.live);
    else if (light.moves) guardMoving(state, light, crowd, dtS);
    else guardStill(light, crowd);
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

function guardStill(light: Light, crowd: Crowd): void {
  const { out, live, plan, intensity, active } = light;
  const trusted = crowd.highest;
  for (let c = 0; c < out.length; c++) {
    const safe = plan.safe[c] ?? 0;
    out[c] = safe + trusted * ((live[c] ?? 0) - safe);
  }
  if (intensity < 0) return;
  const safe = plan.safe[intensity] ?? 0;
  const base = plan.base[intensity] ?? 0;
  // Of those who ask for nothing, safe + trust * (base - safe) is highest at one end of the trusts.
  let highest = Math.max(safe + crowd.lowest * (base - safe), safe + crowd.highest * (base - safe));
  for (const { binding, trust, intensity: full } of active) {
    if (full === undefined) continue;
    const wanted = Math.max(base, binding.level * full);
    highest = Math.max(highest, safe + trust.level * (wanted - safe));
  }
  out[intensity] = highest;
}

/** Intensity first, movement after, in the dark. */
function guardMoving(state: EngineState, light: Light, crowd: Crowd, dtS: number): void {
  const { out, live, from, plan, intensity, active, retreat } = light;
  const governor = governorOf(state, light, crowd);
  if (retreat.stage === 'live' && governor.follows) {
    // Most heads, most of the time: nothing to step, and everything goes out as wanted.
    for (let c = 0; c < out.length; c++) out[c] = live[c] as number;
  } else {
    const fadeS = plan.fadeS ?? governor.watch.fadeS;
    stepRetreat(retreat, governor.follows, true, light.safeIsDark, dtS, fadeS, state.show.watchdog);
    if (retreat.departed) from.set(out);
    for (let c = 0; c < out.length; c++) {
      out[c] = movedValue(retreat, from[c] ?? 0, live[c] ?? 0, plan.safe[c] ?? 0);
    }
  }
  if (intensity < 0) return;
  if (retreat.stage !== 'fading') {
    light.wanted = plan.base[intensity] ?? 0;
    for (const one of active) {
      if (one.intensity === undefined) continue;
      light.wanted = Math.max(light.wanted, shareOf(one) * one.intensity);
    }
  }
  out[intensity] = retreat.live * light.wanted + retreat.safe * (plan.safe[intensity] ?? 0);
}
