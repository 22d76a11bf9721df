import { type Document, isMap, isNode, isScalar, type Node, type Pair, type YAMLMap } from 'yaml';
import { printable } from '../../stage/printable.js';
import type { Finding, Path, Problem } from '../problems/problem.js';

/** Characters of a line that are shown. */
const LONGEST_EXCERPT = 160;

/** Gives findings their line, column and excerpt. */
export class Locator {
  readonly #lines: readonly string[];
  /** Offset of the first character of each line. */
  readonly #starts: readonly number[];

  // The library's own counter of lines loses some after a fault.
  constructor(
    private readonly file: string,
    text: string,
  ) {
    const lines = text.split('\n');
    let start = 0;
    this.#starts = lines.map(line => {
      const at = start;
      start += line.length + 1;
      return at;
    });
    this.#lines = lines.map(line => line.replace(/\r$/, ''));
  }

  place(finding: Finding, document: Document): Problem {
    return this.at(finding, offsetOf(document, finding.path, finding.atKey === true));
  }

  /** @param offset in the text */
  at(finding: Pick<Finding, 'code' | 'message'>, offset: number): Problem {
    const line = this.#lineOf(offset);
    const column = offset - (this.#starts[line - 1] ?? 0) + 1;
    return {
      code: finding.code,
      message: printable(finding.message),
      file: this.file,
      line,
      column,
      excerpt: this.#excerpt(line, column),
    };
  }

  /** Counted from 1; by halving, for a file may have as many faults as lines. */
  #lineOf(offset: number): number {
    let low = 0;
    let high = this.#starts.length - 1;
    while (low < high) {
      const middle = Math.ceil((low + high) / 2);
      if ((this.#starts[middle] ?? 0) <= offset) low = middle;
      else high = middle - 1;
    }
    return low + 1;
  }

  #excerpt(line: number, column: number): string {
    const whole = this.#lines[line - 1] ?? '';
    // For a line too long for a screen, the part around the place.
    const from = Math.max(
      0,
      Math.min(column - LONGEST_EXCERPT / 2, whole.length - LONGEST_EXCERPT),
    );
    const number = String(line);
    const shown = (end: number) => printable(whole.slice(from, end)).replaceAll('\\t', '\t');
    const text = shown(from + LONGEST_EXCERPT);
    // Tabs are kept in the line of the mark, so that it lines up.
    const indent = shown(column - 1).replace(/[^\t]/g, ' ');
    return `  ${number} | ${text}\n  ${' '.repeat(number.length)} | ${indent}^`;
  }
}

/** Offset of the deepest part of the path that exists in the file: for a missing key, its parent. */
function offsetOf(document: Document, path: Path, atKey: boolean): number {
  let node: unknown = document.contents;
  let offset = startOf(node) ?? 0;
  for (let depth = 0; depth < path.length; depth++) {
    const key = path[depth] as string | number;
    const last = depth === path.length - 1;
    if (isMap(node)) {
      const pair = pairsOf(node).get(String(key));
      if (pair === undefined) return offset;
      const keyOffset = startOf(pair.key) ?? offset;
      node = pair.value;
      offset = last && atKey ? keyOffset : (startOf(node) ?? keyOffset);
      // A block under a key begins on the next line; the key is where the eye looks for it.
      if (isMap(node) && !node.flow) offset = keyOffset;
    } else {
      const items: unknown = (node as { items?: unknown } | null)?.items;
      const item: unknown = Array.isArray(items) ? items[Number(key)] : undefined;
      if (item === undefined) return offset;
      node = item;
      offset = startOf(node) ?? offset;
    }
  }
  return offset;
}

/** A block may have as many keys as the file has lines, and as many faults: each is not looked for anew. */
const pairsByKey = new WeakMap<YAMLMap, ReadonlyMap<string, Pair>>();

function pairsOf(map: YAMLMap): ReadonlyMap<string, Pair> {
  let pairs = pairsByKey.get(map);
  if (pairs === undefined) {
    const entries = map.items.map((pair): [string, Pair] => [
      String(isScalar(pair.key) ? pair.key.value : pair.key),
      pair,
    ]);
    pairs = new Map(entries.reverse());
    pairsByKey.set(map, pairs);
  }
  return pairs;
}

function startOf(node: unknown): number | undefined {
  return isNode(node) ? (node as Node).range?.[0] : undefined;
}
