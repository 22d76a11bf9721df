import { describe, expect, test } from 'vitest';
import { createEngine } from '../../src/engine/engine.js';
import { MAX_HOLD_S } from '../../src/engine/reports/receive.js';
import { snapshot } from '../../src/engine/snapshot.js';
import { absorb, step } from '../../src/engine/step.js';
import { takeOver } from '../../src/engine/take-over/take-over.js';
import { DROP_REASONS, type DropReason } from '../../src/engine/values/counters.js';
import { viewOf } from '../../src/engine/view.js';
import { encodePacket, type OscMessage } from '../../src/protocols/osc/encode.js';
import { sectionsOf } from '../../src/show/model/sections.js';
import { houseText } from '../show/house.js';
import { position, Rig, UNIX_OFFSET_S } from './harness.js';
import { SOLO } from './shows.js';

const AT = [5, 4, 1.6] as const;

/** Reasons with more than 0 drops. */
function dropped(rig: Rig): Partial<Record<DropReason, number>> {
  return Object.fromEntries(
    Object.entries(rig.view.counters.drops).filter(([, count]) => count > 0),
  );
}

function message(address: string, ...args: (number | string)[]): OscMessage {
  return {
    address,
    args: args.map(value =>
      typeof value === 'number' ? { type: 'f', value } : { type: 's', value },
    ),
  };
}

const good = encodePacket(position('1', AT));
const CASES: readonly (readonly [DropReason, Buffer])[] = [
  ['too-long', Buffer.alloc(1476)],
  ['not-multiple-of-4', good.subarray(0, good.length - 1)],
  ['not-osc', Buffer.from('GET / HTTP/1.1\r\n')],
  ['bundle-structure', Buffer.from('#bundle\0\0\0\0\0')],
  ['message-malformed', good.subarray(0, good.length - 4)],
  ['unknown-type-tag', Buffer.from('/tracker/1/position\0,Q\0\0')],
  ['no-route', encodePacket(message('/elsewhere', 1, 2, 3))],
  ['argument-count', encodePacket(message('/tracker/1/position', 1, 2))],
  ['argument-type', encodePacket(message('/tracker/1/position', 1, 2, 'three'))],
  ['not-finite', encodePacket(message('/tracker/1/position', 1, Number.NaN, 3))],
  ['not-finite', encodePacket(message('/tracker/1/position', Number.POSITIVE_INFINITY, 2, 3))],
  ['quality-range', encodePacket(message('/tracker/1/position', 1, 2, 3, 1.5))],
  ['pattern-address', encodePacket(message('/tracker/*/position', 1, 2, 3))],
  ['unknown-tracker', encodePacket(message('/tracker/99/position', 1, 2, 3))],
  ['position-range', encodePacket(message('/tracker/1/position', 1001, 2, 3))],
  ['position-range', encodePacket(message('/tracker/1/position', 3e38, -3e38, 3e38))],
];

describe('what is not a position of a performer is counted by its reason', () => {
  test.each(CASES)('%s', (reason, bytes) => {
    const rig = new Rig(SOLO);
    rig.receive(bytes);
    rig.tick();
    expect(dropped(rig)).toEqual({ [reason]: 1 });
    expect(rig.view.counters.datagrams).toBe(1);
    expect(rig.view.counters.positions).toBe(0);
    expect(rig.phase('ines')).toBe('waiting');
  });

  test('and its neighbours in the bundle are taken', () => {
    const rig = new Rig(SOLO);
    rig.send({
      timeTag: 'immediately',
      elements: [position('99', AT), message('/x', 1), position('1', AT)],
    });
    rig.tick();
    expect(dropped(rig)).toEqual({ 'unknown-tracker': 1, 'no-route': 1 });
    expect(rig.view.counters.positions).toBe(1);
  });

  test('a datagram of an input that the show does not have is not read', () => {
    const rig = new Rig(SOLO);
    rig.receive(good, rig.nowS, 7);
    rig.tick();
    expect(rig.view.counters.positions).toBe(0);
  });

  test('none of it makes a performer heard', () => {
    const rig = new Rig(SOLO).run(5, { 1: AT });
    for (let i = 0; i < 40; i++) {
      for (const [, bytes] of CASES) rig.receive(bytes);
      rig.tick();
    }
    expect(rig.phase('ines')).toBe('losing');
  });

  test('every reason has its counter, at 0', () => {
    expect(dropped(new Rig(SOLO))).toEqual({});
    expect(Object.keys(new Rig(SOLO).view.counters.drops)).toEqual([...DROP_REASONS]);
  });
});

