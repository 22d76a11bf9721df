import { expect, test } from 'vitest';
import { parseShow } from '../../src/show/parse.js';
import { formatProblem } from '../../src/show/problems/problem.js';
import { MINIMAL } from './base.js';

/** Codes and messages of a show with four lamps, each with its own text added. */
function problemsOf(lamp: string, edit: (text: string) => string = text => text): string[] {
  const lamps = [1, 2, 3, 4].map(
    i => `  lamp-${i}: { universe: 1, address: ${100 + i}, ${lamp} }\n`,
  );
  const text = MINIMAL.replace('fixtures:\n', `fixtures:\n${lamps.join('')}`);
  const result = parseShow(edit(text), 'a.show.yaml');
  return result.ok ? [] : result.problems.map(({ message }) => message);
}

const FOUR = '"lamp-1", "lamp-2", "lamp-3" and "lamp-4"';

test.each([
  [
    'profile: dimer',
    `there is no profile "dimer", which fixtures ${FOUR} ask for. Did you mean "dimmer"?`,
  ],
  [
    'profile: dimmer, mode: wide',
    `profile "dimmer" has no modes; leave mode out. It is asked for fixtures ${FOUR}.`,
  ],
  [
    'profile: dimmer, base: { Dimmer: 120 }',
    `Dimmer of fixtures ${FOUR} goes from 0 to 100, but the file has 120.`,
  ],
  [
    'profile: dimmer, base: { Zoom: 20 }',
    `fixtures ${FOUR} have no Zoom; their profile "dimmer" has "Dimmer".`,
  ],
  [
    'profile: dimmer, base: { Dimmer: on }',
    `Dimmer of fixtures ${FOUR} has no named values; give it a number.`,
  ],
  [
    'profile: dimmer, base: { Intensity: 20 }',
    `"Intensity" is not a GDTF attribute. GDTF calls it "Dimmer". It is given to fixtures ${FOUR}.`,
  ],
  [
    'profile: placeholder',
    `fixtures ${FOUR} have the profile "placeholder", which doesn't say what their slots do; give them their real profile, or mark them as unpatched: true.`,
  ],
])('the same fault of four fixtures is one error that lists them: %s', (lamp, message) => {
  expect(problemsOf(lamp)).toEqual([message]);
});

test('another value, or the same in another look, is another error', () => {
  const both = problemsOf('profile: dimmer, base: { Dimmer: 120 }, safe: { Dimmer: 120 }');
  expect(both).toHaveLength(2);
  const other = problemsOf('profile: dimmer, base: { Dimmer: 120 }', text =>
    text.replace(
      'address: 102, profile: dimmer, base: { Dimmer: 120 }',
      'address: 102, profile: dimmer, base: { Dimmer: 130 }',
    ),
  );
  expect(other).toHaveLength(2);
});

test('a mapping that asks several for what none of them has is one error', () => {
  const found = problemsOf('profile: dimmer', text =>
    text.replace(
      'mappings:\n',
      'mappings:\n  - { zone: stove, fixtures: [lamp-1, lamp-2], set: { Zoom: 10 } }\n',
    ),
  );
  expect(found).toEqual([
    'fixtures "lamp-1" and "lamp-2" have no Zoom; their profile "dimmer" has "Dimmer".',
  ]);
});

test.each([
  ['zone: stove', 'zone: The Stove', 'there is no zone "The Stove". Did you mean "stove"?'],
  ['follow: ines', 'follow: Ines Lind', 'there is no performer "Ines Lind". Did you mean "ines"?'],
  ['[glow]', '[Big Glow]', 'there is no fixture "Big Glow". Did you mean "glow"?'],
])('a label in a mapping is asked for by its name: %s', (from, to, message) => {
  const labelled = MINIMAL.replace('ines: {', 'ines: { label: Ines Lind,')
    .replace('stove: {', 'stove: { label: The Stove,')
    .replace('glow: {', 'glow: { label: Big Glow,')
    .replace(from, to);
  const result = parseShow(labelled, 'a.show.yaml');
  expect(result.ok ? [] : result.problems.map(one => one.message)).toEqual([message]);
});

test('a wrong name that stands in several places is one error with all of them', () => {
  const text = MINIMAL.replace('fixtures: [glow]', 'fixtures: [glw]').replace(
    '  - follow',
    '  - { zone: stove, fixtures: [glw], set: { Dimmer: 10 } }\n  - { zone: stov, fixtures: [glw], set: { Dimmer: 10 } }\n  - follow',
  );
  const result = parseShow(text, 'a.show.yaml');
  const problems = result.ok ? [] : result.problems;
  expect(problems.map(({ message }) => message)).toEqual([
    'there is no fixture "glw". Did you mean "glow"?',
    'there is no zone "stov". Did you mean "stove"?',
  ]);
  const [glw] = problems;
  const line = text.split('\n').findIndex(one => one.includes('[glw]')) + 1;
  expect(glw).toMatchObject({ line, also: [{ line: line + 2 }, { line: line + 3 }] });
  expect(glw && formatProblem(glw)).toMatch(
    new RegExp(`\\^\\n {2}the same at ${line + 2}:\\d+ and ${line + 3}:\\d+$`),
  );
});
