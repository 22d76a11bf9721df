import { expect, test } from 'vitest';
import { createFallback, stepFallback } from '../../src/safety/fallback.js';
import { fallbackPlan } from '../../src/show/model/safe-look.js';
import { showOf } from '../show/show-of.js';
import { Rig, TICK_HZ } from './harness.js';
import { SOLO } from './shows.js';

/** Between closed and open lies a strobe: no fade of any kind may pass through it. */
const SHUTTER =
  '{ attribute: Shutter1, values: { closed: [0, 9], strobe: [10, 240], open: [241, 255] }, default: closed }';
const SHOW = SOLO.replace(
  'fixtures:\n',
  `profiles:
  lamp: { channels: [{ attribute: Dimmer }, ${SHUTTER}] }
  spot: { channels: [{ attribute: Dimmer }, ${SHUTTER}, { attribute: Pan, range: [-270, 270] }, { attribute: Tilt, range: [-135, 135] }] }
fixtures:
  lamp: { profile: lamp, universe: 1, address: 101, safe: { Dimmer: 20 } }
  spot: { profile: spot, universe: 1, address: 111, position: [5, 1, 5], safe: { Dimmer: 30, aim: [5, 4, 0] } }
`,
).replace(
  'mappings:\n',
  `mappings:
  - { zone: stove, fixtures: [lamp, spot], set: { Dimmer: 80, Shutter1: open }, fade: { in: 1, out: 1 } }
`,
);
const [CLOSED, OPEN] = [4, 248];
const shutters = (levels: Uint8Array) => [levels[101], levels[111]];

test('a shutter opens when its layer shows, and closes when it shows no more', () => {
  const seen = new Set<number | undefined>();
  const watch = ({ view }: Rig) => {
    for (const raw of shutters(view.levels)) seen.add(raw);
  };
  const rig = new Rig(SHOW).run(4, { '1': [2, 6] }, watch);
  expect(shutters(rig.view.levels)).toEqual([OPEN, OPEN]);
  rig.run(4, { '1': [8, 2] }, watch);
  expect(shutters(rig.view.levels)).toEqual([CLOSED, CLOSED]);
  rig.run(4, { '1': [2, 6] }, watch);
  expect(shutters(rig.view.levels)).toEqual([OPEN, OPEN]);
  // Lost: open as long as anything of the live look shows, and closed in the safe look.
  rig.run(0.6, {}).run(1.5, {}, ({ view }) => expect(shutters(view.levels)).toEqual([OPEN, OPEN]));
  rig.run(6, {}, watch);
  expect(shutters(rig.view.levels)).toEqual([CLOSED, CLOSED]);
  expect([...seen].sort()).toEqual([OPEN, CLOSED]);
});

test('and with the engine dead as well', () => {
  const plan = fallbackPlan(showOf(SHOW));
  const fallback = createFallback(plan);
  const live = Uint8Array.from(plan.safeLook);
  live.set([204, OPEN], 100);
  live.set([204, OPEN], 110);
  const out = Uint8Array.from(plan.safeLook);
  const seen = new Set<number | undefined>();
  for (const [well, expected] of [
    [true, OPEN],
    [false, CLOSED],
    [true, OPEN],
  ] as const) {
    for (let i = 0; i < 10 * TICK_HZ; i++) {
      stepFallback(fallback, plan, live, well, 1 / TICK_HZ, out);
      for (const raw of shutters(out)) seen.add(raw);
    }
    expect(shutters(out)).toEqual([expected, expected]);
  }
  expect([...seen].sort()).toEqual([OPEN, CLOSED]);
});
