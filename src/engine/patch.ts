import { encodeFixture } from '../fixtures/encode.js';
import type { EngineState } from './state.js';

/** Values -> slots. The encoder lets nothing non-finite and nothing out of range through. */
export function patch(state: EngineState): void {
  const { levels } = state;
  for (const { out, plan } of state.lights) {
    encodeFixture(plan.profile, out, levels, plan.firstSlot);
  }
}
