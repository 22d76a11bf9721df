import fc from 'fast-check';
import { expect, test } from 'vitest';
import { wrapped } from '../../../src/commands/terminal/wrapped.js';

test('a figure and its unit stay on one line, wherever it ends', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 60, max: 100 }),
      fc.constantFrom('0.5 s', '3 m/s', '50 %', '25 Hz,', '90 degrees;'),
      (length, figure) => {
        const lines = wrapped(`${'a '.repeat(length / 2)}${figure} and so on`, '  ');
        expect(lines.join('\n')).toContain(figure);
        for (const line of lines) expect(line.length).toBeLessThanOrEqual(100);
      },
    ),
    { seed: 13 },
  );
});

test('other words break where the line is full, also a unit that is none', () => {
  const lines = wrapped(`${'word '.repeat(19)}2 some 3 more`, '  ');
  expect(lines).toEqual([`  ${'word '.repeat(19).trim()} 2`, '  some 3 more']);
});
