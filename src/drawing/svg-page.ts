import { escaped } from '../stage/markup.js';
import { INK } from './ink.js';
import { widthOf } from './letters.js';

/** A picture as a file of its own, filled from the top: lines of text that stay within it, and drawings. */
export class SvgPage {
  /** Where the next thing goes, from the top. */
  y = 4;
  readonly #body: string[] = [];

  constructor(
    private readonly wide: number,
    private readonly margin: number,
  ) {}

  /** In as many lines as it takes. */
  write(words: string, { size = 13, bold = false, ink = INK.text as string } = {}): void {
    this.y = this.writeAt(this.margin, this.y, this.wide - 2 * this.margin, words, size, bold, ink);
  }

  /** @returns below it */
  writeAt(
    x: number,
    y: number,
    wide: number,
    words: string,
    size = 13,
    bold = false,
    ink: string = INK.text,
  ): number {
    let down = y;
    for (const line of wrapped(words, wide / size)) {
      down += 1.3 * size;
      this.#body.push(
        `<text x="${fixed(x)}" y="${fixed(down)}" font-size="${size}"${bold ? ' font-weight="bold"' : ''} fill="${ink}">${escaped(line)}</text>`,
      );
    }
    return down;
  }

  /** Shades and what they mean, side by side. @returns below it */
  legend(
    key: readonly (readonly [ink: string, text: string])[],
    x: number,
    y: number,
    wide: number,
  ): number {
    let [right, down] = [x, y + 18];
    for (const [ink, text] of key) {
      const length = 30 + 12 * widthOf(text);
      if (right > x && right + length > x + wide) [right, down] = [x, down + 17];
      this.#body.push(
        `<rect x="${fixed(right)}" y="${fixed(down - 10)}" width="12" height="12" fill="${ink}" stroke="${INK.quiet}" stroke-width="0.5"/>`,
        `<text x="${fixed(right + 16)}" y="${fixed(down)}" font-size="12">${escaped(text)}</text>`,
      );
      right += length;
    }
    return down + 6;
  }

  /** @param svg a whole element, shown in this rectangle */
  place(svg: string, x: number, y: number, wide: number, high: number): void {
    const at = `x="${fixed(x)}" y="${fixed(y)}" width="${fixed(wide)}" height="${fixed(high)}"`;
    this.#body.push(svg.replace('<svg ', `<svg ${at} `));
  }

  svg(title: string): string {
    const high = fixed(this.y + 10);
    return [
      `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${this.wide} ${high}" font-family="sans-serif" fill="${INK.text}">`,
      `<title>${escaped(title)}</title>`,
      `<rect width="${this.wide}" height="${high}" fill="${INK.paper}"/>`,
      ...this.#body,
      '</svg>',
      '',
    ].join('\n');
  }
}

/** @param most width of a line, in units of the size of the text */
function wrapped(text: string, most: number): string[] {
  const lines: string[] = [];
  // A figure stays with its unit.
  for (const word of text.replace(/(\d) (?=(?:mm|m|s|%)\b)/g, '$1\u00a0').split(' ')) {
    const longer = lines.length === 0 ? word : `${lines.at(-1)} ${word}`;
    if (lines.length > 0 && widthOf(longer) <= most) lines[lines.length - 1] = longer;
    else lines.push(word);
  }
  return lines;
}

function fixed(value: number): string {
  return value.toFixed(1);
}
