import { expect, test } from 'vitest';
import { createFallback, stepFallback } from '../../src/safety/fallback.js';
import { fallbackPlan, safeLook } from '../../src/show/model/safe-look.js';
import { showOf } from '../show/show-of.js';
import { Rig, TICK_HZ } from './harness.js';
import { SOLO } from './shows.js';

/** Two colour-only fixtures by the stove; two zones whose Dimmers meet on the first. */
const SHOW = SOLO.replace(
  'fixtures:\n',
  `profiles:
  strip: { channels: [{ attribute: ColorAdd_R }, { attribute: ColorAdd_G }, { attribute: ColorAdd_B }] }
fixtures:
  cyc: { profile: strip, universe: 1, address: 101, base: { ColorAdd_G: 50, ColorAdd_B: 0 }, safe: { Dimmer: 20 } }
`,
).replace(
  'mappings:\n',
  `mappings:
  - { zone: stove, fixtures: [cyc], set: { Dimmer: 80 }, fade: { in: 0, out: 0 } }
  - { zone: stove, fixtures: [cyc], set: { Dimmer: 60 }, fade: { in: 0, out: 0 } }
`,
);

const AT = 100;
const colours = (levels: Uint8Array) => [...levels.subarray(AT, AT + 3)];
const AT_STOVE = { '1': [2, 6] as const };

test('the safe look has the colours at the safe Dimmer', () => {
  // 20 % of 255 and of 127.5.
  expect(colours(safeLook(showOf(SHOW)))).toEqual([51, 26, 0]);
});

test('the highest Dimmer wins, and the colours follow it', () => {
  const rig = new Rig(SHOW).run(4, AT_STOVE);
  expect(rig.light('cyc').values[3]).toBeCloseTo(80, 6);
  expect(colours(rig.view.levels)).toEqual([204, 102, 0]);
});

test('a lost performer takes the Dimmer to safe, in its proportions and within the fade', () => {
  const rig = new Rig(SHOW).run(4, AT_STOVE);
  let before = colours(rig.view.levels);
  rig.run(4, {}, ({ view }) => {
    const now = colours(view.levels);
    const steepest = (204 - 51) / (2 * TICK_HZ) + 1;
    now.forEach((level, c) => {
      expect(level).toBeLessThanOrEqual(before[c] ?? 0);
      expect((before[c] ?? 0) - level).toBeLessThanOrEqual(steepest);
    });
    expect(Math.abs((now[0] ?? 0) - 2 * (now[1] ?? 0))).toBeLessThanOrEqual(1.5);
    before = now;
  });
  expect(before).toEqual([51, 26, 0]);
});

test('a dead engine: the supervisor fades the emitters as the intensity that they are', () => {
  const show = showOf(SHOW);
  const plan = fallbackPlan(show);
  const index = show.fixtures.findIndex(one => one.name === 'cyc');
  expect(plan.fixtures[index]?.channels).toMatchObject([
    { slots: [AT], class: 'intensity', safeRaw: 51, darkRaw: 0 },
    { slots: [AT + 1], class: 'intensity', safeRaw: 26, darkRaw: 0 },
    { slots: [AT + 2], class: 'intensity', safeRaw: 0, darkRaw: 0 },
  ]);
  const fallback = createFallback(plan);
  const live = Uint8Array.from(plan.safeLook);
  live.set([204, 102, 0], AT);
  const out = Uint8Array.from(plan.safeLook);
  for (let i = 0; i < 10 * TICK_HZ; i++) stepFallback(fallback, plan, live, true, 1 / TICK_HZ, out);
  expect(colours(out)).toEqual([204, 102, 0]);
  for (let i = 0; i < 10 * TICK_HZ; i++)
    stepFallback(fallback, plan, live, false, 1 / TICK_HZ, out);
  expect(colours(out)).toEqual([51, 26, 0]);
});
