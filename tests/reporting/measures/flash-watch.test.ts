import { expect, test } from 'vitest';
import type { EngineView } from '../../../src/engine/view.js';
import { FlashWatch } from '../../../src/reporting/measures/flash-watch.js';

test('a rehearsal tells of light that the flash limit holds back, and how late it comes', () => {
  const values = [0];
  const fixture = { plan: { label: 'Stove' }, intensity: 0, values };
  const view = { fixtures: [fixture] } as unknown as EngineView;
  const watch = new FlashWatch(view, 3);
  const calm = new FlashWatch(view, 3);
  for (let tick = 0; tick < 160; tick++) {
    const nowS = 1000 + tick / 40;
    // Five flashes a second: two of them are too many (WCAG 2.2, 2.3.1: three in any one second).
    values[0] = nowS % 0.2 < 0.1 ? 100 : 0;
    watch.ticked(view, nowS);
    values[0] = 100 * Math.min(1, tick / 80);
    calm.ticked(view, nowS);
  }
  const { times, longestS, fixtures } = watch.late();
  expect(times).toBeGreaterThan(2);
  expect(longestS).toBeGreaterThan(0.05);
  expect(longestS).toBeLessThan(1);
  expect(fixtures).toEqual(['Stove']);
  expect(calm.late()).toEqual({ times: 0, longestS: 0, fixtures: [] });
});

test('of several lamps that are held one after the other each is told for itself', () => {
  const fixtures = ['Stove', 'Window', 'Lantern', 'Lamp'].map(label => ({
    plan: { label },
    intensity: 0,
    values: [0],
  }));
  const view = { fixtures } as unknown as EngineView;
  const watch = new FlashWatch(view, 3);
  const alone = new FlashWatch({ fixtures: fixtures.slice(0, 1) } as unknown as EngineView, 3);
  for (let tick = 0; tick < 400; tick++) {
    const nowS = 1000 + tick / 40;
    fixtures.forEach(({ values }, i) => {
      values[0] = tick < 320 && (nowS + 0.05 * i) % 0.2 < 0.1 ? 100 : 0;
    });
    watch.ticked(view, nowS);
    alone.ticked(view, nowS);
  }
  expect(alone.late().longestS).toBeLessThan(0.2);
  expect(watch.late().longestS).toBeLessThan(1);
  expect(watch.late().fixtures.length).toBeGreaterThan(1);
});

test('a fade that begins late is late by that, however long it takes', () => {
  const fixtures = ['Stove', 'Window', 'Lantern', 'Lamp'].map(label => ({
    plan: { label },
    intensity: 0,
    values: [0],
  }));
  const watch = new FlashWatch({ fixtures } as unknown as EngineView, 3);
  for (let tick = 0; tick < 400; tick++) {
    const nowS = 1000 + tick / 40;
    // Each begins a tenth of a second after the one before, over two seconds: the fourth has no window.
    fixtures.forEach(({ values }, i) => {
      values[0] = 100 * Math.min(1, Math.max(0, (nowS - 1000.5 - 0.1 * i) / 2));
    });
    watch.ticked({ fixtures } as unknown as EngineView, nowS);
  }
  const { times, longestS, fixtures: late } = watch.late();
  expect([times, late]).toEqual([1, ['Lamp']]);
  // A second and a thirtieth after the first of the three windows, which were a tenth of a second apart (decision 16).
  expect(longestS).toBeGreaterThan(0.65);
  expect(longestS).toBeLessThan(0.8);
});
