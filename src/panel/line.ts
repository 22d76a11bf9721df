export type Style = 'bold' | 'dim' | 'green' | 'yellow' | 'red' | 'cyan';

/** Colours a piece of text; the identity where there is no colour. */
export type Paint = (style: Style, text: string) => string;

/** A line before it is coloured, so that it can be cut without cutting a colour code. */
export type Line = readonly Piece[];
export type Piece = string | readonly [style: Style, text: string];

const graphemes = new Intl.Segmenter('en', { granularity: 'grapheme' });

/** What would move the cursor, colour the rest of the screen or turn the line round: names are people's text. */
const UNPRINTABLE = /[\p{Cc}\p{Cs}\p{Zl}\p{Zp}\u202a-\u202e\u2066-\u2069]/gu;

/** Two cells wide on a terminal: W and F of Unicode's East Asian Width (UAX 11), and what is drawn as an emoji. */
const WIDE =
  /^(?![\u1160-\u11ff\ud7b0-\ud7ff\uff61-\uffdc])[\p{Script=Han}\p{Script=Hangul}\p{Script=Yi}\p{Script=Tangut}\p{Script=Nushu}\p{Emoji_Presentation}\u2329\u232a\u2ff0-\u2ffb\u3000-\u303e\u3041-\u3247\u3250-\u4dbf\ufe10-\ufe19\ufe30-\ufe6b\uff01-\uff60\uffe0-\uffe6]|\ufe0f/u;
const NO_WIDTH = /^[\p{Mark}\p{Cf}]+$/u;

/** Most of a screen: a cell for each character, and nothing to look up. */
const SIMPLE = /^[ -~·█░▒]*$/;

function cellsOf(grapheme: string): number {
  if (NO_WIDTH.test(grapheme)) return 0;
  return WIDE.test(grapheme) ? 2 : 1;
}

/** Stands for what had no room. */
const MORE = '…';

/** Cells that a text takes on a terminal. */
export function widthOf(text: string): number {
  if (SIMPLE.test(text)) return text.length;
  let cells = 0;
  for (const { segment } of graphemes.segment(text)) cells += cellsOf(segment);
  return cells;
}

export function widthOfLine(line: Line): number {
  return line.reduce(
    (sum, piece) => sum + widthOf(typeof piece === 'string' ? piece : piece[1]),
    0,
  );
}

/** The first sign of a text if it takes one cell. */
export function initialOf(text: string): string | undefined {
  const [first] = graphemes.segment(printable(text));
  return first !== undefined && cellsOf(first.segment) === 1 ? first.segment : undefined;
}

export function printable(text: string): string {
  return text.replace(UNPRINTABLE, '?');
}

/** As much of a text as goes into so many cells. */
export function cut(text: string, cells: number): string {
  if (SIMPLE.test(text)) return text.slice(0, cells);
  const clean = printable(text);
  let left = cells;
  let kept = '';
  for (const { segment } of graphemes.segment(clean)) {
    left -= cellsOf(segment);
    if (left < 0) break;
    kept += segment;
  }
  return kept;
}

/** A text in at most so many cells; where something is missing, its last sign says so. */
export function shortened(text: string, cells: number): string {
  const clean = printable(text);
  return widthOf(clean) <= cells
    ? clean
    : `${cut(clean, Math.max(0, cells - 1))}${cells > 0 ? MORE : ''}`;
}

/** A text in exactly so many cells: shortened, or filled with spaces. */
export function toWidth(text: string, cells: number): string {
  const kept = shortened(text, cells);
  return kept + ' '.repeat(cells - widthOf(kept));
}

/** Broken at spaces into lines of at most so many cells; those after the first are indented. */
export function wrapLine(line: Line, cells: number, indent: number): Line[] {
  if (widthOfLine(line) <= cells || cells <= indent) return [line];
  const lines: Piece[][] = [[]];
  let left = cells;
  let isStart = true;
  for (const piece of line) {
    const [style, text] = typeof piece === 'string' ? [undefined, piece] : piece;
    const styled = (some: string): Piece => (style === undefined ? some : [style, some]);
    for (const word of printable(text).split(/(?<= )(?=[^ ])/)) {
      let rest = word;
      // The space behind it may be cut.
      if (!isStart && widthOf(rest.trimEnd()) > left) {
        lines.push([' '.repeat(indent)]);
        left = cells - indent;
      }
      while (widthOf(rest.trimEnd()) > left) {
        const kept = cut(rest, left);
        if (kept === '') break;
        lines.at(-1)?.push(styled(kept));
        rest = rest.slice(kept.length);
        lines.push([' '.repeat(indent)]);
        left = cells - indent;
      }
      const kept = cut(rest, left);
      lines.at(-1)?.push(styled(kept));
      left -= widthOf(kept);
      isStart = false;
    }
  }
  return lines;
}

/** A line in at most so many cells; where something is missing, its last sign says so. */
export function paintLine(line: Line, cells: number, paint: Paint): string {
  if (cells > 0 && widthOfLine(line) > cells) {
    return `${paintWhole(line, cells - 1, paint)}${MORE}`;
  }
  return paintWhole(line, cells, paint);
}

function paintWhole(line: Line, cells: number, paint: Paint): string {
  let left = cells;
  let painted = '';
  for (const piece of line) {
    const text = cut(typeof piece === 'string' ? piece : piece[1], left);
    left -= widthOf(text);
    if (text === '') continue;
    painted += typeof piece === 'string' ? text : paint(piece[0], text);
  }
  return painted;
}
