import { encodeFixture } from '../fixtures/encode.js';
import type { EngineSection, EngineState } from './state.js';

/** Values -> slots. The encoder lets nothing non-finite and nothing out of range through. */
export function patch({ levels }: EngineState, { lights }: EngineSection): void {
  for (const { out, plan } of lights) {
    encodeFixture(plan.profile, out, levels, plan.firstSlot);
  }
}
