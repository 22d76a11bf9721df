import { createTwoFilesPatch, FILE_HEADERS_ONLY } from 'diff';
import {
  isCollection,
  isMap,
  isNode,
  isPair,
  isScalar,
  isSeq,
  type Pair,
  parseDocument,
  type YAMLMap,
  type YAMLSeq,
} from 'yaml';
import { parseShow } from '../show/parse.js';
import type { Parts } from '../show/parts.js';

/** One value of a show file to be set: where it stands, and what is to stand there. */
export interface Change {
  /** Keys from the top of the file, places in a list as "0"; all but the last have to be there already. */
  readonly path: readonly string[];
  readonly value: ChangeValue;
  /** Where the key is new: the keys beside it behind which it is to stand, the first that is there. */
  readonly after?: readonly string[];
}

export type ChangeValue =
  | number
  | string
  | readonly number[]
  | { readonly [key: string]: number | string | { readonly [key: string]: number } };

export type Proposal =
  | {
      readonly ok: true;
      /** The text with the changes, everything else as it was. */
      readonly text: string;
      /** From the old to the new as a unified diff; empty where nothing changes. */
      readonly patch: string;
    }
  | { readonly ok: false; readonly why: string };

/**
 * Sets values in the text of a show, touching nothing else: comments, order and layout stay. The
 * result is read again, and refused unless it is a right show that says what was wanted.
 * @param parts texts of the other files that the show names
 * @param file name in the head of the diff: relative, so that `patch -p0` and `git apply -p0` find it
 */
export function proposeChanges(
  text: string,
  file: string,
  changes: readonly Change[],
  parts: Parts = new Map(),
): Proposal {
  let changed = text;
  for (const change of changes) {
    const next = withChange(changed, change);
    if (next === undefined) return refused(change);
    changed = next;
  }
  const parsed = parseShow(changed, file, parts);
  if (!parsed.ok) {
    const problem = parsed.problems[0];
    return {
      ok: false,
      why: `the show would not be right with it: ${problem?.message ?? 'it can not be read'}`,
    };
  }
  const document = parseDocument(changed, { version: '1.2', logLevel: 'error' });
  const wrong = changes.find(({ path, value }) => !same(plain(document.getIn(path)), value));
  if (wrong !== undefined) return refused(wrong);
  const patch =
    changed === text
      ? ''
      : createTwoFilesPatch(file, file, text, changed, undefined, undefined, {
          context: 3,
          headerOptions: FILE_HEADERS_ONLY,
        });
  return { ok: true, text: changed, patch };
}

function refused({ path, value }: Change): Proposal {
  return {
    ok: false,
    why: `${path.join('.')} can't be set in the text as it is written; set it by hand to ${flow(value)}.`,
  };
}

/** The text with one value set; undefined where its place is not there, or repeats another (`*name`). */
function withChange(text: string, { path, value, after }: Change): string | undefined {
  const document = parseDocument(text, { version: '1.2', logLevel: 'error' });
  let map: unknown = document.contents;
  for (const key of path.slice(0, -1)) map = within(map, key);
  const key = path.at(-1);
  if (key !== undefined && isSeq(map)) {
    const item = within(map, key);
    // A block in a list has its keys in lines of their own: it is changed key by key.
    if (item === undefined || isBlock(item)) return undefined;
    return withValue(text, item, value);
  }
  if (key === undefined || !isMap(map)) return undefined;
  const pair = pairOf(map, key);
  if (pair === undefined) return withKey(text, map, key, value, after);
  const old = pair.value;
  if (isMap(old) && !old.flow && typeof value === 'object' && !Array.isArray(value)) {
    return withBlock(text, path, old, value as { readonly [key: string]: ChangeValue });
  }
  return withValue(text, old, value);
}

function within(node: unknown, key: string): unknown {
  if (isMap(node)) return node.get(key, true);
  return isSeq(node) ? node.get(Number(key), true) : undefined;
}

/** A block of keys: each is set in its own line, so that what stands beside it stays. */
function withBlock(
  text: string,
  path: readonly string[],
  old: YAMLMap,
  value: { readonly [key: string]: ChangeValue },
): string | undefined {
  // A key that is not wanted any more has to go; a block is then written anew, in one line.
  if (old.items.some(item => !Object.hasOwn(value, String(keyOf(item))))) return undefined;
  let changed: string | undefined = text;
  for (const [key, one] of Object.entries(value)) {
    if (changed === undefined) return undefined;
    changed = withChange(changed, { path: [...path, key], value: one });
  }
  return changed;
}

