import { HAZARD_TABLE, REFUSALS } from '../safety/hazard.js';
import { DEFAULT_WATCHDOG } from '../safety/options.js';
import { WATCHDOG_TABLE } from '../safety/watchdog-table.js';
import { PROBLEM_CODES } from '../show/problems/codes.js';
import { WARNING_CODES } from '../show/problems/warning-codes.js';
import { type JsonSchema, showJsonSchema } from '../show/schema/json-schema.js';

/** The reference page of the show file, from its schema. */
export function showReference(): string {
  const lines = [
    '# Show file reference',
    '',
    '<!-- Generated from src/show/schema/schema.ts by `npm run docs:generate`; do not edit. -->',
    '',
    'YAML. Metres, seconds, degrees and per cent throughout. An unknown key is an error. Whatever has a',
    'default may be left out. `lampwright check SHOW` says what is wrong, and [show-errors.md](show-errors.md)',
    'what each code means. Editors complete the file with [show.schema.json](show.schema.json): begin it with',
    '`# yaml-language-server: $schema=schemas/show.schema.json`, a path from the folder of the file; `lampwright init`',
    'and `lampwright reference --schemas schemas` write the schemas there.',
    '',
    'A **profile file** has the keys of `profiles.NAME` below, and `profile: 1` beside them, which tells it from a show; its',
    'schema for editors is [profile.schema.json](profile.schema.json).',
    '',
  ];
  section(lines, 'The file', showJsonSchema(), 2);
  return `${lines.join('\n').trimEnd()}\n`;
}

/** The page of the error codes. */
export function errorReference(): string {
  const lines = [
    '# Errors and warnings of a show file',
    '',
    '<!-- Generated from src/show/problems/codes.ts and warning-codes.ts by `npm run docs:generate`; do not edit. -->',
    '',
    'All errors of a file are reported at once, each with file, line, column and code. If a file is not YAML,',
    'nothing else in it is checked. An error that only follows from another one is not reported.',
    '',
    '| code | what it means | what would be right |',
    '|---|---|---|',
    ...Object.entries(PROBLEM_CODES).map(
      ([code, { meaning, right }]) => `| \`${code}\` | ${meaning} | ${right} |`,
    ),
    '',
    '## Warnings',
    '',
    'What `lampwright check` questions in a valid show. The show runs all the same, and the exit code is 0; `--json` lists the warnings in `warnings`.',
    '',
    '| code | what it means | what would be right |',
    '|---|---|---|',
    ...Object.entries(WARNING_CODES).map(
      ([code, { meaning, right }]) => `| \`${code}\` | ${meaning} | ${right} |`,
    ),
  ];
  return `${lines.join('\n')}\n`;
}

/** They are those of `tracking`, which a show may set. */
const UNKNOWN = {
  reacquireS: Number.NaN,
  repeatedS: Number.NaN,
  repeatedAtMostS: Number.NaN,
};

function seconds(value: number | undefined): string {
  if (value === undefined) return '';
  return Number.isNaN(value) ? 'as `tracking` says' : `${value} s`;
}

/** The page of the watchdog's conditions and of the hazard classes. */
export function safetyReference(): string {
  const row = (cells: readonly string[]) => `| ${cells.join(' | ')} |`;
  const lines = [
    '# Conditions and hazard classes',
    '',
    '<!-- Generated from src/safety/watchdog-table.ts and src/safety/hazard.ts by `npm run docs:generate`; do not edit. -->',
    '',
    'Worst first: if several conditions apply at once, the log names the first as the cause, and the shortest fade',
    'is used. The times are the defaults of `watchdog` in the [show file](show-file.md); `lampwright safety',
    'SHOW` prints those of a show, with each fixture. The daemon runs the same rows.',
    '',
    row([
      'condition',
      'whose light',
      'decided by',
      'when',
      'acts after',
      'fade',
      'action',
      'clears',
      'usual cause',
    ]),
    row(Array.from({ length: 9 }, () => '---')),
    ...WATCHDOG_TABLE.map(one =>
      row([
        `\`${one.condition}\`: ${one.title}`,
        one.scope,
        one.decidedBy,
        one.when,
        seconds(one.actsAfterS(DEFAULT_WATCHDOG, UNKNOWN)),
        seconds(one.fadeS(DEFAULT_WATCHDOG)),
        one.action,
        one.clears,
        one.cause,
      ]),
    ),
    '',
    '## Hazard classes',
    '',
    row(['class', 'what', 'enable', 'to its safe values', 'who decides']),
    row(Array.from({ length: 5 }, () => '---')),
    ...HAZARD_TABLE.map(one =>
      row([
        `\`${one.hazard}\``,
        one.what,
        one.needsEnable ? 'only while it is held' : 'none',
        one.drop === 'fade' ? 'fades' : 'drops at once',
        one.deferTo,
      ]),
    ),
    '',
    '## Refused',
    '',
    row(['class', 'why', 'who decides instead']),
    row(Array.from({ length: 3 }, () => '---')),
    ...Object.values(REFUSALS).map(one => row([`\`${one.hazard}\``, one.why, one.whoDecides])),
  ];
  return `${lines.join('\n')}\n`;
}

