import { describe, expect, test } from 'vitest';
import { encodePacket } from '../../src/protocols/osc/encode.js';
import { createFallback, stepFallback } from '../../src/safety/fallback.js';
import { createOutputLimiter, stepOutputLimiter } from '../../src/safety/output-limiter.js';
import { PERFORMER_CONDITIONS, type PerformerCondition } from '../../src/safety/watchdog-table.js';
import { ALLOWANCE_S, safetySheet } from '../../src/sheets/safety-sheet.js';
import { fallbackPlan } from '../../src/show/model/safe-look.js';
import { position, Rig, TICK_HZ } from './harness.js';

/** The sheet for the venue says how long each fixture takes to its safe values; here it is measured. */
const SHOW = `
lampwright: 1
name: Declared
stage: { x: [0, 10], y: [0, 8], z: [-0.5, 3] }
inputs:
  tracking: { port: 9010, timeTags: measured, routes: [{ address: "/tracker/{tracker}/position" }] }
tracking: { frozen: 2 }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] } }
zones: { west: { polygon: [[0, 4], [3, 4], [3, 8], [0, 8]], feather: 2 } }
profiles:
  spot:
    channels:
      - { attribute: Pan, bits: 16, range: [-270, 270] }
      - { attribute: Tilt, bits: 16, range: [-135, 135] }
      - { attribute: Dimmer, bits: 16 }
      - { attribute: Gobo1 }
fixtures:
  lamp: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 20 } }
  own-fade: { profile: dimmer, universe: 1, address: 2, safe: { Dimmer: 10 }, fade: 3 }
  dark-head: { profile: spot, universe: 1, address: 11, position: [5, 1, 5], safe: { aim: [5, 4, 0] } }
  lit-head: { profile: spot, universe: 1, address: 31, position: [8, 1, 5], safe: { aim: [5, 4, 0], Dimmer: 40 } }
  flasher: { profile: dimmer, hazard: strobe, universe: 1, address: 51 }
mappings:
  - { zone: west, performers: [ines], fixtures: [lamp, own-fade, flasher], set: { Dimmer: 90 } }
  - { follow: ines, fixtures: [dark-head, lit-head], set: { Dimmer: 70, Gobo1: 40 } }
operator: { port: 9011, desk: required }
watchdog: { deskLost: { after: 1, fade: 2 }, feedSilent: { after: 0.5, fade: 2.5 } }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`;

interface World {
  readonly ines: readonly [number, number];
  readonly quality: number;
  readonly heard: readonly ('ines' | 'tobias')[];
  readonly tagged: boolean;
  readonly frozen: boolean;
  readonly desk: boolean;
}

const WELL: World = {
  ines: [0.4, 6],
  quality: 1,
  heard: ['ines', 'tobias'],
  tagged: true,
  frozen: false,
  desk: true,
};

/** What the world does from the moment at which the condition begins. */
const BEGINS: Readonly<
  Record<PerformerCondition, Partial<World> | ((t: number) => Partial<World>)>
> = {
  'operator-stop': {},
  'desk-lost': { desk: false },
  'feed-silent': { heard: [] },
  'tracker-silent': { heard: ['tobias'] },
  'sensor-clock-gone': { tagged: false },
  jumped: { ines: [9, 1] },
  frozen: { frozen: true },
  // Off stage right at 1.3 m/s, beyond the margin of half a metre from now on.
  'out-of-bounds': t => ({ ines: [Math.max(-1, -0.5 - 1.3 * t), 6] }),
  'confidence-low': { quality: 0.1 },
};

function order(rig: Rig, address: string): void {
  rig.receive(encodePacket({ address, args: [] }), rig.nowS, 1);
}

function tick(rig: Rig, world: World): void {
  // A radio never repeats itself to the last bit.
  const jitter = (n: number) => (world.frozen ? 0 : 0.01 * Math.sin(n * 7 + rig.nowS * 31));
  const [x, y] = world.ines;
  const elements = [];
  if (world.heard.includes('ines')) {
    elements.push(position('1', [x + jitter(1), y + jitter(2), 1.6, world.quality]));
  }
  if (world.heard.includes('tobias')) elements.push(position('2', [8 + jitter(3), 7, 1.6, 1]));
  if (elements.length > 0) {
    rig.send({ timeTag: world.tagged ? rig.nowS + 5000 : 'immediately', elements });
  }
  if (world.desk) {
    order(rig, '/lampwright/desk');
    order(rig, '/lampwright/enable/strobe');
  }
  rig.tick();
}

function live(show = SHOW): Rig {
  const rig = new Rig(show);
  // Until the enable has not been held for its time, it can't be taken; it is taken once she is tracked.
  for (let i = 0; i < 6 * TICK_HZ; i++) {
    const elements = [position('1', [0.4 + 0.01 * Math.sin(i), 6, 1.6, 1]), position('2', [8, 7])];
    rig.send({ timeTag: rig.nowS + 5000, elements });
    order(rig, '/lampwright/desk');
    rig.tick();
  }
  for (let i = 0; i < 2 * TICK_HZ; i++) tick(rig, WELL);
  expect(rig.phase('ines')).toBe('live');
  expect(rig.level('flasher')).toBeCloseTo(90, 0);
  return rig;
}

