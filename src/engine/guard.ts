import { fall, rise } from '../safety/ramp.js';
import { movedValue, stepRetreat } from '../safety/retreat.js';
import { fadeOf } from '../safety/watchdog.js';
import type { EngineState, Light, PerformerState } from './state.js';

/**
 * The last word: wanted values -> values that may go out. Each performer's wish for a fixture is
 * crossfaded with its safe value by the trust in that performer, then the highest wins; so a lost
 * performer brings up the safe value without taking the light from those who are still tracked.
 */
export function guard(state: EngineState, dtS: number): void {
  for (const light of state.lights) {
    if (light.views.length === 0) show(light);
    else {
      stepTrust(state, light, dtS);
      if (light.moves) guardMoving(state, light, dtS);
      else guardStill(light);
    }
  }
}

/** A fixture that no mapping touches shows its base values. */
function show(light: Light): void {
  light.out.set(light.live);
}

function stepTrust(state: EngineState, light: Light, dtS: number): void {
  const { watchdog } = state.show;
  for (const view of light.views) {
    const performer = state.performers[view.performer] as PerformerState;
    view.trust = performer.follows
      ? rise(view.trust, dtS, watchdog.returnS)
      : fall(view.trust, dtS, fadeSOf(state, light, performer));
  }
}

function fadeSOf(state: EngineState, light: Light, performer: PerformerState): number {
  return light.plan.fadeS ?? fadeOf(performer.watch.cause, state.show.watchdog);
}

function guardStill(light: Light): void {
  const { out, live, plan, intensity, views } = light;
  let trusted = 0;
  let level = 0;
  const safe = plan.safe[intensity] ?? 0;
  for (const view of views) {
    trusted = Math.max(trusted, view.trust);
    level = Math.max(level, safe + view.trust * (view.level - safe));
  }
  for (let c = 0; c < out.length; c++) {
    const safeValue = plan.safe[c] ?? 0;
    out[c] = c === intensity ? level : safeValue + trusted * ((live[c] ?? 0) - safeValue);
  }
}

/** Intensity first, movement after, in the dark. */
function guardMoving(state: EngineState, light: Light, dtS: number): void {
  const { out, live, from, plan, intensity, views, retreat, follow } = light;
  const governor = governorOf(state, light);
  const fadeS = fadeSOf(state, light, governor);
  stepRetreat(retreat, governor.follows, true, light.safeIsDark, dtS, fadeS, state.show.watchdog);
  if (retreat.departed) from.set(out);
  let wanted = 0;
  for (const view of views) {
    const trust = view.governs ? 1 : view.trust;
    wanted = Math.max(wanted, follow === undefined ? view.level : trust * view.level);
  }
  for (let c = 0; c < out.length; c++) {
    const safeValue = plan.safe[c] ?? 0;
    out[c] =
      c === intensity
        ? retreat.live * wanted + retreat.safe * safeValue
        : movedValue(retreat, from[c] ?? 0, live[c] ?? 0, safeValue);
  }
}

/** Whose state a head's own follows: whom it follows, or whoever is believed most. */
function governorOf(state: EngineState, light: Light): PerformerState {
  let best: PerformerState | undefined;
  for (const view of light.views) {
    const performer = state.performers[view.performer] as PerformerState;
    if (view.governs) return performer;
    if (best === undefined || (performer.follows && !best.follows)) best = performer;
  }
  return best as PerformerState;
}