describe('time tags (OSC 1.0)', () => {
  const unix = (rig: Rig) => rig.nowS + UNIX_OFFSET_S;

  test('a message for later is held until then', () => {
    const rig = new Rig(SOLO);
    rig.send({ timeTag: unix(rig) + 0.5, elements: [position('1', AT)] });
    rig.run(0.45);
    expect(rig.view.counters.positions).toBe(0);
    expect(rig.view.heldCount).toBe(1);
    rig.run(0.1);
    expect(rig.view.counters.positions).toBe(1);
    expect(rig.view.heldCount).toBe(0);
  });

  test('held messages come in the order of their times, and equal ones as they came', () => {
    const rig = new Rig(SOLO);
    const later = (delayS: number, x: number) =>
      rig.send({ timeTag: unix(rig) + delayS, elements: [position('1', [x, 4])] });
    later(0.3, 3);
    later(0.1, 1);
    later(0.2, 2);
    later(0.1, 1.5);
    const places: number[] = [];
    rig.view.onReport((_performer, _tracker, { x }) => places.push(x));
    rig.run(0.5);
    expect(places).toEqual([1, 1.5, 2, 3]);
  });

  test('a time that has passed means at once', () => {
    const rig = new Rig(SOLO);
    rig.send({ timeTag: unix(rig) - 3600, elements: [position('1', AT)] });
    rig.tick();
    expect(rig.view.counters.positions).toBe(1);
    expect(rig.view.lastHeardS).toBeCloseTo(rig.nowS, 1);
  });

  test('a time too far ahead is a wrong clock, and counted', () => {
    const rig = new Rig(SOLO);
    rig.send({ timeTag: unix(rig) + MAX_HOLD_S + 1, elements: [position('1', AT)] });
    rig.tick();
    expect(dropped(rig)).toEqual({ 'time-tag-too-late': 1 });
  });

  test('only so many are held', () => {
    const rig = new Rig(SOLO);
    for (let i = 0; i < 2050; i++) {
      rig.send({ timeTag: unix(rig) + 1, elements: [position('1', AT)] });
    }
    rig.tick();
    expect(rig.view.heldCount).toBe(2048);
    expect(dropped(rig)).toEqual({ 'too-many-held': 2 });
  });

  test('who sends everything a little ahead is tracked like anybody', () => {
    const rig = new Rig(SOLO);
    for (let i = 0; i < 200; i++) {
      rig.send({ timeTag: unix(rig) + 0.1, elements: [position('1', AT)] });
      rig.tick();
    }
    expect(rig.phase('ines')).toBe('live');
    // And falls silent from the time of the last, not from when it was sent.
    rig.run(0.5);
    expect(rig.phase('ines')).toBe('live');
    rig.run(0.2);
    expect(rig.phase('ines')).toBe('losing');
  });
});

describe('time tags that say when it was measured', () => {
  const MEASURED = SOLO.replace('port: 9010', 'port: 9010\n    timeTags: measured');
  /** Of the tracking system, which knows nothing of ours. */
  const CLOCK_S = 1_600_000_000;

  test('a report that was on its way for longer is placed before those that overtook it', () => {
    const rig = new Rig(MEASURED);
    const report = (measuredS: number, x: number) =>
      rig.send({ timeTag: CLOCK_S + measuredS, elements: [position('1', [x, 4])] });
    for (let i = 0; i < 80; i++) {
      report(i / 40, 2 + i / 40);
      if (i === 60) continue;
      rig.tick();
    }
    expect(rig.view.counters.replayed).toBe(0);
    report(79.6 / 40, 2 + 79.6 / 40);
    report(80 / 40, 2 + 80 / 40);
    report(78.5 / 40, 2 + 78.5 / 40);
    rig.tick();
    expect(rig.view.counters.replayed).toBe(1);
    expect(rig.view.counters.gated).toBe(0);
    expect(rig.view.heldCount).toBe(0);
  });

  test('the same tag again is a duplicate, an old one out of order', () => {
    const rig = new Rig(MEASURED);
    const report = (measuredS: number) => {
      rig.send({ timeTag: CLOCK_S + measuredS, elements: [position('1', AT)] });
    };
    for (let i = 0; i < 80; i++) {
      report(i / 40);
      rig.tick();
    }
    report(79 / 40);
    report(0.5);
    rig.tick();
    expect(rig.view.counters.duplicates).toBe(1);
    expect(rig.view.counters.outOfOrder).toBe(1);
  });
});

