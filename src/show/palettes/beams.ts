import type { ProfileOptics } from '../../fixtures/profile.js';
import { type Degrees, toDegrees, toRadians } from '../../stage/units.js';
import type { BeamFile } from '../schema/palettes.js';

/** The parts of a profile, compiled or not, that its beam is made with. */
export interface Beamed {
  readonly channels: readonly {
    readonly attribute: string;
    readonly from: number;
    readonly to: number;
  }[];
  readonly optics?: ProfileOptics | undefined;
}

/** How a fixture makes a beam. */
export interface BeamMade {
  /** Zoom in degrees, Iris in per cent of the open beam. */
  readonly values: Readonly<Record<string, number>>;
  /** Full angle of what comes out, degrees. */
  readonly angleDeg: number;
}

/** Degrees. */
export function angleOf(beam: BeamFile): number {
  return typeof beam === 'number' ? beam : beam.angle;
}

/**
 * By Zoom, and by Iris for anything narrower. If there are both, both are set, so that each beam is the same whatever
 * came before it.
 * @returns why it can't, in words that continue after the name of the profile
 */
export function beamOn({ channels, optics }: Beamed, askedDeg: number): BeamMade | string {
  const rangeOf = (wanted: string) => {
    const channel = channels.find(({ attribute }) => attribute === wanted);
    return channel && sorted(channel.from, channel.to);
  };
  const [zoom, iris] = [rangeOf('Zoom'), rangeOf('Iris')];
  if (zoom === undefined && iris === undefined) {
    return 'has no Zoom or Iris';
  }
  const openDeg =
    zoom === undefined
      ? (optics?.beamAngleDeg ?? optics?.fieldAngleDeg)
      : Math.min(zoom[1], Math.max(zoom[0], askedDeg));
  if (openDeg === undefined) {
    return "doesn't say how wide its beam is with the Iris open: optics: { beamAngle: degrees }";
  }
  const values: Record<string, number> = {};
  if (zoom !== undefined) values.Zoom = openDeg;
  if (iris === undefined) return { values, angleDeg: openDeg };
  // Across the beam at any distance: D = 2 d tan(angle / 2).
  const wanted = (100 * halfTan(askedDeg)) / halfTan(openDeg);
  const open = Math.min(iris[1], Math.max(iris[0], Math.min(100, wanted)));
  values.Iris = Number(open.toPrecision(9));
  const halfDeg = toDegrees(Math.atan((open / 100) * halfTan(openDeg)) as never);
  return { values, angleDeg: 2 * halfDeg };
}

/** Whether a beam looks as wide as was asked; degrees. */
export function isAsAsked(angleDeg: number, askedDeg: number): boolean {
  return Math.abs(angleDeg - askedDeg) <= NEAR * askedDeg;
}

/** As a share of the angle: less than the width of a beam's edge. */
const NEAR = 0.02;

function halfTan(angleDeg: number): number {
  return Math.tan(toRadians((angleDeg / 2) as Degrees));
}

function sorted(a: number, b: number): readonly [number, number] {
  return [Math.min(a, b), Math.max(a, b)];
}
