import { expect, it } from 'vitest';
import { Releases } from '../../../src/panel/server/releases.js';

it('tells what a hand has seen before it let go from what it saw after', () => {
  let nowS = 10;
  const releases = new Releases(() => nowS);
  releases.note('one', 'strobe');
  nowS = 10.5;
  expect(releases.hasLetGo('one', 'strobe', 0.5)).toBe(true);
  expect(releases.hasLetGo('one', 'strobe', 0.4)).toBe(false);
  expect(releases.hasLetGo('one', 'laser', 0.5)).toBe(false);
  expect(releases.hasLetGo('two', 'strobe', 0.5)).toBe(false);
  releases.note('one');
  expect(releases.hasLetGo('one', 'laser', 0)).toBe(true);
  // Others' releases push out none that counts.
  for (let i = 0; i < 5000; i++) releases.note(`other ${i}`, 'strobe');
  expect(releases.hasLetGo('one', 'strobe', 0.6)).toBe(true);
  // One that is older than any hold that counts is forgotten.
  nowS = 12;
  releases.note('two', 'strobe');
  expect(releases.hasLetGo('one', 'strobe', 3)).toBe(false);
});
