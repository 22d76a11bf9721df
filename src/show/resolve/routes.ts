import type { RouteArgument, RouteOptions } from '../../protocols/osc/route.js';
import { UNITS } from '../schema/parts.js';
import type { InputFile, RouteFile, ShowFile } from '../schema/schema.js';

type ArgumentName = NonNullable<RouteFile['each']>[number];

/** Of a route that says nothing of them. */
const PLAIN_ARGUMENTS = ['x', 'y', 'z', 'quality?'] as const;

export function routeOptionsOf(route: RouteFile): RouteOptions {
  return {
    address: route.address,
    arguments: argumentsOf(route).map(roleOf),
    each: route.each?.map(roleOf),
    unitM: UNITS[route.unit],
    axes: route.axes,
    box: route.box,
    quality: route.quality,
  };
}

function argumentsOf(route: RouteFile): readonly ArgumentName[] {
  return route.arguments ?? (route.each === undefined ? PLAIN_ARGUMENTS : []);
}

function roleOf(text: ArgumentName): RouteArgument {
  return { role: text.replace('?', '') as RouteArgument['role'], optional: text.endsWith('?') };
}

/** The reports of a route say when they were measured. */
export function hasStamp(route: RouteFile): boolean {
  return [...argumentsOf(route), ...(route.each ?? [])].some(text => text.startsWith('stamp'));
}

/** Names of the inputs at which messages of OSC arrive. */
export function oscInputsOf({ inputs }: Pick<ShowFile, 'inputs'>): readonly string[] {
  return Object.keys(inputs).filter(name => inputs[name]?.protocol === 'osc');
}

/** Where an input listens: the key of its interface depends on the protocol. */
export function listensAt(input: InputFile): string {
  return input.protocol === 'osc' ? input.listen : input.interface;
}
