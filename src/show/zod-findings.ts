import type { z } from 'zod';
import { unreachable } from '../stage/unreachable.js';
import { DECIMAL_IN_LIST, keyHint, listWordHint, numberHint, textHint } from './problems/hints.js';
import { type Finding, listed, meant, type Path, suggestion } from './problems/problem.js';
import { describe, formatName, kindName, nameOf } from './problems/wording.js';
import {
  alternativesAt,
  blocksMeant,
  type JsonSchema,
  keysOf,
  ownKeys,
  showJsonSchema,
  tellingKeys,
  valueAt,
} from './schema/json-schema.js';

type Issue = z.core.$ZodIssue;

/** How many keys of a block are listed after an unknown one. */
const MOST_KEYS = 40;

/** Puts a schema's issues with a value into a technician's words. */
/** @param schema of the file, for what would be right */
export function findingsOf(
  issues: readonly Issue[],
  value: unknown,
  schema: JsonSchema = showJsonSchema(),
): Finding[] {
  const root: Root = { value, schema };
  const findings = issues.flatMap(issue => explain(issue, root, []));
  // A misspelt key is also a missing key: one slip, one finding.
  const misspelt = new Set(
    findings.flatMap(({ meantPath }) => (meantPath ? [nameOf(meantPath)] : [])),
  );
  return findings.filter(({ code, path }) => code !== 'missing-key' || !misspelt.has(nameOf(path)));
}

/** A file as it was read, and what should be in it. */
interface Root {
  readonly value: unknown;
  readonly schema: JsonSchema;
}

interface Explained extends Finding {
  /** Where the probably intended key belongs. */
  readonly meantPath?: Path;
}

function explain(issue: Issue, root: Root, prefix: Path): Explained[] {
  const path: Path = [
    ...prefix,
    ...issue.path.map(part => (typeof part === 'number' ? part : String(part))),
  ];
  const given = valueAt(path, root.value);
  const where = nameOf(path);
  const word = given === undefined ? undefined : wordOfLook(path);
  if (word !== undefined) {
    return [
      wrong('bad-value', path, `should be ${word.wanted}, and is ${describe(given)}`, word.hint),
    ];
  }
  switch (issue.code) {
    case 'unrecognized_keys':
      return unknownKeys(
        issue.keys,
        keysOf(blocksMeant(alternativesAt(path, root.value, root.schema), given)),
        path,
        root,
      );
    case 'invalid_union':
      return explainUnion(issue, root, path);
    case 'invalid_type': {
      const places = alternativesAt(path, root.value, root.schema);
      const kind = places[0]?.type === 'integer' ? 'integer' : issue.expected;
      const wanted = sizedList(places) ?? kindName(kind);
      if (given === undefined) return [missing(path, places, `${wanted} is needed`)];
      const fault = `should be ${wanted}, and is ${describe(given)}`;
      return [wrong('wrong-type', path, fault, kindHint(wanted, given) + exampleHint(places))];
    }
    case 'invalid_value': {
      const words = issue.values.map(String);
      if (given === undefined) {
        return [
          missing(
            path,
            alternativesAt(path, root.value, root.schema),
            `${listed(words)} is needed`,
          ),
        ];
      }
      const hint = meantWord(given, words);
      return [
        wrong('bad-value', path, `should be ${listed(words)}, and is ${describe(given)}`, hint),
      ];
    }
    case 'too_small':
    case 'too_big': {
      const size = sizedList(alternativesAt(path, root.value, root.schema));
      if (size !== undefined && Array.isArray(given)) {
        const hint = issue.code === 'too_big' && size.endsWith('numbers') ? DECIMAL_IN_LIST : '';
        return [wrong('wrong-type', path, `should be ${size}, and has ${given.length}`, hint)];
      }
      return [wrong('bad-value', path, boundFault(issue, given))];
    }
    case 'invalid_key':
      return [
        {
          code: 'bad-value',
          message: `"${path.at(-1)}" should be ${issue.issues[0]?.message ?? 'a name'}.${keyHint(String(path.at(-1)))}`,
          path,
          atKey: true,
        },
      ];
    case 'invalid_format': {
      const places = alternativesAt(path, root.value, root.schema);
      const orNumber = places.some(({ type }) => type === 'number' || type === 'integer');
      const wanted = `${orNumber ? 'a number, or ' : ''}${formatName(issue)}`;
      const hint = orNumber ? numberHint(given) : '';
      // What was meant is known: the rest follows.
      return hint === ''
        ? [wrong('bad-value', path, `should be ${wanted}, and is ${describe(given)}`)]
        : [wrong('bad-value', path, `is ${describe(given)}`, `${hint} It takes ${wanted}.`)];
    }
    case 'not_multiple_of':
    case 'invalid_element':
    case 'custom':
      return [{ code: 'bad-value', message: `${where}: ${issue.message}.`, path }];
    default:
      return unreachable(issue);
  }
}

function wrong(code: Finding['code'], path: Path, fault: string, hint = ''): Explained {
  return { code, message: `${nameOf(path)} ${fault}.${hint}`, path };
}

