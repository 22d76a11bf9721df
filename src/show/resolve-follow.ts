import { partAboveM } from '../fixtures/optics.js';
import { vec3 } from '../stage/vector.js';
import type { FollowMappingPlan, PerformerPlan } from './model.js';
import type { FollowMappingFile } from './schema-mappings.js';

/** What a follow mapping asks of aim and optics. */
export function followOptionsOf(
  { offset, part, ahead, beam, compensate, focus }: FollowMappingFile,
  { heightM, wornAtM }: Pick<PerformerPlan, 'heightM' | 'wornAtM'>,
): Pick<FollowMappingPlan, 'offset' | 'aheadS' | 'optics'> {
  const [x, y, z] = offset;
  return {
    offset: vec3(x, y, z + (part === undefined ? 0 : partAboveM(part, heightM, wornAtM))),
    aheadS: ahead,
    optics: {
      beam: beam && { diameterM: beam.diameter, by: beam.by },
      compensate: compensate && {
        referenceM: compensate.reference,
        least: compensate.least,
        most: compensate.most,
      },
      focus,
    },
  };
}
