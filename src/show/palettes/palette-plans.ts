import type { Xy } from '../../colour/chromaticity.js';
import type { Vec3 } from '../../stage/vector.js';
import type { BeamMade } from './beams.js';
import type { ColourMade } from './colours.js';

/** A colour of the palette; looks have it as attributes already. */
export interface ColourPlan {
  readonly name: string;
  readonly label: string;
  readonly xy: Xy;
  /** Per cent of a fixture's full output; undefined: as much as it can. */
  readonly luminance: number | undefined;
  readonly on: readonly ColourUse[];
}

/** How a fixture makes a colour. */
export interface ColourUse extends ColourMade {
  /** Index of the fixture. */
  readonly fixture: number;
}

/** A beam of the palette; looks have it as attributes already. */
export interface BeamPlan {
  readonly name: string;
  readonly label: string;
  /** Full angle, degrees. */
  readonly angleDeg: number;
  readonly on: readonly (BeamMade & { readonly fixture: number })[];
}

/** How a head aims at a place. */
export interface Aimed {
  readonly panDeg: number;
  readonly tiltDeg: number;
  /** Between its beam and the place, degrees; 0 where it reaches it. */
  readonly missedByDeg: number;
}

/** A place at which looks aim; they have it as Pan and Tilt already. */
export interface TargetPlan {
  readonly name: string;
  readonly label: string;
  readonly kind: 'point' | 'fixture';
  /** Metres, stage frame. */
  readonly at: Readonly<Vec3>;
  readonly on: readonly (Aimed & { readonly fixture: number })[];
}
