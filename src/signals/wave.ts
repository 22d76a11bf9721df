import { unreachable } from '../stage/unreachable.js';
import type { WaveShape } from './plan.js';

/**
 * 0 to 1, from its least on. `sine`: (1 - cos 2 pi t) / 2; `triangle`: up for half a period and down again; `ramp`: up,
 * and down at once; `square`: 0 for half a period, then 1.
 * @param periods how many of them have gone by, of whatever sign
 */
export function wave(shape: WaveShape, periods: number): number {
  const part = periods - Math.floor(periods);
  switch (shape) {
    case 'sine':
      return (1 - Math.cos(2 * Math.PI * part)) / 2;
    case 'triangle':
      return part < 0.5 ? 2 * part : 2 - 2 * part;
    case 'square':
      return part < 0.5 ? 0 : 1;
    case 'ramp':
      return part;
    default:
      return unreachable(shape);
  }
}