describe('an argument that says when it was measured', () => {
  const STAMPED = SOLO.replace('position" }', 'position", arguments: [x, y, z, stamp?] }');
  /** Of the tracking system, since it was switched on: nothing to do with our clock. */
  const CLOCK_S = 12.5;
  const report = (rig: Rig, measuredS: number | undefined, x: number) => {
    const { address, args } = position('1', [x, 4]);
    const stamp = { type: 'd', value: CLOCK_S + (measuredS ?? 0) } as const;
    rig.send({ address, args: measuredS === undefined ? args : [...args, stamp] });
  };

  test('places a report that came late where it belongs', () => {
    const rig = new Rig(STAMPED);
    for (let i = 0; i < 80; i++) {
      report(rig, i / 40, 2 + i / 40);
      rig.tick();
    }
    expect(rig.view.counters.replayed).toBe(0);
    report(rig, 78.5 / 40, 2 + 78.5 / 40);
    rig.tick();
    expect(rig.view.counters.replayed).toBe(1);
    expect(rig.view.counters.gated).toBe(0);
  });

  test('makes up for reports that are on their way for different times', () => {
    const [plain, stamped] = [SOLO, STAMPED].map(yaml => {
      const rig = new Rig(yaml);
      const misses: number[] = [];
      for (let i = 0; i < 200; i++) {
        // For half a second at a time the network takes 90 ms longer.
        const measuredS = i / 40 - (Math.floor(i / 20) % 2) * 0.09;
        report(rig, yaml === STAMPED ? measuredS : undefined, 2 + measuredS);
        rig.tick();
        if (i > 100) misses.push((rig.view.performers[0]?.estimate.x ?? 0) - (2 + i / 40));
      }
      const mean = misses.reduce((a, b) => a + b, 0) / misses.length;
      return Math.sqrt(misses.reduce((a, b) => a + (b - mean) ** 2, 0) / misses.length);
    });
    expect(stamped).toBeLessThan(0.5 * (plain as number));
  });

  test('that stops coming loses the performer, as missing time tags would', () => {
    const rig = new Rig(STAMPED);
    for (let i = 0; i < 200; i++) {
      report(rig, i / 40, 2);
      rig.tick();
    }
    expect(rig.phase('ines')).toBe('live');
    for (let i = 0; i < 40; i++) {
      report(rig, undefined, 2);
      rig.tick();
    }
    expect(rig.phase('ines')).toBe('losing');
    expect(rig.eventsOf('performer').at(-1)).toMatchObject({ cause: 'sensor-clock-gone' });
  });

  test('from a clock that is set is told once, and is followed; a reload does not tell it again', () => {
    const rig = new Rig(STAMPED);
    const run = (from: number, to: number, setS: number) => {
      for (let i = from; i < to; i++) {
        report(rig, setS + i / 40, 2 + 0.01 * Math.sin(i));
        rig.tick();
      }
    };
    run(0, 200, 0);
    expect(rig.eventsOf('sensor-clock')).toEqual([]);
    run(200, 240, 7);
    expect(rig.eventsOf('sensor-clock')).toMatchObject([
      { input: 'tracking', steppedS: expect.closeTo(7, 2) },
    ]);
    const next = createEngine(rig.show);
    takeOver(next, rig.engine);
    Object.assign(rig, { engine: next, view: viewOf(next) });
    run(240, 320, 7);
    expect(rig.eventsOf('sensor-clock')).toHaveLength(1);
    expect(rig.phase('ines')).toBe('live');
    run(320, 400, 2);
    expect(rig.eventsOf('sensor-clock').at(-1)?.steppedS).toBeCloseTo(-5, 2);
  });

  test('that one tracker never brings loses the light of whoever wears it, and of nobody else', () => {
    const rig = new Rig(
      STAMPED.replace(
        'ines: { trackers: [1] }',
        'ines: { trackers: [1] }\n  gull: { trackers: [2] }',
      ),
    );
    const tick = (i: number, isGullStamped: boolean) => {
      report(rig, i / 40, 2);
      const { address, args } = position('2', [7 + 0.01 * Math.sin(i), 4]);
      const stamp = { type: 'd', value: CLOCK_S + i / 40 } as const;
      rig.send({ address, args: isGullStamped ? [...args, stamp] : args });
      rig.tick();
    };
    for (let i = 0; i < 200; i++) tick(i, true);
    expect([rig.phase('ines'), rig.phase('gull')]).toEqual(['live', 'live']);
    for (let i = 200; i < 300; i++) tick(i, false);
    expect(rig.phase('ines')).toBe('live');
    expect(rig.eventsOf('performer').at(-1)).toMatchObject({
      performer: 'gull',
      cause: 'sensor-clock-gone',
    });
    for (let i = 300; i < 500; i++) tick(i, true);
    expect(rig.phase('gull')).toBe('live');
  });
});

