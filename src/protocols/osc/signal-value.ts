import type { OscArgument } from './library.js';
import { numberOf } from './read-positions.js';

/** What an argument is as a number of a signal: true and false are 1 and 0; undefined where it is none. */
export function signalValueOf(argument: OscArgument): number | undefined {
  if (!('type' in argument)) return undefined;
  return argument.type === 'T' ? 1 : argument.type === 'F' ? 0 : numberOf(argument);
}
