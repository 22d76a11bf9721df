import type { AreaOptions } from '../stage/area.js';
import type { Bounds } from '../stage/vector.js';
import { heightOf, type VolumeOptions } from '../stage/volume.js';
import type { AreaStyle, Floor } from './floor.js';
import { INK } from './ink.js';
import { clipped, outlineOf } from './outline.js';

/** No lit beam goes there. */
export const KEEP_OUT: AreaStyle = { ink: INK.weak, fill: INK.weak };

/** How much of an area beside the stage is shown: those of the house go on for long. */
const BESIDE_M = 3;

/** What of areas round the stage a picture has room for. */
export function aroundStage({ min, max }: Bounds, areas: readonly AreaOptions[]) {
  const frame = {
    ...{ x0: min.x - BESIDE_M, x1: max.x + BESIDE_M },
    ...{ y0: min.y - BESIDE_M, y1: max.y + BESIDE_M },
  };
  return areas.flatMap(area => clipped(outlineOf(area), frame).map(([x, y]) => ({ x, y })));
}

/** A ball, and what stands upright, as they lie on the plan. */
export function onPlan(volume: VolumeOptions): AreaOptions {
  if (volume.kind !== 'ball') return volume.area;
  return { shape: { kind: 'circle', centre: volume.centre, radiusM: volume.radiusM } };
}

/** @param label its name, to which its height is added; left out: it has none */
export function drawKeepOut(floor: Floor, volume: VolumeOptions, label?: string): void {
  floor.area(onPlan(volume), KEEP_OUT, label === undefined ? undefined : label + highOf(volume));
}

function highOf(volume: VolumeOptions): string {
  if (volume.kind === 'ball') return ` ${volume.centre.z.toFixed(1)}\u00a0m`;
  const { toM } = heightOf(volume.area);
  return toM >= 100 ? '' : ` to ${toM.toFixed(1)}\u00a0m`;
}
