import { expect, it } from 'vitest';
import { describeStage } from '../../src/live/describe-stage.js';
import { LastPlaces } from '../../src/live/last-places.js';
import { Screen } from '../../src/panel/screen.js';
import { LANTERN, plain, seen, snapshotOf } from '../panel/support.js';

it('keeps the last place of whoever is lost through an engine that has not heard them', () => {
  const places = new LastPlaces();
  const ines = { phase: 'live', x: 5, y: 4 } as const;
  const lost = { phase: 'safe', cause: 'tracker-silent' } as const;
  const first = snapshotOf(LANTERN, { engine: seen(LANTERN, [ines, { ...lost, x: 2, y: 6 }]) });
  expect(places.fill(first)).toEqual(first);
  const without = snapshotOf(LANTERN, { engine: null });
  expect(places.fill(without)).toBe(without);
  // The status still says that the second is lost; the third was never heard.
  const next = snapshotOf(LANTERN, {
    engine: seen(LANTERN),
    status: { performers: first.status.performers },
  });
  const placesNow = () => places.fill(next).engine?.performers.map(({ place }) => place);
  expect(placesNow()).toEqual([undefined, { x: 2, y: 6, z: 1.5 }, undefined]);
  places.clear();
  expect(placesNow()).toEqual([undefined, undefined, undefined]);
});

it('the live view shows that place', () => {
  let drawn = '';
  const write = (text: string) => {
    drawn = text;
  };
  const screen = new Screen({ columns: 130, rows: 50, write }, plain, '', () => 0);
  screen.take(describeStage(LANTERN, 1));
  const lost = { phase: 'safe', cause: 'tracker-silent', x: 2, y: 6 } as const;
  const before = snapshotOf(LANTERN, { engine: seen(LANTERN, [lost]) });
  const { performers } = before.status;
  for (const snapshot of [before, snapshotOf(LANTERN, { status: { performers } })]) {
    drawn = '';
    screen.take(snapshot);
    expect(drawn).toMatch(/Ines .*2\.0 +6\.0 m/);
  }
});