function withValue(text: string, old: unknown, value: ChangeValue): string | undefined {
  if (!isNode(old) || old.range == null) return undefined;
  const [from, to] = old.range;
  // An alias or an anchor is shared with other places of the file.
  if (text[from] === '*' || ('anchor' in old && old.anchor !== undefined)) return undefined;
  if (isBlock(old)) {
    const colon = text.lastIndexOf(':', from);
    const end = contentEnd(old);
    if (colon < 0 || end === undefined) return undefined;
    return `${text.slice(0, colon + 1)} ${flow(value)}${text.slice(end)}`;
  }
  // A key without a value: `turn:`.
  const gap = from === to && text[from - 1] === ':' ? ' ' : '';
  return `${text.slice(0, from)}${gap}${flow(value)}${text.slice(to)}`;
}

/** Adds a key behind the one named, or the last: on a line of its own in a block, behind a comma within braces. */
function withKey(
  text: string,
  map: YAMLMap,
  key: string,
  value: ChangeValue,
  after: readonly string[] = [],
): string | undefined {
  if (map.range == null) return undefined;
  const beside = after.map(one => pairOf(map, one)).find(pair => pair !== undefined);
  const last = beside ?? map.items.at(-1);
  if (last === undefined) {
    const [from, to] = map.range;
    return map.flow
      ? `${text.slice(0, from)}{ ${key}: ${flow(value)} }${text.slice(to)}`
      : undefined;
  }
  const [start] = rangeOf(last.key);
  const end = endOf(last);
  if (start === undefined || end === undefined) return undefined;
  if (map.flow) return `${text.slice(0, end)}, ${key}: ${flow(value)}${text.slice(end)}`;
  const lineStart = text.lastIndexOf('\n', start - 1) + 1;
  const indent = text.slice(lineStart, start);
  if (indent.trim() !== '') return undefined;
  const newline = text.includes('\r\n') ? '\r\n' : '\n';
  // Behind the last value and what is said of it on its line.
  const lineEnd = text.indexOf('\n', Math.max(start, end - 1));
  const line = `${indent}${key}: ${flow(value)}`;
  return lineEnd < 0
    ? `${text}${newline}${line}`
    : `${text.slice(0, lineEnd + 1)}${line}${newline}${text.slice(lineEnd + 1)}`;
}

function pairOf(map: YAMLMap, key: string): Pair | undefined {
  return map.items.find(item => String(keyOf(item)) === key);
}

function keyOf(pair: Pair): unknown {
  return isScalar(pair.key) ? pair.key.value : pair.key;
}

function rangeOf(node: unknown): readonly [from: number | undefined, to: number | undefined] {
  return isNode(node) && node.range != null
    ? [node.range[0], node.range[1]]
    : [undefined, undefined];
}

function endOf(pair: Pair): number | undefined {
  return contentEnd(pair.value) ?? contentEnd(pair.key);
}

function isBlock(node: unknown): node is YAMLMap | YAMLSeq {
  return isCollection(node) && node.flow !== true;
}

/** Where a node ends; a block ends with its last value, before the empty lines and comments after it. */
function contentEnd(node: unknown): number | undefined {
  if (!isBlock(node)) return rangeOf(node)[1];
  const last: unknown = node.items.at(-1);
  return isPair(last) ? endOf(last) : contentEnd(last);
}

function plain(node: unknown): unknown {
  return isNode(node) ? node.toJSON() : node;
}

/** The order of keys says nothing. */
function same(found: unknown, wanted: ChangeValue): boolean {
  if (typeof wanted !== 'object') return found === wanted;
  if (typeof found !== 'object' || found === null) return false;
  const [has, wants] = [
    Object.entries(found),
    new Map<string, ChangeValue>(Object.entries(wanted)),
  ];
  return (
    has.length === wants.size &&
    has.every(([key, value]) => {
      const want = wants.get(key);
      return want !== undefined && same(value, want);
    })
  );
}

/** As it is written in one line. */
function flow(value: ChangeValue): string {
  if (typeof value === 'object') {
    if (Array.isArray(value)) return `[${value.join(', ')}]`;
    return `{ ${Object.entries(value)
      .map(([key, one]) => `${key}: ${flow(one)}`)
      .join(', ')} }`;
  }
  return String(value);
}
