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

it('knows what a hand holds until it is released, or no longer repeated', () => {
  let nowS = 10;
  const releases = new Releases(() => nowS);
  releases.hold('one', 'strobe');
  releases.hold('one', 'laser');
  releases.hold('two', 'strobe');
  nowS = 10.5;
  releases.hold('one', 'laser');
  releases.note('two', 'strobe');
  expect([releases.heldBy('one', 1), releases.heldBy('two', 1)]).toEqual([['strobe', 'laser'], []]);
  nowS = 11.2;
  expect(releases.heldBy('one', 1)).toEqual(['laser']);
  // While no show has told how long: as long as any show may let it last.
  expect(releases.heldBy('one')).toEqual(['strobe', 'laser']);
  nowS = 16;
  releases.hold('two', 'laser');
  expect(releases.heldBy('one', 100)).toEqual([]);
});
