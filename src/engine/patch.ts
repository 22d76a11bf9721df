import { encode } from '../fixtures/encode.js';
import type { Channel } from '../fixtures/profile.js';
import type { EngineState } from './state.js';

/** Values -> slots. The encoder lets nothing non-finite and nothing out of range through. */
export function patch(state: EngineState): void {
  const { levels } = state;
  for (const { channels, out, plan } of state.lights) {
    for (let c = 0; c < channels.length; c++) {
      encode(channels[c] as Channel, out[c] as number, levels, plan.firstSlot);
    }
  }
}
