import { z } from 'zod';
import type { Path } from '../problems/problem.js';
import { ProfileFileSchema } from './profile.js';
import { ShowFileSchema } from './schema.js';

/** The part of JSON Schema (draft 2020-12) that the show file's schema uses. */
export interface JsonSchema {
  readonly $schema?: string;
  readonly title?: string;
  readonly description?: string;
  readonly type?: string;
  readonly properties?: Readonly<Record<string, JsonSchema>>;
  readonly required?: readonly string[];
  readonly additionalProperties?: JsonSchema | boolean;
  readonly items?: JsonSchema | boolean;
  readonly prefixItems?: readonly JsonSchema[];
  readonly anyOf?: readonly JsonSchema[];
  readonly oneOf?: readonly JsonSchema[];
  readonly enum?: readonly unknown[];
  readonly const?: unknown;
  readonly default?: unknown;
  readonly examples?: readonly unknown[];
  readonly minimum?: number;
  readonly maximum?: number;
  readonly exclusiveMinimum?: number;
  readonly pattern?: string;
  readonly format?: string;
}

let made: JsonSchema | undefined;

/** The show file's complete JSON Schema; optional keys are not required in it. */
export function showJsonSchema(): JsonSchema {
  made ??= z.toJSONSchema(ShowFileSchema, { io: 'input', target: 'draft-2020-12' }) as JsonSchema;
  return made;
}

/** That of a profile file. */
export function profileJsonSchema(): JsonSchema {
  return z.toJSONSchema(ProfileFileSchema, { io: 'input', target: 'draft-2020-12' }) as JsonSchema;
}

/**
 * What may stand at a place of the file: one schema for each alternative, without those that a value
 * on the way there (the `protocol` of an output) rules out.
 */
export function alternativesAt(
  path: Path,
  root: unknown,
  schema: JsonSchema = showJsonSchema(),
): readonly JsonSchema[] {
  let places = expand(schema, root);
  let value = root;
  for (const part of path) {
    places = blocksMeant(places, value);
    value = memberOf(value, part);
    places = places.flatMap(place => stepInto(place, part)).flatMap(place => expand(place, value));
  }
  return places;
}

/**
 * For each of several blocks allowed at a place, the keys that identify it: those that only it has, and must have;
 * for a block without such a key, those that it must have and not all others have.
 */
export function tellingKeys(blocks: readonly JsonSchema[]): readonly (readonly string[])[] {
  const anyOwn = blocks.some(block => ownKeys(block, blocks).length > 0);
  return blocks.map(block => {
    const own = ownKeys(block, blocks);
    if (own.length > 0 || !anyOwn) return own;
    return (block.required ?? []).filter(key =>
      blocks.some(other => other.required?.includes(key) !== true),
    );
  });
}

/** The keys that only this one of the blocks has, and must have. */
export function ownKeys(block: JsonSchema, blocks: readonly JsonSchema[]): readonly string[] {
  return (block.required ?? []).filter(key =>
    blocks.every(other => other === block || !Object.hasOwn(other.properties ?? {}, key)),
  );
}

/** The blocks whose identifying keys a value has, those with a key of their own first; all of them if it has none. */
export function blocksMeant(blocks: readonly JsonSchema[], given: unknown): readonly JsonSchema[] {
  const has = (keys: readonly string[] | undefined) =>
    keys?.some(key => memberOf(given, key) !== undefined) === true;
  const own = blocks.filter(block => has(ownKeys(block, blocks)));
  if (own.length > 0) return own;
  const telling = tellingKeys(blocks);
  const chosen = blocks.filter((_, i) => has(telling[i]));
  return chosen.length > 0 ? chosen : blocks;
}

/** The keys that the blocks among some schemas have, each once. */
export function keysOf(schemas: readonly JsonSchema[]): readonly string[] {
  return [...new Set(schemas.flatMap(schema => Object.keys(schema.properties ?? {})))];
}

/** What stands at a place of the file; undefined where nothing does. */
export function valueAt(path: Path, root: unknown): unknown {
  return path.reduce<unknown>(memberOf, root);
}

function memberOf(value: unknown, part: string | number): unknown {
  if (typeof value !== 'object' || value === null || !Object.hasOwn(value, part)) return undefined;
  return (value as Record<string | number, unknown>)[part];
}

function stepInto(schema: JsonSchema, part: string | number): readonly JsonSchema[] {
  const found: (JsonSchema | boolean | undefined)[] =
    typeof part === 'number'
      ? [schema.prefixItems?.[part] ?? schema.items]
      : [
          Object.hasOwn(schema.properties ?? {}, part)
            ? schema.properties?.[part]
            : schema.additionalProperties,
        ];
  return found.filter(one => typeof one === 'object');
}

function expand(schema: JsonSchema, value: unknown): readonly JsonSchema[] {
  const branches = [...(schema.anyOf ?? []), ...(schema.oneOf ?? [])];
  if (branches.length === 0) return [schema];
  const fitting = branches.filter(branch => mayBe(branch, value));
  return (fitting.length > 0 ? fitting : branches).flatMap(branch => expand(branch, value));
}

/** Whether no constant in the schema contradicts the value. */
function mayBe({ properties }: JsonSchema, value: unknown): boolean {
  return Object.entries(properties ?? {}).every(([key, property]) => {
    const given = memberOf(value, key);
    return property.const === undefined || given === undefined || given === property.const;
  });
}
