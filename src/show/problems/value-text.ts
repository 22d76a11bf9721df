import type { PhysicalUnit } from '../../fixtures/attributes.js';
import type { Channel } from '../../fixtures/profile.js';
import { unreachable } from '../../stage/unreachable.js';

/** The name that the profile gives a physical value, if any. */
export function valueName({ values }: Channel, value: number): string | undefined {
  return [...values].find(([, physical]) => physical === value)?.[0];
}

/** A physical value by its name or, without one, with its unit: `open`, `20 %`, `-53.1°`. */
export function valueText(channel: Channel, value: number): string {
  return valueName(channel, value) ?? `${Number(value.toFixed(1))}${unitSuffix(channel.unit)}`;
}

/** The unit after a figure, with a space before it if one belongs there. */
export function unitSuffix(unit: PhysicalUnit): string {
  switch (unit) {
    case 'per cent':
      return ' %';
    case 'degrees':
      return '°';
    case 'degrees per second':
      return '°/s';
    case 'kelvin':
      return ' K';
    case 'hertz':
      return ' Hz';
    case 'metres':
      return ' m';
    case 'seconds':
      return ' s';
    case 'none':
      return '';
    default:
      return unreachable(unit);
  }
}
