import { expect, test } from 'vitest';
import { actingMappings } from '../../src/live/acting-mappings.js';

const titled = (...titles: string[]) => ({ mappings: titles.map(title => ({ title })) });

test('a rule for several heads is one mapping, at the level of the head that shows most', () => {
  const stage = titled('served', 'served', 'served', 'stove', 'served');
  const of = (acts: number, shows: number, off = false) => ({ acts, level: acts, shows, off });
  const mappings = [of(0, 0), of(1, 0.4), of(1, 0.9), of(0.5, 0.5), of(1, 0)];
  expect(actingMappings(stage, { mappings })).toEqual([
    { title: 'served', level: 1, shows: 0.9, off: false },
    { title: 'stove', level: 0.5, shows: 0.5, off: false },
    { title: 'served', level: 1, shows: 0, off: false },
  ]);
});

test('off where all of it is; what does not act in the cue is left out', () => {
  const stage = titled('served', 'served', 'wash');
  const off = { acts: 0, level: 0, shows: 0, off: true };
  const idle = { acts: 0, level: 0, shows: 0, off: false };
  expect(actingMappings(stage, { mappings: [off, off, idle] })).toEqual([
    { title: 'served', level: 0, shows: 0, off: true },
  ]);
  expect(actingMappings(stage, null)).toEqual([]);
});
