import { Ajv2020 } from 'ajv/dist/2020.js';
import { describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { showEditorSchema } from '../../../src/reference/editor-schema.js';
import {
  alternativesAt,
  type JsonSchema,
  keysOf,
  showJsonSchema,
} from '../../../src/show/schema/json-schema.js';
import { changed, configShow, MINIMAL } from '../base.js';

/** An independent reading of the schema that editors get (ajv, JSON Schema 2020-12). */
const validate = new Ajv2020({ strict: true, strictTuples: false, validateFormats: false }).compile(
  showEditorSchema() as object,
);

describe('editors', () => {
  test.each(['minimal', 'salt-lantern'])('find nothing wrong with %s', name => {
    validate(parse(configShow(name)));
    expect(validate.errors).toBeNull();
  });

  test.each([
    ['a key that there is not', changed('profile: dimmer', 'profil: dimmer')],
    ['a word for a number', changed('9010', 'osc')],
    ['a list that is too long', changed('[0, 6]', '[0, 6, 7]')],
    ['a number out of range', changed('address: 11', 'address: 600')],
    ['a protocol that there is not', changed('sacn', 'dmx')],
    ['a mapping of neither kind', changed('zone: stove\n    fixtures', 'fixtures')],
    ['a name with a space', changed('  stove:', '  "stove 1":')],
  ])('find %s', (_, text) => {
    expect(validate(parse(text))).toBe(false);
  });

  test('get definitions by names that do not change with their number', () => {
    const { $defs } = showEditorSchema() as { $defs: Record<string, object> };
    const names = Object.keys($defs);
    expect(names).toContain('stage-x');
    expect(names.filter(name => !/^[A-Za-z][\w-]*$/.test(name) || name.includes('schema'))).toEqual(
      [],
    );
    expect(names).toEqual([...names].sort());
  });

  test('are told what every key is', () => {
    const silent = keysWithout(
      showJsonSchema(),
      '',
      ({ description }) => description === undefined,
    );
    expect(silent).toEqual([]);
  });

  test('are not asked for what has a default', () => {
    const asked = keysWithout(
      showJsonSchema(),
      '',
      (property, required) => required && property.default !== undefined,
    );
    expect(asked).toEqual([]);
  });
});

describe('what may stand at a place', () => {
  const show: unknown = parse(MINIMAL);

  test('depends on what the block says that it is', () => {
    expect(keysOf(alternativesAt(['outputs', 'lamps'], show))).toContain('priority');
    expect(keysOf(alternativesAt(['outputs', 'lamps'], show))).not.toContain('poll');
  });

  test('is nothing where there is nothing', () => {
    expect(alternativesAt(['nowhere', 3, 'x'], show)).toEqual([]);
    expect(alternativesAt(['constructor'], show)).toEqual([]);
  });
});

/** Paths of all keys of a schema for which something holds. */
function keysWithout(
  schema: JsonSchema,
  path: string,
  holds: (property: JsonSchema, required: boolean) => boolean,
): string[] {
  const inner = [
    ...(typeof schema.additionalProperties === 'object' ? [schema.additionalProperties] : []),
    ...(typeof schema.items === 'object' ? [schema.items] : []),
    ...(schema.prefixItems ?? []),
    ...(schema.anyOf ?? []),
    ...(schema.oneOf ?? []),
  ];
  return [
    ...Object.entries(schema.properties ?? {}).flatMap(([key, property]) => [
      ...(holds(property, schema.required?.includes(key) === true) ? [`${path}.${key}`] : []),
      ...keysWithout(property, `${path}.${key}`, holds),
    ]),
    ...inner.flatMap(one => keysWithout(one, `${path}[]`, holds)),
  ];
}
