export type Style = 'bold' | 'dim' | 'green' | 'yellow' | 'red' | 'cyan';

/** Colours a piece of text; the identity where there is no colour. */
export type Paint = (style: Style, text: string) => string;

/** A line before it is coloured, so that it can be cut without cutting a colour code. */
export type Line = readonly Piece[];
export type Piece = string | readonly [style: Style, text: string];

const graphemes = new Intl.Segmenter('en', { granularity: 'grapheme' });

/** What would move the cursor, colour the rest of the screen or turn the line round: names are people's text. */
const UNPRINTABLE = /[\p{Cc}\p{Cs}\p{Zl}\p{Zp}\u202a-\u202e\u2066-\u2069]/gu;

/** Two cells wide on a terminal (from memory of Unicode's East Asian Width; a few rare signs are missing). */
const WIDE =
  /^[\p{Script=Han}\p{Script=Hangul}\p{Script=Hiragana}\p{Script=Katakana}\p{Emoji_Presentation}\u3000-\u303e\uff01-\uff60\uffe0-\uffe6]|\ufe0f/u;
const NO_WIDTH = /^[\p{Mark}\p{Cf}]+$/u;

/** Most of a screen: a cell for each character, and nothing to look up. */
const SIMPLE = /^[ -~·█░▒]*$/;

function cellsOf(grapheme: string): number {
  if (NO_WIDTH.test(grapheme)) return 0;
  return WIDE.test(grapheme) ? 2 : 1;
}

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

/** A text in exactly so many cells: cut, or filled with spaces. */
export function toWidth(text: string, cells: number): string {
  const kept = cut(text, cells);
  return kept + ' '.repeat(cells - widthOf(kept));
}

/** A line in at most so many cells. */
export function paintLine(line: Line, cells: number, paint: Paint): string {
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