function missing(path: Path, places: readonly JsonSchema[], what: string): Explained {
  // With several alternatives, none represents the others.
  const [first, ...others] = new Set(places.map(({ description }) => description));
  const about = first === undefined || others.length > 0 ? '' : ` ${first}`;
  return { code: 'missing-key', message: `${nameOf(path)} is missing: ${what}.${about}`, path };
}

function unknownKeys(
  keys: readonly string[],
  known: readonly string[],
  path: Path,
  { schema }: Root,
): Explained[] {
  const top = keysOf([schema]);
  return keys.map(key => {
    const nearest = meant(key, known);
    const isOfTop = nearest === undefined && top.includes(key);
    const hint = isOfTop
      ? ` "${key}" belongs at the top level of the file.`
      : `${suggestion(key, known)}${keyHint(key)}`;
    return {
      code: 'unknown-key',
      message: `"${key}" is not a key of ${nameOf(path)}.${hint} It has ${listed(known, MOST_KEYS)}.`,
      path: [...path, key],
      atKey: true,
      ...(nearest === undefined ? {} : { meantPath: [...path, nearest] }),
    };
  });
}

/** Where a list must have a certain length: how many, and of what. */
function sizedList(places: readonly JsonSchema[]): string | undefined {
  const items = places.find(place => place.prefixItems !== undefined)?.prefixItems;
  if (items === undefined) return undefined;
  return `a list of ${items.length}${items.every(({ type }) => type === 'number' || type === 'integer') ? ' numbers' : ''}`;
}

/** What may be behind a value of another kind. */
function kindHint(wanted: string, given: unknown): string {
  if (wanted.includes('number')) {
    const hint = numberHint(given);
    if (hint !== '') return hint;
  }
  return (wanted === 'text' ? textHint(given) : '') || listHint(wanted, given);
}

/** How to write a list, for somebody who wrote only its single entry. */
function listHint(wanted: string, given: unknown): string {
  const isAlone = typeof given === 'string' || typeof given === 'number';
  if (isAlone && wanted.includes('a list') && listWordHint(given) !== '')
    return listWordHint(given);
  return isAlone && wanted.includes('a list')
    ? ' A list stands in [ ], or has a line with - for each entry.'
    : '';
}

/** How it is written, where the schema has an example. */
function exampleHint(places: readonly JsonSchema[]): string {
  const examples = places.find(one => one.examples !== undefined)?.examples ?? [];
  return examples.length === 0 ? '' : ` Such as ${examples.map(inOneLine).join(', or ')}.`;
}

