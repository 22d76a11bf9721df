import { describe, expect, test } from 'vitest';
import { parseShow } from '../../../src/show/parse.js';
import { HOUSE } from '../../engine/shows.js';

/** The test house with many signals or conditions, and a mapping that needs the last of them. */
function problemsOf(block: string, lines: readonly string[], drives: string): string[] {
  const blocks = `${block}:\n${lines.map(line => `  ${line}\n`).join('')}mappings:
  - { ${drives}, fixtures: [stove-glow], set: { Dimmer: 80 } }\n`;
  const parsed = parseShow(
    HOUSE.replace(/mappings:[\s\S]*watchdog:/, `${blocks}watchdog:`),
    'a.yaml',
  );
  return parsed.ok ? [] : parsed.problems.map(({ code }) => code);
}

const many = (count: number, line: (i: number) => string) =>
  Array.from({ length: count }, (_, i) => line(i));

describe('chains of signals and conditions', () => {
  test('that ask for one another twice at each step are looked at once each, and not 2^n times', () => {
    const lines = many(60, i =>
      i === 0 ? 'c0: { in: stove, of: ines }' : `c${i}: { any: [c${i - 1}, { not: c${i - 1} }] }`,
    );
    expect(problemsOf('conditions', lines, 'when: c59')).toEqual([]);
    const never = [...lines, 'never: { all: [c59, { not: c59 }] }'];
    expect(problemsOf('conditions', never, 'when: never')).toEqual(['never-acts']);
  });

  // A file of thousands takes a second to read.
  test('of thousands of signals are refused, and not gone down until the stack is full', () => {
    const signals = many(5000, i =>
      i === 0 ? 's0: { wave: { period: 2 } }' : `s${i}: { inverse: s${i - 1} }`,
    );
    expect(problemsOf('signals', signals, 'by: s4999')).toEqual(['signal-depth']);
  });

  test('of thousands of conditions are refused', () => {
    const conditions = many(5000, i =>
      i === 0 ? 'c0: { in: stove, of: ines }' : `c${i}: { all: [c${i - 1}, { not: c${i - 1} }] }`,
    );
    expect(problemsOf('conditions', conditions, 'when: c4999')).toContain('signal-depth');
  });

  test('that go round are refused, however long the way is', () => {
    const circle = many(2000, i => `s${i}: { product: [s${(i + 1) % 2000}, 0.5] }`);
    expect(problemsOf('signals', circle, 'by: s1')).toContain('signal-circle');
  });
});
