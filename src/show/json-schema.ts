import { z } from 'zod';
import type { Path } from './problem.js';
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
  readonly minimum?: number;
  readonly maximum?: number;
  readonly exclusiveMinimum?: number;
  readonly pattern?: string;
  readonly format?: string;
}

let made: JsonSchema | undefined;

/** The show file's JSON Schema, for editors; what may be left out is not required in it. */
export function showJsonSchema(): JsonSchema {
  made ??= z.toJSONSchema(ShowFileSchema, { io: 'input', target: 'draft-2020-12' }) as JsonSchema;
  return made;
}

/** The keys that may stand at a place of the file; empty where any name may. */
export function keysAt(path: Path): readonly string[] {
  let places: readonly JsonSchema[] = [showJsonSchema()];
  for (const part of path) places = places.flatMap(place => stepInto(place, part));
  return [...new Set(places.flatMap(expand).flatMap(place => Object.keys(place.properties ?? {})))];
}

function stepInto(place: JsonSchema, part: string | number): readonly JsonSchema[] {
  return expand(place).flatMap(schema => {
    const found: (JsonSchema | boolean | undefined)[] =
      typeof part === 'number'
        ? [schema.prefixItems?.[part], schema.items]
        : [schema.properties?.[part] ?? schema.additionalProperties];
    return found.filter(one => typeof one === 'object');
  });
}

function expand(schema: JsonSchema): readonly JsonSchema[] {
  const branches = [...(schema.anyOf ?? []), ...(schema.oneOf ?? [])];
  return [schema, ...branches.flatMap(expand)];
}
