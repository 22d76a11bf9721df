import { z } from 'zod';
import { ShowFileSchema } from '../show/schema/schema.js';

const DEFINITION = '#/$defs/';

/**
 * The JSON Schema that editors load. What is in it several times (conditions) stands there once, by the name of the
 * place where it comes first, so that a new key changes no other name.
 */
export function showEditorSchema(): unknown {
  const { $defs = {}, ...root } = z.toJSONSchema(ShowFileSchema, {
    io: 'input',
    target: 'draft-2020-12',
    reused: 'ref',
  });
  const names = namesOf(root, $defs);
  const rename = (key: string, value: unknown) =>
    key === '$ref' && typeof value === 'string'
      ? `${DEFINITION}${names.get(value.slice(DEFINITION.length))}`
      : value;
  const definitions = Object.entries($defs)
    .map(([key, one]): [string, unknown] => [names.get(key) ?? key, one])
    .sort(([a], [b]) => (a < b ? -1 : 1));
  return JSON.parse(JSON.stringify({ ...root, $defs: Object.fromEntries(definitions) }, rename));
}

/** @returns by what a definition is called today, the last two keys on the way to where it comes first */
function namesOf(root: unknown, definitions: Readonly<Record<string, unknown>>) {
  const names = new Map<string, string>();
  const taken = new Map<string, number>();
  const walk = (value: unknown, keys: readonly string[]): void => {
    if (typeof value !== 'object' || value === null) return;
    if (Array.isArray(value)) {
      for (const one of value) walk(one, keys);
      return;
    }
    for (const [key, child] of Object.entries(value)) {
      if (key === '$ref') define(String(child).slice(DEFINITION.length), keys);
      else if (key !== 'properties') walk(child, keys);
      else for (const [name, property] of Object.entries(child)) walk(property, [...keys, name]);
    }
  };
  const define = (key: string, keys: readonly string[]): void => {
    if (names.has(key)) return;
    const name = keys.slice(-2).join('-');
    const count = (taken.get(name) ?? 0) + 1;
    taken.set(name, count);
    names.set(key, count === 1 ? name : `${name}-${count}`);
    walk(definitions[key], keys);
  };
  walk(root, []);
  return names;
}
