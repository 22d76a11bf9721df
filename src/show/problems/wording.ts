import type { z } from 'zod';
import type { Path } from './problem.js';

/** The name of a place in the file: `outputs.lamps.universes[0]`. */
export function nameOf(path: Path): string {
  let name = '';
  for (const part of path) {
    name += typeof part === 'number' ? `[${part}]` : `${name === '' ? '' : '.'}${part}`;
  }
  return name === '' ? 'the file' : name;
}

/** What somebody wrote, in their own terms. */
export function describe(value: unknown): string {
  if (value === null || value === undefined) return 'empty';
  if (Array.isArray(value)) {
    return value.length === 0 ? 'an empty list' : `a list of ${value.length}`;
  }
  switch (typeof value) {
    case 'object':
      return 'a block of keys';
    case 'string':
      return value.length > 60 ? `"${value.slice(0, 60)}..."` : `"${value}"`;
    case 'number':
      if (Number.isNaN(value)) return 'not a number';
      return Number.isFinite(value) ? String(value) : 'infinite';
    default:
      return String(value);
  }
}

/** A kind of value that the schema expects. */
export function kindName(expected: string): string {
  switch (expected) {
    case 'object':
    case 'record':
      return 'a block of keys';
    case 'array':
    case 'tuple':
      return 'a list';
    case 'string':
      return 'text';
    case 'int':
    case 'integer':
      return 'a whole number';
    case 'number':
      return 'a number';
    case 'boolean':
      return 'true or false';
    default:
      return expected;
  }
}

/** A form of text that the schema expects; our own patterns bring their words with them. */
export function formatName(issue: z.core.$ZodIssueInvalidStringFormat): string {
  switch (issue.format) {
    case 'ipv4':
      return 'an IPv4 address such as 10.0.0.5';
    case 'cidrv4':
      return 'a range of addresses such as 10.0.0.0/24';
    default:
      return issue.message;
  }
}
