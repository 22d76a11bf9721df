import { expect, test } from 'vitest';
import { ROW_LEFT, rowName } from '../../src/reporting/time-axis.js';

test('a long name of a row is not cut by the edge of the picture, and is whole in its title', () => {
  const name = 'profile spot on the third bridge, stage right';
  const svg = rowName(name, 20);
  const shown = svg.replace(/<title>.*<\/title>/, '').replace(/<[^>]*>/g, '');
  expect(shown).toBe('profile spot on…');
  // A mean width of half the size of the type: sans-serif, from memory.
  expect(shown.length * 7).toBeLessThanOrEqual(ROW_LEFT - 10);
  expect(svg).toContain(`<title>${name}</title>`);
  expect(rowName('head stage right', 20)).not.toContain('title');
});