/** Whether a fixture's slots are those of the safe look; after a jump a head has to be dark only. */
function isThere(rig: Rig, name: string, safe: Uint8Array, condition: PerformerCondition): boolean {
  if (condition === 'jumped' && name.endsWith('head')) return rig.level(name) === 0;
  const { plan } = rig.light(name);
  return plan.profile.channels.every(channel =>
    channel.offsets.every(
      offset => rig.view.levels[plan.firstSlot + offset] === safe[plan.firstSlot + offset],
    ),
  );
}

describe.each(PERFORMER_CONDITIONS)('%s', condition => {
  test('takes each fixture to its safe values in the time on the sheet', () => {
    const rig = live();
    const safe = new Rig(SHOW).view.levels;
    if (condition === 'operator-stop') {
      rig.order({ kind: 'stop', performer: 'ines', cause: 'command' });
    }
    if (condition === 'out-of-bounds') {
      for (let x = 0.4; x > -0.5; x -= 1.3 / TICK_HZ) tick(rig, { ...WELL, ines: [x, 6] });
      expect(rig.phase('ines')).toBe('live');
    }
    const begunS = rig.nowS;
    const reachedS = new Map<string, number>();
    const { fixtures } = safetySheet(rig.show);
    const begins = BEGINS[condition];
    for (let i = 0; i < 12 * TICK_HZ; i++) {
      tick(rig, { ...WELL, ...(typeof begins === 'function' ? begins(i / TICK_HZ) : begins) });
      for (const { name } of fixtures) {
        if (reachedS.has(name) || !isThere(rig, name, safe, condition)) continue;
        reachedS.set(name, rig.nowS - begunS);
      }
    }
    const lost = rig
      .eventsOf('performer')
      .find(({ to, performer }) => to === 'losing' && performer === 'ines');
    expect(lost?.cause).toBe(condition);
    for (const { name, safeWithinS } of fixtures) {
      const declaredS = safeWithinS[condition] ?? Number.NaN;
      expect(reachedS.get(name), name).toBeLessThanOrEqual(declaredS + ALLOWANCE_S);
    }
  });
});

test('frozen: a tracker that was seen not to repeat itself is acted on as soon as the sheet says', () => {
  const rig = live(SHOW.replace('tracking: { frozen: 2 }\n', ''));
  for (let i = 0; i < 12 * TICK_HZ; i++) tick(rig, WELL);
  const begunS = rig.nowS;
  for (let i = 0; i < 4 * TICK_HZ; i++) tick(rig, { ...WELL, frozen: true });
  const lost = rig.eventsOf('performer').find(({ to }) => to === 'losing');
  expect(lost?.cause).toBe('frozen');
  const row = safetySheet(rig.show).conditions.find(({ condition }) => condition === 'frozen');
  expect(row).toMatchObject({ actsAfterS: 1.325, actsAtMostAfterS: 99.5 });
  expect(Math.abs((lost?.atS ?? 0) - begunS - 1.325)).toBeLessThan(0.1);
});

test('engine dead: the supervisor takes each fixture to its safe values in the time on the sheet', () => {
  const rig = live();
  const plan = fallbackPlan(rig.show);
  const fallback = createFallback(plan);
  const limiter = createOutputLimiter(
    plan.fixtures.flatMap(one => one.channels),
    plan.safeLook,
    rig.show.limits,
  );
  const out = Uint8Array.from(plan.safeLook);
  let nowS = rig.nowS;
  const beat = (well: boolean) => {
    nowS += 1 / TICK_HZ;
    stepFallback(fallback, plan, rig.view.levels, well, 1 / TICK_HZ, out);
    stepOutputLimiter(limiter, out, 1 / TICK_HZ, nowS);
  };
  for (let i = 0; i < 8 * TICK_HZ; i++) beat(true);
  expect(fallback.phase).toBe('live');
  const begunS = nowS;
  const reachedS = new Map<string, number>();
  const { fixtures } = safetySheet(rig.show);
  for (let i = 0; i < 12 * TICK_HZ; i++) {
    beat(false);
    plan.fixtures.forEach(({ channels }, index) => {
      const name = rig.show.fixtures[index]?.name ?? '';
      const isSafe = channels.every(({ slots }) =>
        slots.every(slot => out[slot] === plan.safeLook[slot]),
      );
      if (isSafe && !reachedS.has(name)) reachedS.set(name, nowS - begunS);
    });
  }
  for (const { name, safeWithinS } of fixtures) {
    const declaredS = safeWithinS['engine-dead'] ?? Number.NaN;
    expect(reachedS.get(name), name).toBeLessThanOrEqual(declaredS + ALLOWANCE_S);
  }
});
