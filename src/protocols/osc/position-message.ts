import type { OscMessage } from './encode.js';
import type { OscArgument } from './library.js';
import type { RouteOptions, RouteRole } from './route.js';

/**
 * The message with which a tracking system that has this route reports a position: the reverse of
 * `readPosition`, for rehearsals and tests. Expects a route without errors.
 * @param at metres, in the frame of the tracking system
 * @param stampS when it was measured, by the clock of the tracking system, where the route says so
 * @param coordinates their OSC type: float or double
 */
export function positionMessage(
  route: RouteOptions,
  tracker: string,
  at: { readonly x: number; readonly y: number; readonly z: number },
  quality: number,
  stampS: number,
  coordinates: 'f' | 'd' = 'f',
): OscMessage {
  const sensor = { x: 0, y: 0, z: 0 };
  const values = [at.x, at.y, at.z];
  route.axes.forEach((axis, i) => {
    const name = axis.replace('-', '') as 'x' | 'y' | 'z';
    sensor[name] = (values[i] ?? 0) / (axis.startsWith('-') ? -route.unitM : route.unitM);
  });
  const argument = (role: RouteRole): OscArgument => {
    switch (role) {
      case 'x':
      case 'y':
      case 'z':
        return { type: coordinates, value: sensor[role] };
      case 'quality':
        return { type: 'f', value: quality };
      case 'battery':
        return { type: 'f', value: 1 };
      case 'stamp':
        return { type: 'd', value: stampS };
      case 'tracker':
        return { type: 's', value: tracker };
      case 'ignore':
        return { type: 'i', value: 0 };
      default:
        return role satisfies never;
    }
  };
  return {
    address: route.address.replace('{tracker}', tracker),
    args: route.arguments.map(({ role }) => argument(role)),
  };
}
