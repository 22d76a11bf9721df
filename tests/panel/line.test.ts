import { createInterface } from 'node:readline';
import { PassThrough } from 'node:stream';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  cut,
  initialOf,
  type Line,
  paintLine,
  printable,
  toWidth,
  widthOf,
  wrapLine,
} from '../../src/panel/line.js';
import { demand } from '../demand.js';

/** Independent: where Node's own line editor puts the cursor after a text. */
function columnsByNode(text: string): number {
  const input = new PassThrough();
  const editor = createInterface({ input, output: new PassThrough(), terminal: true, prompt: '' });
  editor.write(text);
  const { cols } = editor.getCursorPos();
  editor.close();
  return cols;
}

const bracketed = (style: string, text: string) => `<${style}>${text}</>`;

describe('the width of a text', () => {
  it.each([
    'Ines',
    'Möwe',
    'Mo\u0308we',
    'カモメ',
    '갈매기',
    '海鷗',
    '海・鷗',
    'ｶﾓﾒ',
    'ㄅㄆ',
    'ꀀꄷ',
    '⿰〈〉',
    '㈱㏄',
    'Чайка',
    'Γλάρος',
    'the 🐦 gull',
    '█░▒·',
    '',
  ])('of %j is what Node takes it for', text => {
    expect(widthOf(text)).toBe(columnsByNode(text));
  });
});

describe('a text', () => {
  it('in a number of cells takes exactly those', () => {
    const any = fc.string({ unit: 'grapheme', maxLength: 20 });
    fc.assert(
      fc.property(any, fc.nat(30), (text, cells) => {
        expect(widthOf(toWidth(text, cells))).toBe(cells);
        expect(widthOf(cut(text, cells))).toBeLessThanOrEqual(cells);
      }),
      { seed: 81 },
    );
    expect(toWidth('stove', 8)).toBe('stove   ');
    expect(toWidth('stove', 3)).toBe('st…');
    // Half a sign would be another sign, or none.
    expect(toWidth('カモメ', 3)).toBe('カ…');
    expect(cut('a👩‍🌾b', 2)).toBe('a');
  });

  it('loses what would steer a terminal', () => {
    expect(printable('a\x1b[2Jb\n\u0007\u202ec\u2028')).toBe('a?[2Jb???c?');
    expect(printable('Möwe カモメ 🐦')).toBe('Möwe カモメ 🐦');
  });

  it('has an initial if that takes one cell', () => {
    expect(['Gull', 'Édith', 'カモメ', '🐦', ''].map(initialOf)).toEqual([
      'G',
      'É',
      undefined,
      undefined,
      undefined,
    ]);
  });
});

describe('a line', () => {
  it('is cut between and inside of its pieces, never inside of a colour', () => {
    const line = ['a ', ['red', 'lost'], ' b'] as const;
    const cuts = [0, 1, 2, 3, 6, 7, 9].map(cells => paintLine(line, cells, bracketed));
    expect(cuts).toEqual([
      '',
      '…',
      'a…',
      'a …',
      'a <red>los</>…',
      'a <red>lost</>…',
      'a <red>lost</> b',
    ]);
  });

  it('is broken at spaces, and what goes on is indented', () => {
    const line = ['light ', ['dim', 'stove dark; the rest'], ' goes on'] as const;
    const painted = wrapLine(line, 17, 3).map(one => paintLine(one, 17, (_, text) => text));
    expect(painted).toEqual(['light stove dark;', '   the rest goes ', '   on']);
    expect(wrapLine(line, 40, 3)).toEqual([line]);
    // A word longer than the room is broken where it has to be.
    expect(wrapLine(['灯台守のトビアス'], 9, 2)).toEqual([
      ['灯台守の'],
      ['  ', 'トビア'],
      ['  ', 'ス'],
    ]);
  });

  it('loses nothing where it is broken, whatever is in it', () => {
    const piece = fc.tuple(fc.boolean(), fc.string({ unit: 'grapheme', maxLength: 24 }));
    fc.assert(
      fc.property(
        fc.array(piece, { maxLength: 5 }),
        fc.integer({ min: 6, max: 40 }),
        (all, cells) => {
          const line = all.map(([isRed, text]) => (isRed ? (['red', text] as const) : text));
          const lines = wrapLine(line, cells, 2);
          const text = (some: readonly Line[], room: number) =>
            some
              .map(one => paintLine(one, room, (_, t) => t))
              .join('')
              .replace(/\s/g, '');
          const [broken, whole] = [text(lines, cells), text([line], 999)];
          demand(broken === whole, () => `${broken} is not ${whole}`);
        },
      ),
      { seed: 83 },
    );
  });
});
