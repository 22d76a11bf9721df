import { PLACEHOLDER } from '../show/resolve/builtin-profiles.js';
import { compose, type Rotation, rotationFromTurns, turnsFromRotation } from '../stage/rotation.js';
import { type Radians, toDegrees } from '../stage/units.js';
import { type Vec3, vec3 } from '../stage/vector.js';
import { applyTo, rotationOf } from './affine.js';
import { clipped } from './archive.js';
import type { HeadAxes, ModeImport } from './gdtf-profile.js';
import type { MvrAddress, MvrFixture } from './mvr.js';
import type { Remarks } from './outcome.js';

/** A fixture as it will stand in a show file; keys as there. */
export interface FixtureDraft {
  label?: string;
  profile: string;
  mode?: string;
  unpatched?: true;
  universe?: number;
  address?: number;
  position?: [number, number, number];
  orientation?: 'standing' | { x: number; y: number; z: number };
}

/** What became of the GDTF file of a fixture. */
export interface Kind {
  readonly profile: string;
  readonly modes: readonly ModeImport[];
}

/** Where the plot lies in the stage frame: `stage = origin + turn * plot`. */
export interface PlotPlace {
  readonly origin: Readonly<Vec3>;
  /** About z, anticlockwise seen from above. */
  readonly turn: Radians;
}

export const SAME_FRAME: PlotPlace = { origin: vec3(0, 0, 0), turn: 0 as Radians };

/**
 * Number that a plot gives to the first DMX break of GDTF, which is 1 there. MVR doesn't say how the two
 * go together, has 0 where nothing is written, and 0 in its example: so files count from 0 or from 1.
 */
export function breakCounting(fixtures: readonly MvrFixture[]): 0 | 1 {
  const hasZero = fixtures.some(({ addresses }) => addresses.some(one => one.dmxBreak === 0));
  return hasZero ? 0 : 1;
}

export interface NamedDraft {
  /** Behind the name of the fixture; empty for its first part. */
  readonly suffix: string;
  readonly draft: FixtureDraft;
}

/**
 * A fixture of the plot as fixtures of a show: one for each of its DMX addresses (breaks). What can't be
 * output yet is there all the same, as unpatched; what nobody knows how to drive has the placeholder
 * profile.
 */
export function fixtureDrafts(
  fixture: MvrFixture,
  kind: Kind | undefined,
  place: PlotPlace,
  firstBreak: 0 | 1,
  remarks: Remarks,
): NamedDraft[] {
  const { where } = fixture;
  const mode = kind && modeOf(fixture, kind);
  const posed = poseOf(fixture, mode?.axes, place, remarks);
  const addresses = [...fixture.addresses].sort((a, b) => a.dmxBreak - b.dmxBreak);
  if (kind === undefined || mode === undefined) {
    const [first, ...others] = addresses;
    const rest = others.map(({ universe, address }) => `${universe}.${address}`);
    const kept = first === undefined ? 'it has no DMX address either' : `its address is kept`;
    remarks.error(
      where,
      `${faultOf(fixture, kind)}; written as unpatched, with the profile "${PLACEHOLDER}"; ${kept}${rest.length > 0 ? `, but for ${rest.join(', ')}` : ''}`,
    );
    return [
      { suffix: '', draft: { profile: PLACEHOLDER, unpatched: true, ...slotOf(first), ...posed } },
    ];
  }
  const left = new Set(addresses);
  const drafts = mode.parts.map(({ dmxBreak, name }, index): NamedDraft => {
    const only = mode.parts.length === 1 && addresses.length === 1 ? addresses[0] : undefined;
    const patch = only ?? addresses.find(one => one.dmxBreak - firstBreak === dmxBreak - 1);
    if (patch !== undefined) left.delete(patch);
    const which = mode.parts.length === 1 ? '' : ` for its DMX break ${dmxBreak}`;
    if (patch === undefined) {
      remarks.note(where, `it has no DMX address${which}; written as unpatched`);
    }
    return {
      suffix: index === 0 ? '' : `-break-${dmxBreak}`,
      draft: {
        profile: kind.profile,
        ...(kind.modes.flatMap(({ parts }) => parts).length > 1 ? { mode: name } : {}),
        ...(patch === undefined ? { unpatched: true } : slotOf(patch)),
        ...posed,
      },
    };
  });
  for (const { universe, address, dmxBreak } of left) {
    remarks.error(
      where,
      `its address ${universe}.${address} (break ${dmxBreak}) has no channels in its GDTF file, or another has the same break; not used`,
    );
  }
  return drafts;
}