/** YAML of one line. */
function inOneLine(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(inOneLine).join(', ')}]`;
  if (typeof value !== 'object' || value === null) return String(value);
  const pairs = Object.entries(value).map(([key, one]) => `${key}: ${inOneLine(one)}`);
  return `{ ${pairs.join(', ')} }`;
}

/** What a palette word of a look takes; undefined if the path is not one. */
function wordOfLook(path: Path): { readonly wanted: string; readonly hint: string } | undefined {
  const [look, word] = path.slice(-2);
  const isLook =
    ['set', 'from', 'base', 'safe'].includes(String(look)) ||
    path.includes('base') ||
    path.includes('safe');
  if (!isLook) return undefined;
  switch (word) {
    case 'colour':
      return {
        wanted: 'the name of a colour of palettes',
        hint: ' palettes: { colours: { amber: { kelvin: 2200 } } }, and then colour: amber.',
      };
    case 'beam':
      return { wanted: 'the name of a beam of palettes, or its angle in degrees', hint: '' };
    case 'target':
      return {
        wanted: 'the name of a point of palettes, or of a fixture',
        hint: ' palettes: { points: { table: [6, 5, 0.8] } }, and then target: table.',
      };
    default:
      return undefined;
  }
}

type BoundIssue = Extract<Issue, { code: 'too_small' | 'too_big' }>;

function boundFault(issue: BoundIssue, given: unknown): string {
  const verb = issue.origin === 'array' || issue.origin === 'string' ? 'have' : 'be';
  return `should ${verb} ${boundOf(issue)}, and is ${describe(given)}`;
}

function boundOf(issue: BoundIssue): string {
  const least = issue.code === 'too_small';
  const bound = Number(least ? issue.minimum : issue.maximum);
  const open = issue.inclusive === false;
  const relation = least ? (open ? 'more than' : 'at least') : open ? 'less than' : 'at most';
  switch (issue.origin) {
    case 'array':
      return `${relation} ${bound} ${bound === 1 ? 'entry' : 'entries'}`;
    case 'string':
      return `${relation} ${bound} ${bound === 1 ? 'character' : 'characters'}`;
    default:
      return `${relation} ${bound}`;
  }
}

/** The alternative of a union that the writer most probably meant. */
function explainUnion(
  issue: Extract<Issue, { code: 'invalid_union' }>,
  root: Root,
  path: Path,
): Explained[] {
  const given = valueAt(path, root.value);
  const places = alternativesAt(path, root.value, root.schema);
  // A discriminated union (the outputs) complains about the key that tells its alternatives apart.
  if (issue.errors.length === 0) {
    const words = places.flatMap(place => (place.const === undefined ? [] : [String(place.const)]));
    if (given === undefined) return [missing(path, places, `${listed(words)} is needed`)];
    const hint = meantWord(given, words);
    return [
      wrong('bad-value', path, `should be ${listed(words)}, and is ${describe(given)}`, hint),
    ];
  }
  const blocks = places.filter(place => place.properties !== undefined);
  if (blocks.length > 1 && typeof given === 'object' && given !== null && !Array.isArray(given)) {
    return explainBlocks(issue, root, path, given, blocks);
  }
  const branches = issue.errors
    .map(branch => ({ branch, cost: branch.reduce((sum, one) => sum + costOf(one), 0) }))
    .sort((a, b) => a.cost - b.cost);
  const isOfTheWhole = (one: Issue) => one.path.length === 0 && one.code !== 'unrecognized_keys';
  if (branches.every(({ branch }) => branch.every(isOfTheWhole))) {
    // None is nearer than the others: name what each would take.
    const fixed = issue.errors
      .flat()
      .flatMap(one => (one.code === 'invalid_value' ? one.values : []));
    const kinds = issue.errors.flat().flatMap(one => {
      if (one.code === 'invalid_value') return [];
      const isLength =
        (one.code === 'too_small' || one.code === 'too_big') && one.origin === 'array';
      return (isLength ? sizedList(places) : undefined) ?? wantedBy(one);
    });
    const wanted = [...(fixed.length > 0 ? [listed(fixed.map(String))] : []), ...new Set(kinds)];
    if (given === undefined) return [missing(path, places, `${wanted.join(', or ')} is needed`)];
    const slip = typeof given === 'string' ? suggestion(given, fixed.map(String)) : '';
    const hint = slip || kindHint(wanted.join(), given) + exampleHint(places);
    return [
      wrong(
        'bad-value',
        path,
        `should be ${wanted.join(', or ')}, and is ${describe(given)}`,
        hint,
      ),
    ];
  }
  return (branches[0]?.branch ?? []).flatMap(one => explain(one, root, path));
}

/** A block that may be of several kinds (the mappings), each known by a key that only it must have. */
function explainBlocks(
  issue: Extract<Issue, { code: 'invalid_union' }>,
  root: Root,
  path: Path,
  given: object,
  blocks: readonly JsonSchema[],
): Explained[] {
  const telling = tellingKeys(blocks);
  const words = telling.flat();
  const own = blocks
    .flatMap(block => ownKeys(block, blocks))
    .filter(key => Object.hasOwn(given, key));
  // Keys that others may also have count only if none of these is present; then the first of them does.
  const present = own.length > 0 ? own : words.filter(key => Object.hasOwn(given, key)).slice(0, 1);
  const meantBlocks = present.length === 1 ? blocksMeant(blocks, given) : blocks;
  const known = keysOf(present.length === 1 ? meantBlocks.slice(0, 1) : meantBlocks);
  const strangers = Object.keys(given).filter(key => !known.includes(key));
  const findings = unknownKeys(strangers, known, path, root);
  if (present.length > 1) {
    findings.push({
      code: 'bad-value',
      message: `${nameOf(path)} has ${present.map(key => `"${key}"`).join(' and ')}; it takes one of them.`,
      path: [...path, present.at(-1) ?? ''],
      atKey: true,
    });
  }
  const misspelt = findings.some(({ meantPath }) => words.includes(String(meantPath?.at(-1))));
  if (present.length === 0 && !misspelt) {
    findings.push({
      code: 'missing-key',
      message: `${nameOf(path)} has neither ${words.map(key => `"${key}"`).join(' nor ')}; it needs one of them.`,
      path,
    });
  }
  // The alternatives are in the same order in both schemas.
  const branch = issue.errors[blocks.indexOf(meantBlocks[0] as JsonSchema)] ?? [];
  const rest = branch.filter(
    one =>
      // Those of the block itself have been said; those of the blocks in it have not.
      (one.code !== 'unrecognized_keys' || one.path.length > 0) &&
      (present.length === 1 || !words.includes(String(one.path[0]))),
  );
  return [...findings, ...rest.flatMap(one => explain(one, root, path))];
}

/** A key that the branch doesn't know counts more strongly against it than a wrong value. */
function costOf(issue: Issue): number {
  if (issue.code === 'unrecognized_keys') return 3 * issue.keys.length;
  return issue.path.length === 0 ? 10 : 2;
}

function wantedBy(issue: Issue): string {
  switch (issue.code) {
    case 'invalid_type':
      return kindName(issue.expected);
    case 'invalid_format':
      return formatName(issue);
    case 'too_small':
    case 'too_big':
      return boundOf(issue);
    default:
      return issue.message.toLowerCase();
  }
}

/** Of a value that is none of these words. One that reads like one of them is a number or a yes written as text. */
function meantWord(given: unknown, words: readonly string[]): string {
  if (typeof given !== 'string') return '';
  return words.includes(given) ? ' Write it without quotes.' : suggestion(given, words);
}
