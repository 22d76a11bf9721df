import type { TextFault } from '../problems/text-fault.js';

/** A line of the text that holds something. */
interface Line {
  /** Of its first character in the text. */
  readonly start: number;
  readonly indent: number;
  /** Column of its first key, behind the dashes of a list. */
  readonly keyColumn: number;
  /** It is `key:` with nothing behind, so that a block follows. */
  readonly opens: boolean;
  readonly isKey: boolean;
}

/**
 * The line that is out of its block, when a parser failed at the block, often one line later; undefined if no line
 * is.
 * @param offset where the parser stumbled over a line that is not in the column of its block
 */
export function lineOutOfBlock(text: string, offset: number): TextFault | undefined {
  const lines = linesOf(text);
  const at = lines.findLastIndex(({ start }) => start <= offset);
  const stumbled = lines[at];
  if (stumbled === undefined) return undefined;
  const opener = lines.findLastIndex(
    ({ opens, keyColumn }, i) => i < at && opens && keyColumn < stumbled.indent,
  );
  const outer = lines[opener]?.keyColumn ?? -1;
  const members: Line[] = [];
  let inner = Number.POSITIVE_INFINITY;
  for (const line of lines.slice(opener + 1)) {
    if (line.indent <= outer) break;
    if (line.indent > inner || !line.isKey) continue;
    members.push(line);
    inner = line.opens ? line.keyColumn : Number.POSITIVE_INFINITY;
  }
  const usual = commonest(members.map(({ indent }) => indent));
  const odd = members.find(({ indent }) => indent !== usual);
  if (usual === undefined || odd === undefined) return undefined;
  return {
    message: `this line is indented by ${spaces(odd.indent)}, but the rest of its block by ${usual}.`,
    offset: odd.start + odd.indent,
  };
}

/**
 * A line below `key: value` that is indented further, as if it belonged to the value. undefined where
 * there is none.
 * @param offset in the line of that key
 */
export function lineBelowValue(text: string, offset: number): TextFault | undefined {
  const lines = linesOf(text);
  const at = lines.findLastIndex(({ start }) => start <= offset);
  const [line, next] = [lines[at], lines[at + 1]];
  if (line === undefined || next === undefined || !next.isKey) return undefined;
  if (!line.isKey || line.opens || next.indent <= line.keyColumn) return undefined;
  return {
    message: `this line is indented by ${spaces(next.indent)}, but the key above it, which already has its value, by ${line.keyColumn}: give both the same.`,
    offset: next.start + next.indent,
  };
}

function spaces(count: number): string {
  return count === 1 ? '1 space' : `${count} spaces`;
}

/** The smallest, if several are equally common. */
function commonest(values: readonly number[]): number | undefined {
  const counts = new Map<number, number>();
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
  return [...counts].sort(([a, m], [b, n]) => n - m || a - b)[0]?.[0];
}

function linesOf(text: string): Line[] {
  const lines: Line[] = [];
  let start = 0;
  for (const raw of text.split('\n')) {
    const content = raw.trimStart();
    if (content.trim() !== '' && !content.startsWith('#')) {
      const indent = raw.length - content.length;
      const dashes = /^(?:- +)*/.exec(content)?.[0].length ?? 0;
      const own = content.slice(dashes);
      lines.push({
        start,
        indent,
        keyColumn: indent + dashes,
        opens: /^[^\s:#][^:]*:\s*(?:#.*)?$/.test(own),
        isKey: /^[^\s:#[\]{},][^:]*:(?:\s|$)/.test(own),
      });
    }
    start += raw.length + 1;
  }
  return lines;
}
