import { expect, it } from 'vitest';
import { farOffFault, isFarOff, unitHint } from '../../src/stage/unit-guess.js';
import { vec3 } from '../../src/stage/vector.js';

/** 14 x 10 m. */
const STAGE = { min: vec3(-7, 0, 0), max: vec3(7, 10, 3) };

it('takes places on the stage, and in the house, for metres', () => {
  for (const at of [vec3(6, 9, 0), vec3(0, -35, 8), vec3(60, 5, 20), vec3(0, 5, -6)]) {
    expect(isFarOff(at, STAGE)).toBe(false);
  }
  expect(farOffFault([{ what: '"A"', at: vec3(2, 3, 0) }], STAGE)).toBeUndefined();
});

it('knows centimetres and millimetres by where they would be', () => {
  // 1150 would also be near the stage as millimetres; all of a table together tell.
  expect(unitHint([vec3(650, 900, 550)], STAGE)).toContain('looks like centimetres');
  expect(unitHint([vec3(6500, 9000, 5500)], STAGE)).toBe(
    ' This looks like millimetres: divide by 1000.',
  );
  expect(unitHint([vec3(400_000, 0, 0)], STAGE)).toBe('');
});

it('names the first place that is far off, and how many more', () => {
  const places = [
    { what: '"A"', at: vec3(50, 30, 0) },
    { what: '"B"', at: vec3(-620, 450, 0) },
    { what: '"C"', at: vec3(650, 900, 0) },
  ];
  expect(farOffFault(places, STAGE)).toMatch(
    /^"B" at -620, 450, 0 m is \d+ m from the stage, and 1 more; places are metres in the stage frame\. This looks like centimetres/,
  );
});
