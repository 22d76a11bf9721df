import { encodeFixture } from '../../fixtures/encode.js';
import type { FixturePlan, Show } from '../../show/model/model.js';
import { safeLook } from '../../show/model/safe-look.js';
import { channelsOf, type Lights } from '../values/lights.js';

/** What goes to the wire. */
export interface Patch {
  /** Slots of all universes, 512 each in the order of the show. */
  readonly levels: Uint8Array;
  readonly sections: readonly (readonly PatchedLight[])[];
}

interface PatchedLight {
  readonly plan: FixturePlan;
  /** Its output, physical. */
  readonly out: Float64Array;
}

export function createPatch(show: Show, lights: Lights): Patch {
  return {
    levels: safeLook(show),
    sections: lights.sections.map(section =>
      Array.from(section, light => ({
        plan: lights.plans[light] as FixturePlan,
        out: channelsOf(lights, lights.out, light),
      })),
    ),
  };
}

/** Values -> slots. The encoder lets nothing non-finite and nothing out of range through. */
export function patch({ levels, sections }: Patch, section: number): void {
  for (const { out, plan } of sections[section] as readonly PatchedLight[]) {
    encodeFixture(plan.profile, out, levels, plan.firstSlot);
  }
}
