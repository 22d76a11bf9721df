import { stepEnvelope } from '../mapping/envelope.js';
import type { Binding, EngineState, Layer, Light } from './state.js';

/** Presence -> what each performer wants of each fixture: HTP for intensity, LTP for the rest. */
export function map(state: EngineState, dtS: number): void {
  for (const binding of state.bindings) stepBinding(state, binding, dtS);
  for (const light of state.lights) mergeLayers(light);
}

function stepBinding(state: EngineState, binding: Binding, dtS: number): void {
  const performer = state.performers[binding.performer];
  // Who isn't believed keeps their levels: the guard fades them as they were.
  if (performer === undefined || !performer.follows) return;
  const target = binding.presence === undefined ? 1 : binding.curve(binding.presence.level);
  const before = binding.level;
  // From full loss the levels start where the performer is now; there is nothing to fade from.
  binding.level =
    performer.observation.settled && performer.watch.trust === 0
      ? target
      : stepEnvelope(before, target, dtS, binding.mapping.fade);
  if (before === 0 && binding.level > 0) binding.roseAt = state.lastTickS ?? 0;
}

function mergeLayers(light: Light): void {
  const { layers, views, live, plan, intensity } = light;
  if (layers.length === 0) return;
  for (let c = 0; c < live.length; c++) {
    if (light.follow === undefined || light.classes[c] !== 'movement') live[c] = plan.base[c] ?? 0;
  }
  const base = plan.base[intensity] ?? 0;
  for (const view of views) view.level = base;
  sortByRise(layers);
  for (const { binding, view, channels, values } of layers) {
    const { level } = binding;
    if (level === 0) continue;
    for (let i = 0; i < channels.length; i++) {
      const channel = channels[i] as number;
      const value = values[i] as number;
      if (channel === intensity) {
        // HTP: the highest of all that ask.
        view.level = Math.max(view.level, level * value);
      } else {
        // LTP: who rose last lies on top, and crossfades over what is below.
        const share = view.governs ? level : level * view.trust;
        const below = live[channel] ?? 0;
        live[channel] = below + share * (value - below);
      }
    }
  }
}

/** Insertion sort in place: the order hardly ever changes, and equal ones keep the file's order. */
function sortByRise(layers: Layer[]): void {
  for (let i = 1; i < layers.length; i++) {
    const layer = layers[i] as Layer;
    let at = i;
    while (at > 0 && (layers[at - 1] as Layer).binding.roseAt > layer.binding.roseAt) {
      layers[at] = layers[at - 1] as Layer;
      at -= 1;
    }
    layers[at] = layer;
  }
}