function slotOf(at: MvrAddress | undefined): { universe?: number; address?: number } {
  return at === undefined ? {} : { universe: at.universe, address: at.address };
}

function modeOf({ gdtfMode }: MvrFixture, { modes }: Kind): ModeImport | undefined {
  if (gdtfMode !== undefined) return modes.find(mode => mode.gdtfName === gdtfMode);
  return modes.length === 1 ? modes[0] : undefined;
}

/** Why nobody knows what the slots of a fixture do. */
function faultOf({ gdtfSpec, gdtfMode }: MvrFixture, kind: Kind | undefined): string {
  if (gdtfSpec === undefined) return 'it names no GDTF file';
  if (kind === undefined) return 'its GDTF file can not be used';
  return gdtfMode === undefined
    ? 'it does not say which mode is set on it'
    : `its GDTF file has no mode "${clipped(gdtfMode)}" that can be used`;
}

/** Nothing, with an error, where the plot doesn't say where the fixture hangs: no place is made up. */
function poseOf(
  { where, placed }: MvrFixture,
  axes: HeadAxes | undefined,
  place: PlotPlace,
  remarks: Remarks,
): Pick<FixtureDraft, 'position' | 'orientation'> {
  const turned = typeof placed === 'string' ? undefined : rotationOf(placed);
  if (typeof placed === 'string' || turned?.ok !== true) {
    const why = turned?.ok === false ? turned.fault : String(placed);
    remarks.error(where, `${why}; written without a position and an orientation`);
    return {};
  }
  if (turned.scaled) remarks.note(where, 'its matrix scales it; the scale is ignored');
  const inPlot = applyTo(
    { linear: turned.rotation, offset: placed.offset },
    axes?.centre ?? vec3(0, 0, 0),
  );
  const turn = rotationFromTurns(0 as Radians, 0 as Radians, place.turn);
  const { x, y, z } = applyTo({ linear: turn, offset: place.origin }, inPlot);
  const head = axes === undefined ? turned.rotation : compose(turned.rotation, axes.rotation);
  const orientation = orientationOf(compose(turn, head));
  // A tenth of a millimetre.
  const position: [number, number, number] = [rounded(x, 4), rounded(y, 4), rounded(z, 4)];
  if (!position.every(one => Math.abs(one) <= FARTHEST_M)) {
    remarks.error(
      where,
      `its Matrix puts it more than ${FARTHEST_M} m away; written without a position and an orientation`,
    );
    return {};
  }
  return { position, ...(orientation === undefined ? {} : { orientation }) };
}

/** No venue is as large as this; a file that says more has another unit, or is broken. */
const FARTHEST_M = 10_000;

/** As a show file has it; undefined for hanging. A ten-thousandth of a degree is 0.02 mm at 10 m. */
export function orientationOf(
  rotation: Rotation,
): 'standing' | { x: number; y: number; z: number } | undefined {
  const turns = turnsFromRotation(rotation);
  const [x, y, z] = [turns.x, turns.y, turns.z].map(turn => rounded(toDegrees(turn), 4));
  if (x === 0 && y === 0 && z === 0) return undefined;
  if (Math.abs(x as number) === 180 && y === 0 && z === 0) return 'standing';
  return { x: x as number, y: y as number, z: z as number };
}

function rounded(value: number, digits: number): number {
  // Adding 0 turns -0 into 0.
  return Number(value.toFixed(digits)) + 0;
}
