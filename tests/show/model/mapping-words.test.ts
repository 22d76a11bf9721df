import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { conditionWords } from '../../../src/show/model/mapping-words.js';
import { showOf } from '../show-of.js';

test('a condition without a name is told in the units of the file', () => {
  const show = showOf(
    readFileSync('config/minimal.show.yaml', 'utf8') +
      `
signals:
  away: { heading: { of: PERFORMER, towards: 270 } }
conditions:
  leaves: { any: [{ signal: away, below: 40 }, { not: { signal: away, below: 90 } }] }
`.replaceAll('PERFORMER', 'ines'),
  );
  const named = show.signals.conditions.findIndex(({ name }) => name === 'leaves');
  expect(conditionWords(show, named)).toBe('leaves');
  const words = show.signals.conditions.map((_, index) => conditionWords(show, index));
  expect(words).toContain('away below 40');
  expect(words).toContain('not away below 90');
});