/**
 * Appends the tables of a block and of those below it.
 * @param said titles of the blocks that have been written out, by what they are
 */
export function section(
  lines: string[],
  title: string,
  schema: JsonSchema,
  depth: number,
  said = new Map<string, string>(),
): void {
  const properties = Object.entries(schema.properties ?? {});
  // What has a title of its own (a kind of condition) is one thing wherever it stands.
  if (schema.title !== undefined && said.get(JSON.stringify(properties)) === title) return;
  lines.push(`${'#'.repeat(Math.min(depth, 5))} ${title}`, '');
  if (schema.description !== undefined && depth > 2) lines.push(schema.description, '');
  if (properties.length === 0) return;
  const what = JSON.stringify(properties);
  const same = said.get(what);
  if (same !== undefined && properties.length > 2) {
    lines.push(`As \`${same}\` above.`, '');
    return;
  }
  said.set(what, title);
  lines.push('| key | value | default | |', '|---|---|---|---|');
  for (const [key, property] of properties) {
    const needed = schema.required?.includes(key) === true;
    const cells = [`\`${key}\``, kindOf(property), needed ? 'required' : defaultOf(property)];
    lines.push(`| ${cells.join(' | ')} | ${property.description ?? ''} |`);
  }
  lines.push('');
  for (const [key, property] of properties) {
    for (const inner of blocksOf(property)) {
      section(lines, inner.title ?? titleOf(title, key, property), inner, depth + 1, said);
    }
  }
}

function titleOf(parent: string, key: string, property: JsonSchema): string {
  const path = parent === 'The file' ? key : `${parent}.${key}`;
  if (property.properties !== undefined) return path;
  return property.items === undefined ? `${path}.NAME` : `${path}[]`;
}

/** The blocks with keys of their own that stand below a key. */
function blocksOf(schema: JsonSchema): JsonSchema[] {
  if (schema.properties !== undefined) {
    const sub = discriminatorOf(schema);
    return [sub === undefined ? schema : { ...schema, title: sub }];
  }
  const inner = [
    ...(typeof schema.additionalProperties === 'object' ? [schema.additionalProperties] : []),
    ...(typeof schema.items === 'object' ? [schema.items] : []),
    ...(schema.anyOf ?? []),
    ...(schema.oneOf ?? []),
  ];
  return inner.flatMap(blocksOf);
}

function discriminatorOf(schema: JsonSchema): string | undefined {
  const protocol = schema.properties?.protocol;
  return protocol?.const !== undefined && schema.properties?.universes !== undefined
    ? `output by ${String(protocol.const)}`
    : undefined;
}

function kindOf(schema: JsonSchema): string {
  if (schema.const !== undefined) return `\`${String(schema.const)}\``;
  if (schema.enum !== undefined) return schema.enum.map(value => `\`${String(value)}\``).join(', ');
  const branches = [...(schema.anyOf ?? []), ...(schema.oneOf ?? [])];
  if (branches.length > 0) return [...new Set(branches.map(kindOf))].join(' or ');
  if (schema.prefixItems !== undefined) return `list of ${schema.prefixItems.length}`;
  switch (schema.type) {
    case 'array':
      return typeof schema.items === 'object' ? `list of ${kindOf(schema.items)}` : 'list';
    case 'object':
      return schema.properties === undefined ? 'block by name' : 'block';
    case 'string':
      return schema.format === undefined ? 'text' : `text (${schema.format})`;
    case 'number':
    case 'integer':
      return `${schema.type === 'integer' ? 'whole number' : 'number'}${rangeOf(schema)}`;
    case 'boolean':
      return 'true or false';
    default:
      return schema.type ?? 'value';
  }
}

function rangeOf({ minimum, maximum, exclusiveMinimum }: JsonSchema): string {
  const safe = (value: number | undefined) =>
    value !== undefined && Math.abs(value) < Number.MAX_SAFE_INTEGER;
  if (safe(exclusiveMinimum))
    return ` above ${exclusiveMinimum}${safe(maximum) ? `, up to ${maximum}` : ''}`;
  if (safe(minimum) && safe(maximum)) return ` ${minimum} to ${maximum}`;
  return safe(minimum) ? ` from ${minimum}` : '';
}

function defaultOf(schema: JsonSchema): string {
  if (schema.default === undefined) return '';
  const text = JSON.stringify(schema.default);
  return text === '{}' ? 'see below' : `\`${text.replaceAll('"', '')}\``;
}