describe('ticks', () => {
  test('what is taken in ahead of the tick counts as in the tick', () => {
    const [early, late] = [new Rig(SOLO), new Rig(SOLO)];
    for (let i = 0; i < 200; i++) {
      const bytes = encodePacket(position('1', [2 + i / 100, 5]));
      late.receive(bytes);
      const datagrams = [{ input: 0, bytes, arrivalS: early.nowS }];
      absorb(early.engine, { datagrams, unixOffsetS: UNIX_OFFSET_S }, early.nowS + 0.01);
      early.tick();
      late.tick();
      expect(Buffer.from(early.view.levels).equals(Buffer.from(late.view.levels))).toBe(true);
    }
    expect(early.events).toEqual(late.events);
    expect(snapshot(early.view)).toEqual(snapshot(late.view));
  });

  test('hands on each section when its levels are final, in order', () => {
    const rig = new Rig(houseText(40));
    const { engine, view, show } = rig;
    const sections = sectionsOf(show);
    expect(sections.length).toBeGreaterThan(2);
    rig.run(4, { 1: [5, 4] });
    for (let tick = 0; tick < 60; tick++) {
      const bytes = encodePacket(position('1', [5 + tick / 20, 4]));
      rig.nowS += 0.025;
      const datagrams = [{ input: 0, bytes, arrivalS: rig.nowS }];
      const taken: Uint8Array[] = [];
      const order: number[] = [];
      const inputs = { datagrams, unixOffsetS: UNIX_OFFSET_S };
      const before = Uint8Array.from(view.levels);
      const { levels } = step(engine, inputs, rig.nowS, (section, now) => {
        const { firstUniverse, endUniverse } = sections[section] ?? {
          firstUniverse: 0,
          endUniverse: 0,
        };
        order.push(section);
        taken.push(Uint8Array.from(now.subarray(512 * firstUniverse, 512 * endUniverse)));
      });
      expect(order).toEqual(sections.map((_, i) => i));
      expect(Buffer.concat(taken).equals(Buffer.from(levels))).toBe(true);
      // The heads of all sections turn.
      if (tick > 5) expect(Buffer.from(before).equals(Buffer.from(levels))).toBe(false);
    }
  });

  test('a late tick moves the light by no more than a tenth of a second of its fade', () => {
    const rig = new Rig(SOLO).run(5, { 1: [2, 6] });
    rig.run(0.6);
    const before = rig.light('stove-glow').values[0] as number;
    rig.tick(0.34);
    const after = rig.light('stove-glow').values[0] as number;
    expect(after).toBeLessThan(before);
    expect(before - after).toBeLessThanOrEqual((65 * 0.1) / 2 + 1e-9);
  });

  test('after a stall in which the supervisor has taken the light, it begins at the safe look, and re-arms', () => {
    const rig = new Rig(SOLO).run(5, { 1: [2, 6] });
    const safe = new Rig(SOLO).view.levels;
    expect(rig.phase('ines')).toBe('live');
    rig.send(position('1', [2, 6]));
    rig.tick(0.4);
    expect(rig.view.levels).toEqual(safe);
    rig.run(0.9, { 1: [2, 6] });
    expect(rig.view.levels).toEqual(safe);
    expect(rig.eventsOf('stalled')).toMatchObject([{ stalledS: expect.closeTo(0.4, 6) }]);
    expect(rig.eventsOf('performer').at(-2)).toMatchObject({
      from: 'live',
      to: 'safe',
      cause: 'engine-late',
    });
    let pan = rig.level('head', 'Pan');
    rig.run(5, { 1: [2, 6] }, () => {
      // From its safe aim to the performer as its motor goes: 180 degrees a second at most, 4.5 in a tick.
      const now = rig.level('head', 'Pan');
      expect(Math.abs(now - pan)).toBeLessThan(4.6);
      pan = now;
    });
    expect(rig.phase('ines')).toBe('live');
    expect(rig.level('stove-glow')).toBeCloseTo(85, 0);
    expect(rig.level('head')).toBeCloseTo(75, 0);
  });

  test('of a pipe-full of reports in one tick all count', () => {
    const rig = new Rig(SOLO);
    for (let i = 0; i < 1000; i++) rig.receive(good, rig.nowS + i * 1e-5);
    rig.tick();
    expect(rig.view.counters.positions).toBe(1000);
  });

  test('a show begins at its safe look, before and in the first tick', () => {
    const rig = new Rig(SOLO);
    const before = Buffer.from(rig.view.levels);
    rig.tick();
    expect(Buffer.from(rig.view.levels).equals(before)).toBe(true);
    expect(rig.level('stove-glow')).toBeCloseTo(20, 0);
  });
});

test('who sent what was dropped is known, be it a position or an order', () => {
  const rig = new Rig(SOLO);
  const bytes = encodePacket(position('99', [2, 6]));
  const datagrams = [
    { input: 0, bytes, arrivalS: rig.nowS, sender: '10.0.0.5' },
    { input: 0, bytes: Buffer.from('no'), arrivalS: rig.nowS, sender: '10.0.0.6' },
  ];
  step(rig.engine, { datagrams, unixOffsetS: 0 }, rig.nowS + 0.025);
  const { latest, latestFrom } = rig.view.counters;
  expect(latest).toEqual({ 'unknown-tracker': '99' });
  expect(Object.values(latestFrom)).toEqual(['10.0.0.5', '10.0.0.6']);
});
