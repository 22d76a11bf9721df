import type { Show } from '../show/model/model.js';
import { compileArea } from '../stage/area.js';
import type { VolumeOptions } from '../stage/volume.js';

export interface KeepOutSheet {
  readonly name: string;
  readonly label: string;
  /** Where it is, in words. */
  readonly where: string;
  /** Names of the heads that are kept out of it. */
  readonly heads: readonly string[];
}

export function keepOutSheets({ keepOuts, fixtures }: Show): KeepOutSheet[] {
  return keepOuts.map(({ name, label, volume, heads }) => ({
    name,
    label,
    where: whereIs(volume),
    heads: heads.map(head => fixtures[head]?.label ?? ''),
  }));
}

/** "x -3 to 13, y -9 to -0.5 m, -1 to 1.4 m high". */
function whereIs(volume: VolumeOptions): string {
  if (volume.kind === 'ball') {
    const { x, y, z } = volume.centre;
    return `${volume.radiusM} m round (${x}, ${y}, ${z})`;
  }
  const { minX, maxX, minY, maxY } = compileArea(volume.area);
  const { height } = volume.area;
  const high =
    height === undefined ? 'from the floor up' : `${height.fromM} to ${height.toM} m high`;
  return `x ${Number(minX.toFixed(2))} to ${Number(maxX.toFixed(2))}, y ${Number(minY.toFixed(2))} to ${Number(maxY.toFixed(2))} m, ${high}`;
}

/** What the keep-outs of the show do; a sentence or two in each. Nothing where it has none. */
export function keepOutText(keepOuts: readonly KeepOutSheet[]): readonly string[] {
  if (keepOuts.length === 0) return [];
  return [
    ...keepOuts.map(
      ({ name, label, where, heads }) =>
        `${label === name ? name : `${label} (${name})`}: ${where}. Kept out of it: ${heads.length === 0 ? 'no fixture' : heads.join(', ')}.`,
    ),
    'A head goes dark before its beam would touch one of them, passes in the dark at the speed of its motors, and comes up when it is clear. The output is checked once more, whatever it came from: engine, fade to the safe look, or the other machine.',
    'The beam is a cone with the field angle of the profile, from where the head hangs in this show. This does not cover reflections, haze, fixtures without pan and tilt, or a head whose position or motors differ from the show file: look at the beams before the doors open.',
  ];
}
