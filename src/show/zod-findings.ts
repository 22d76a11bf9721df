import type { z } from 'zod';
import { unreachable } from '../stage/unreachable.js';
import type { Finding, Path } from './problem.js';
import { listed, suggestion } from './problem.js';

type Issue = z.core.$ZodIssue;

/**
 * Says a schema's issues in a technician's words.
 * @param keysAt the keys that the schema has at a path, to tell what would be right
 */
export function findingsOf(
  issues: readonly Issue[],
  value: unknown,
  keysAt: (path: Path) => readonly string[],
): Finding[] {
  return issues.flatMap(issue => explain(issue, value, keysAt, []));
}

function explain(
  issue: Issue,
  root: unknown,
  keysAt: (path: Path) => readonly string[],
  prefix: Path,
): Finding[] {
  const path: Path = [
    ...prefix,
    ...issue.path.map(part => (typeof part === 'number' ? part : String(part))),
  ];
  const given = valueAt(root, path);
  const where = path.length > 0 ? nameOf(path) : 'the file';
  switch (issue.code) {
    case 'unrecognized_keys': {
      const known = keysAt(path);
      return issue.keys.map(key => ({
        code: 'unknown-key',
        message: `"${key}" is not a key of ${where}.${suggestion(key, known)} It has ${listed(known, 20)}.`,
        path: [...path, key],
        atKey: true,
      }));
    }
    case 'invalid_union':
      return explainUnion(issue, root, keysAt, path);
    case 'invalid_type':
      if (given === undefined) {
        return [
          {
            code: 'missing-key',
            message: `${where} is missing: ${expectedName(issue.expected)} is needed.`,
            path,
          },
        ];
      }
      return [
        {
          code: 'wrong-type',
          message: `${where} should be ${expectedName(issue.expected)}, and is ${describe(given)}.`,
          path,
        },
      ];
    case 'invalid_value': {
      if (given === undefined) {
        return [
          {
            code: 'missing-key',
            message: `${where} is missing: ${listed(issue.values.map(String))}.`,
            path,
          },
        ];
      }
      const words = issue.values.map(String);
      const hint = typeof given === 'string' ? suggestion(given, words) : '';
      return [
        {
          code: 'bad-value',
          message: `${where} should be ${listed(words)}, and is ${describe(given)}.${hint}`,
          path,
        },
      ];
    }
    case 'too_small':
    case 'too_big': {
      const least = issue.code === 'too_small';
      const bound = least ? issue.minimum : issue.maximum;
      const noun =
        issue.origin === 'array' ? ' entries' : issue.origin === 'string' ? ' characters' : '';
      const relation = `${issue.inclusive === false ? (least ? 'more than' : 'less than') : least ? 'at least' : 'at most'} ${bound}${noun}`;
      // A list of fixed length that is too short or too long is of the wrong kind, not out of range.
      return [
        {
          code: 'bad-value',
          message: `${where} should be ${relation}, and is ${describe(given)}.`,
          path,
        },
      ];
    }
    case 'invalid_key':
      return [
        {
          code: 'bad-value',
          message: `"${path.at(-1)}" can't be a name: ${issue.issues[0]?.message ?? 'it has a character that names do not have'}.`,
          path,
          atKey: true,
        },
      ];
    case 'invalid_format':
      return [
        {
          code: 'bad-value',
          message: `${where} should be ${formatName(issue)}, and is ${describe(given)}.`,
          path,
        },
      ];
    case 'not_multiple_of':
    case 'invalid_element':
    case 'custom':
      return [{ code: 'bad-value', message: `${where}: ${issue.message}.`, path }];
    default:
      return unreachable(issue);
  }
}

/** Of a union's branches, the one that the writer most probably meant: the fewest complaints. */
function explainUnion(
  issue: Extract<Issue, { code: 'invalid_union' }>,
  root: unknown,
  keysAt: (path: Path) => readonly string[],
  path: Path,
): Finding[] {
  const given = valueAt(root, path);
  const where = nameOf(path);
  if (given === undefined) return [{ code: 'missing-key', message: `${where} is missing.`, path }];
  const { discriminator } = issue as { discriminator?: string };
  if (discriminator !== undefined && issue.errors.length === 0) {
    const at = [...path, discriminator];
    const chosen = valueAt(root, at);
    const message =
      chosen === undefined
        ? `${nameOf(at)} is missing: "sacn" or "artnet" is needed.`
        : `${nameOf(at)} should be "sacn" or "artnet", and is ${describe(chosen)}.`;
    return [{ code: chosen === undefined ? 'missing-key' : 'bad-value', message, path: at }];
  }
  const branches = issue.errors
    .map(branch => ({ branch, cost: branch.reduce((sum, one) => sum + costOf(one), 0) }))
    .sort((a, b) => a.cost - b.cost);
  const best = branches[0];
  if (best === undefined)
    return [{ code: 'bad-value', message: `${where}: ${issue.message}.`, path }];
  // All branches complain of the value as a whole: name what each would take.
  if (
    branches.every(({ branch }) =>
      branch.every(one => one.path.length === 0 && one.code !== 'unrecognized_keys'),
    )
  ) {
    const wanted = branches.flatMap(({ branch }) => branch.map(wantedBy));
    return [
      {
        code: 'bad-value',
        message: `${where} should be ${[...new Set(wanted)].join(', or ')}, and is ${describe(given)}.`,
        path,
      },
    ];
  }
  return best.branch.flatMap(one => explain(one, root, keysAt, path));
}

/** A key that the branch doesn't know speaks more strongly against it than a value it doesn't like. */
function costOf(issue: Issue): number {
  if (issue.code === 'unrecognized_keys') return 3 * issue.keys.length;
  return issue.path.length === 0 ? 10 : 2;
}

function wantedBy(issue: Issue): string {
  switch (issue.code) {
    case 'invalid_value':
      return listed(issue.values.map(String));
    case 'invalid_type':
      return expectedName(issue.expected);
    case 'invalid_format':
      return formatName(issue);
    default:
      return issue.message.toLowerCase();
  }
}

function expectedName(expected: string): string {
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
      return 'a whole number';
    case 'number':
      return 'a number';
    case 'boolean':
      return 'true or false';
    default:
      return expected;
  }
}

function formatName(issue: Extract<Issue, { code: 'invalid_format' }>): string {
  switch (issue.format) {
    case 'ipv4':
      return 'an IPv4 address such as 10.0.0.5';
    case 'cidrv4':
      return 'a range of addresses such as 10.0.0.0/24';
    default:
      return issue.message;
  }
}

function describe(value: unknown): string {
  if (value === null || value === undefined) return 'empty';
  if (Array.isArray(value)) return `a list of ${value.length}`;
  if (typeof value === 'object') return 'a block of keys';
  return typeof value === 'string' ? `"${value.slice(0, 60)}"` : String(value);
}

export function nameOf(path: Path): string {
  let name = '';
  for (const part of path)
    name += typeof part === 'number' ? `[${part}]` : `${name === '' ? '' : '.'}${part}`;
  return name === '' ? 'the file' : name;
}

function valueAt(root: unknown, path: Path): unknown {
  let value = root;
  for (const part of path) {
    if (typeof value !== 'object' || value === null) return undefined;
    value = (value as Record<string | number, unknown>)[part];
  }
  return value;
}
