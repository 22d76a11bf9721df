import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { printable, printableColoured, printableLines } from '../../src/stage/printable.js';

/** Unicode 15, chapter 23.2 (layout controls) and UAX 9, 2.1 to 2.6: the directional formatting characters. */
const BIDI = [
  0x061c, 0x200e, 0x200f, 0x202a, 0x202b, 0x202c, 0x202d, 0x202e, 0x2066, 0x2067, 0x2068, 0x2069,
];

describe('text of others', () => {
  test('shows each direction mark and each control character instead of doing what it says', () => {
    const controls = [...Array(32).keys(), 0x7f, ...Array.from({ length: 32 }, (_, i) => 0x80 + i)];
    for (const code of [...BIDI, ...controls, 0x2028, 0x2029, 0xfeff]) {
      const shown = printable(`a${String.fromCodePoint(code)}b`);
      expect(shown).toMatch(/^a\\(u[0-9a-f]{4}|[nrt])b$/);
    }
    expect(printable('\x1b[2J\u202e\u{e0041}\ud800')).toBe(
      '\\u001b[2J\\u202e\\udb40\\udc41\\ud800',
    );
  });

  test('leaves what people write as it is, in any script', () => {
    for (const text of [
      'Zoë, Łukasz',
      'עדי',
      'سارة',
      '山田 太郎',
      '🎭 Möwe',
      "the Gull's \\ lamp",
    ]) {
      expect(printable(text)).toBe(text);
    }
  });

  test('is one line, and within JSON the same value written otherwise', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), text => {
        expect(printable(text)).not.toMatch(/[\p{Cc}\p{Zl}\p{Zp}]/u);
        const json = JSON.stringify({ text }, undefined, 2);
        expect(JSON.parse(printableLines(json))).toEqual({ text });
      }),
      { seed: 1 },
    );
  });

  test('of our own colours and breaks goes through, of others nothing', () => {
    expect(printableColoured('\x1b[1mname\x1b[22m\n\x1b[8m\x1b]0;t\x07')).toBe(
      '\x1b[1mname\x1b[22m\n\\u001b[8m\\u001b]0;t\\u0007',
    );
    expect(printableLines('\x1b[1mname')).toBe('\\u001b[1mname');
  });
});
