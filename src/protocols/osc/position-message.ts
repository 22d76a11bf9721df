import { axisMap, toFeedAxes } from '../axes.js';
import { PLAIN_QUALITY, qualityAs } from '../raw-position.js';
import type { OscMessage } from './encode.js';
import type { OscArgument } from './library.js';
import { kindOf, type RouteOptions, type RouteRole } from './route.js';

/**
 * The messages with which a tracking system that has these routes reports a position: the reverse of
 * `readPositions`, for rehearsals and tests. One, of the first route; or, where that has a part of a position only, one for
 * each such route. Expects routes without errors.
 * @param at metres, in the frame of the tracking system
 * @param stampS when it was measured, by the clock of the tracking system, where the route says so
 * @param coordinates their OSC type: float or double
 */
export function positionMessages(
  routes: readonly RouteOptions[],
  tracker: string,
  at: { readonly x: number; readonly y: number; readonly z: number },
  quality: number,
  stampS: number,
  coordinates: 'f' | 'd' = 'f',
): readonly OscMessage[] {
  const [first] = routes;
  if (first === undefined) return [];
  const kind = kindOf(first);
  const chosen = kind === 'part' ? routes.filter(one => kindOf(one) === 'part') : [first];
  return chosen.map(route => {
    const values = { tracker, feed: feedOf(route, at), quality, stampS, coordinates };
    const layout = [...route.arguments, ...(route.each ?? [])];
    return {
      address: route.address.replace('{tracker}', tracker),
      args: layout.map(({ role }) => argumentOf(role, route, values)),
    };
  });
}

interface Values {
  readonly tracker: string;
  readonly feed: Readonly<Record<'x' | 'y' | 'z', number>>;
  readonly quality: number;
  readonly stampS: number;
  readonly coordinates: 'f' | 'd';
}

/** On the axes and in the unit of the feed, shares of a box where it gives them. */
function feedOf({ axes, unitM, box }: RouteOptions, at: Parameters<typeof toFeedAxes>[1]) {
  const [x, y, z] = toFeedAxes(axisMap(axes, unitM), at);
  const share = (axis: 'x' | 'y' | 'z', value: number) => {
    const [from, to] = box?.[axis] ?? [0, 1];
    return (value - from) / (to - from);
  };
  return { x: share('x', x), y: share('y', y), z: share('z', z) };
}

function argumentOf(
  role: RouteRole,
  { quality: scale = PLAIN_QUALITY }: RouteOptions,
  { tracker, feed, quality, stampS, coordinates }: Values,
): OscArgument {
  switch (role) {
    case 'x':
    case 'y':
    case 'z':
      return { type: coordinates, value: feed[role] };
    case 'quality':
      return { type: 'f', value: qualityAs(scale, quality) };
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
}
