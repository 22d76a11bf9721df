import { stepEnvelope } from '../mapping/envelope.js';
import { governorOf, shareOf } from './layers.js';
import type { Binding, EngineState, Light } from './state.js';

/** Presence -> how much each mapping asks of each fixture; and LTP of all but intensity. */
export function map(state: EngineState, dtS: number): void {
  let sleeps = false;
  for (const binding of state.awake) {
    stepBinding(state, binding, dtS);
    sleeps ||= isAsleep(binding);
  }
  if (sleeps) state.awake = state.awake.filter(binding => !isAsleep(binding));
  for (const light of state.layered) layer(state, light);
}

/** Until its performer comes into the zone again. */
function isAsleep({ presence, level, sleeps }: Binding): boolean {
  return sleeps && level === 0 && presence?.level === 0;
}

function stepBinding(state: EngineState, binding: Binding, dtS: number): void {
  const { presence, level: before } = binding;
  const performer = state.performers[binding.performer];
  // Who isn't believed keeps their levels: the guard fades them as they were.
  if (performer === undefined || !performer.follows) return;
  const target = presence === undefined ? 1 : binding.curve(presence.level);
  if (target === before) return;
  // From full loss the levels start where the performer is now; there is nothing to fade from.
  const level = performer.startsAfresh
    ? target
    : stepEnvelope(before, target, dtS, binding.mapping.fade);
  binding.level = level;
  if (before === 0 && level > 0) {
    for (const one of binding.layers) one.light.active.push(one);
  } else if (before > 0 && level === 0) {
    for (const one of binding.layers) {
      const { active } = one.light;
      active.splice(active.indexOf(one), 1);
    }
  }
}

/** Who rose last lies on top, and crossfades over what is below. Intensity is the guard's. */
function layer(state: EngineState, light: Light): void {
  const { active, live, plan, classes, follow, crowd } = light;
  if (crowd === undefined) return;
  // From the loss on, a fixture that moves holds all that it shows; the change waits for the dark.
  if (
    light.moves &&
    (light.retreat.stage === 'fading' || !governorOf(state, light, crowd).follows)
  ) {
    return;
  }
  for (let c = 0; c < live.length; c++) {
    // Pan and tilt of a head that follows are the aim's.
    if (follow === undefined || classes[c] !== 'movement') live[c] = plan.base[c] ?? 0;
  }
  for (const one of active) {
    const { channels, values } = one;
    const share = shareOf(one);
    for (let i = 0; i < channels.length; i++) {
      const channel = channels[i] as number;
      const below = live[channel] ?? 0;
      // There is nothing between two positions of a wheel, and half way between two aims is neither: the
      // layer on top has it. A head goes there in the dark.
      const isWhole = light.stepped[channel] || classes[channel] === 'movement';
      const shown = isWhole && share > 0 ? 1 : share;
      live[channel] = below + shown * ((values[i] as number) - below);
    }
  }
}
