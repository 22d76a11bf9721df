import type { z } from 'zod';
import type { Finding, Path } from './problems/problem.js';
import { type ShowFile, ShowFileSchema } from './schema/schema.js';

/** The blocks whose entries have names of the user's. */
const NAMED = [
  'inputs',
  'performers',
  'anchors',
  'obstacles',
  'zones',
  'exits',
  'keepOut',
  'groups',
  'signals',
  'conditions',
  'profiles',
  'fixtures',
  'cues',
  'receivers',
  'desk',
  'positions',
  'outputs',
] as const;
/** Taking one thing out can show another; more rounds than this are not worth it. */
const MOST_ROUNDS = 4;
/** Blocks in blocks of one entry. */
const DEEPEST = 5;

type Plain = Record<string, unknown>;
type Issue = z.core.$ZodIssue;

/** Findings that may be caused by something left out of these blocks. */
const REASONS: Readonly<Partial<Record<Finding['code'], readonly string[]>>> = {
  'universe-unreachable': ['outputs'],
  'ground-missing': ['desk'],
  'hazard-enable': ['orders'],
  'enable-of-nothing': ['fixtures', 'profiles'],
};

/** A file without the entries that the schema refused, and what was left out of it. */
export interface UsableParts {
  readonly show: ShowFile;
  /** Names of the entries that were left out. */
  readonly names: ReadonlySet<string>;
  /** Blocks of which something was left out, if only a key: nobody can say what was meant. */
  readonly blocks: ReadonlySet<string>;
  /** Names themselves were refused, so that nobody can say which ones were meant elsewhere. */
  readonly namesInDoubt: boolean;
  /** Place in the file of each mapping that is left. */
  readonly mappings: readonly number[];
}

/**
 * Removes what the schema refuses from a file, entry by entry, so that the rest can be cross-checked: a slip in one
 * fixture must not hide an overlap of two others.
 * @returns undefined if too little is left to check (no stage, no block at all)
 */
export function usableParts(value: unknown, issues: readonly Issue[]): UsableParts | undefined {
  if (!isPlain(value)) return undefined;
  const rest = structuredClone(value);
  const names = new Set<string>();
  const blocks = new Set<string>();
  // A name that is none, or a whole block of names refused.
  const namesInDoubt = issues.some(
    ({ code, path }) => code === 'invalid_key' || (path.length === 1 && isNamed(String(path[0]))),
  );
  let mappings = Array.isArray(rest.mappings) ? rest.mappings.map((_, index) => index) : [];
  let open: readonly Issue[] = issues;
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const dropped = new Set<number>();
    for (const issue of open) {
      const [block, entry] = issue.path.map(String);
      if (entry !== undefined && dropHalves(valueAt(rest, issue.path.slice(0, 2)))) continue;
      if (block !== undefined) blocks.add(block);
      if (issue.code === 'unrecognized_keys') dropKeys(rest, issue.path, issue.keys);
      else if (block === 'mappings' && entry !== undefined) {
        dropped.add(Number(entry));
        const name = valueAt(rest, ['mappings', Number(entry), 'name']);
        if (typeof name === 'string') names.add(name);
      } else if (block === 'name') rest.name = 'a show';
      else if (block === 'lampwright') rest.lampwright = 1;
      else if (
        block === 'watchdog' ||
        block === 'tracking' ||
        block === 'spares' ||
        block === 'ranging' ||
        block === 'masters' ||
        block === 'orders' ||
        block === 'mappings'
      ) {
        delete rest[block];
        if (block === 'mappings') mappings = [];
      } else if (isNamed(block)) {
        const entries = rest[block];
        if (entry === undefined || !isPlain(entries)) rest[block] = {};
        else {
          names.add(entry);
          delete entries[entry];
        }
      } else return undefined;
    }
    if (dropped.size > 0 && Array.isArray(rest.mappings)) {
      rest.mappings = rest.mappings.filter((_, index) => !dropped.has(index));
      mappings = mappings.filter((_, index) => !dropped.has(index));
    }
    const checked = ShowFileSchema.safeParse(rest);
    if (checked.success)
      return {
        show: checked.data,
        names,
        blocks,
        namesInDoubt,
        mappings,
      };
    open = checked.error.issues;
  }
  return undefined;
}

/** The findings in what is left that can't be caused by what was left out. */
export function soundFindings(
  { names, blocks, namesInDoubt, mappings }: UsableParts,
  findings: readonly Finding[],
  value: unknown,
): Finding[] {
  return findings
    .map(finding => ({ ...finding, path: originalPath(finding.path, mappings) }))
    .filter(({ code, path }) => {
      const reasons = REASONS[code];
      if (reasons !== undefined) return !reasons.some(block => blocks.has(block));
      if (code !== 'unknown-name') return true;
      // A name is what stands there, or the key of what stands there.
      const said = [String(valueAt(value, path)), String(path.at(-1))];
      return !namesInDoubt && !said.some(name => names.has(name));
    });
}

function originalPath(path: Path, mappings: readonly number[]): Path {
  const [block, index, ...rest] = path;
  if (block !== 'mappings' || typeof index !== 'number') return path;
  return [block, mappings[index] ?? index, ...rest];
}

function dropKeys(rest: Plain, path: readonly PropertyKey[], keys: readonly string[]): void {
  const place = valueAt(rest, path);
  if (!isPlain(place)) return;
  for (const key of keys) delete place[key];
}

/**
 * Halves of decimals with a comma (`Dimmer: 60,5` in a block of one line is `Dimmer: 60` and `5`): without them
 * the rest of the entry can be looked at.
 * @param levels depth to search: no valid entry goes deeper, and a damaged one may be circular
 * @returns whether there were any
 */
function dropHalves(entry: unknown, levels = DEEPEST): boolean {
  if (typeof entry !== 'object' || entry === null || levels === 0) return false;
  let found = false;
  for (const [key, value] of Object.entries(entry)) {
    if (isPlain(entry) && value === null && /^\d+$/.test(key)) {
      delete entry[key];
      found = true;
    } else if (dropHalves(value, levels - 1)) found = true;
  }
  return found;
}

function valueAt(root: unknown, path: readonly PropertyKey[]): unknown {
  let value = root;
  for (const part of path) {
    if (typeof value !== 'object' || value === null) return undefined;
    value = (value as Record<PropertyKey, unknown>)[part];
  }
  return value;
}

function isNamed(block: string | undefined): block is (typeof NAMED)[number] {
  return NAMED.some(name => name === block);
}

function isPlain(value: unknown): value is Plain {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
