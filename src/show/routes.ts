import type { RouteArgument, RouteOptions } from '../protocols/osc/route.js';
import { type ShowFile, UNITS } from './schema.js';

type RouteFile = ShowFile['inputs'][string]['routes'][number];

export function routeOptionsOf(route: RouteFile): RouteOptions {
  return {
    address: route.address,
    arguments: route.arguments.map(
      (text): RouteArgument => ({
        role: text.replace('?', '') as RouteArgument['role'],
        optional: text.endsWith('?'),
      }),
    ),
    unitM: UNITS[route.unit],
    axes: route.axes,
  };
}

/** The reports of a route say when they were measured. */
export function hasStamp(route: RouteFile): boolean {
  return route.arguments.some(text => text === 'stamp' || text === 'stamp?');
}
