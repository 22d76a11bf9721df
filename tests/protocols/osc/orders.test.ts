import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { OscArgument } from '../../../src/protocols/osc/library.js';
import { readOrder } from '../../../src/protocols/osc/orders.js';

const s = (value: string): OscArgument => ({ type: 's', value });
const i = (value: number): OscArgument => ({ type: 'i', value });
const f = (value: number): OscArgument => ({ type: 'f', value });

describe('orders', () => {
  test.each([
    ['/lampwright/stop', [], { kind: 'stop', performers: [] }],
    ['/lampwright/stop', [i(1)], { kind: 'stop', performers: [] }],
    ['/lampwright/stop', [f(1)], { kind: 'stop', performers: [] }],
    ['/lampwright/stop', [s('ines'), s('gull')], { kind: 'stop', performers: ['ines', 'gull'] }],
    ['/lampwright/resume', [], { kind: 'resume', performers: [] }],
    ['/lampwright/resume', [s('ines')], { kind: 'resume', performers: ['ines'] }],
    // The button comes up again.
    ['/lampwright/stop', [i(0)], { kind: 'desk' }],
    ['/lampwright/resume', [f(0)], { kind: 'desk' }],
    ['/lampwright/enable/strobe', [], { kind: 'enable', hazard: 'strobe', held: true }],
    ['/lampwright/enable/laser', [f(0.5)], { kind: 'enable', hazard: 'laser', held: true }],
    ['/lampwright/enable/laser', [i(0)], { kind: 'enable', hazard: 'laser', held: false }],
    ['/lampwright/enable/laser', [f(Number.NaN)], { kind: 'enable', hazard: 'laser', held: false }],
    [
      '/lampwright/enable/atmospheric',
      [{ type: 'F', value: false }],
      { kind: 'enable', hazard: 'atmospheric', held: false },
    ],
    ['/lampwright/desk', [], { kind: 'desk' }],
    ['/lampwright/desk', [s('anything')], { kind: 'desk' }],
    ['/lampwright/off', [{ type: 'S', value: 'ines' }], { kind: 'off', performers: ['ines'] }],
    ['/lampwright/on', [{ type: 'T', value: true }], { kind: 'on', performers: [] }],
    ['/lampwright/off', [{ type: 'd', value: 0 }], { kind: 'desk' }],
    ['/lampwright/cue', [s('storm')], { kind: 'cue', to: { name: 'storm' }, pressed: true }],
    [
      '/lampwright/cue',
      [s('storm'), s('main')],
      { kind: 'cue', to: { name: 'storm' }, pressed: true, repeated: true },
    ],
    ['/lampwright/cue/next', [], { kind: 'cue', to: 'next', pressed: true }],
    ['/lampwright/cue/back', [i(1)], { kind: 'cue', to: 'back', pressed: true }],
    ['/lampwright/cue/next', [f(0)], { kind: 'cue', to: 'next', pressed: false }],
    ['/lampwright/cue/storm', [], { kind: 'cue', to: { name: 'storm' }, pressed: true }],
    ['/lampwright/pin', [s('stove'), s('ines')], { kind: 'pin', pins: [['stove', 'ines']] }],
    ['/lampwright/unpin', [s('stove')], { kind: 'pin', pins: [['stove', undefined]] }],
    ['/lampwright/mappings', [s('main')], { kind: 'mappings', off: [], repeated: true }],
    [
      '/lampwright/mappings',
      [s('main'), s('stove')],
      { kind: 'mappings', off: ['stove'], repeated: true },
    ],
    [
      '/lampwright/show',
      [s('standby'), s('0123456789abcdef'), s('no-tracking')],
      {
        kind: 'show',
        teller: 'standby',
        digest: '0123456789abcdef',
        state: 'no-tracking',
        repeated: true,
      },
    ],
    [
      '/lampwright/performers',
      [s('main'), i(0)],
      { kind: 'performers', teller: 'main', everybody: false, performers: [], repeated: true },
    ],
    [
      '/lampwright/performers',
      [s('main'), i(1), s('ines'), i(1), s('on'), s('gull'), i(0), s('leaving')],
      {
        kind: 'performers',
        teller: 'main',
        everybody: true,
        performers: [
          { name: 'ines', stopped: true, stage: 'on' },
          { name: 'gull', stopped: false, stage: 'leaving' },
        ],
        repeated: true,
      },
    ],
    ['/lampwright/pins', [s('main')], { kind: 'pin', pins: [], repeated: true }],
    [
      '/lampwright/pins',
      [s('main'), s('stove'), s('ines'), s('window'), s('gull')],
      {
        kind: 'pin',
        pins: [
          ['stove', 'ines'],
          ['window', 'gull'],
        ],
        repeated: true,
      },
    ],
  ] as const)('%s %j', (address, args, order) => {
    expect(readOrder(address, args)).toEqual(order);
  });

  test.each([
    ['/lampwright', [], 'no-order'],
    ['/lampwright/*', [], 'no-order'],
    ['/lampwright/stopp', [], 'no-order'],
    ['/lampwright/enable/', [], 'no-order'],
    ['/lampwright/enable/ordinary', [], 'no-order'],
    ['/lampwright/enable/pyrotechnics', [], 'no-order'],
    ['/lampwright/enable/strobe', [s('yes')], 'order-arguments'],
    ['/lampwright/enable/strobe', [i(1), i(1)], 'order-arguments'],
    ['/lampwright/stop', [f(Number.NaN)], 'order-arguments'],
    ['/lampwright/stop', [i(1), s('ines')], 'order-arguments'],
    ['/lampwright/resume', [{ type: 'N', value: null }], 'order-arguments'],
    ['/lampwright/stop', [[s('ines')]], 'order-arguments'],
    ['/lampwright/enable/strobe', [[i(1)]], 'order-arguments'],
    ['/lampwright/cue', [], 'order-arguments'],
    ['/lampwright/cue', [i(3)], 'order-arguments'],
    ['/lampwright/cue', [s('storm'), s('mine')], 'order-arguments'],
    ['/lampwright/cue', [s('storm'), s('main'), s('main')], 'order-arguments'],
    ['/lampwright/cue/next', [i(1), i(1)], 'order-arguments'],
    ['/lampwright/cue/next', [s('now')], 'order-arguments'],
    ['/lampwright/pin', [s('stove')], 'order-arguments'],
    ['/lampwright/pin', [s('stove'), i(1)], 'order-arguments'],
    ['/lampwright/pin', [s('stove'), s('ines'), s('gull')], 'order-arguments'],
    ['/lampwright/unpin', [], 'order-arguments'],
    ['/lampwright/unpin', [s('stove'), s('ines')], 'order-arguments'],
    ['/lampwright/mappings', [s('stove')], 'order-arguments'],
    ['/lampwright/mappings', [], 'order-arguments'],
    ['/lampwright/performers', [s('main')], 'order-arguments'],
    ['/lampwright/performers', [s('other'), i(0)], 'order-arguments'],
    ['/lampwright/performers', [s('main'), i(0), s('ines')], 'order-arguments'],
    ['/lampwright/performers', [s('main'), i(0), s('ines'), i(1)], 'order-arguments'],
    ['/lampwright/performers', [s('main'), i(0), s('ines'), i(1), s('off')], 'order-arguments'],
    ['/lampwright/performers', [s('main'), i(0), i(1), i(1), s('on')], 'order-arguments'],
    ['/lampwright/show', [s('main')], 'order-arguments'],
    ['/lampwright/show', [s('other'), s('0123'), s('well')], 'order-arguments'],
    ['/lampwright/show', [s('main'), i(1), s('well')], 'order-arguments'],
    ['/lampwright/show', [s('main'), s('0123')], 'order-arguments'],
    ['/lampwright/show', [s('main'), s('0123'), s('4567')], 'order-arguments'],
    ['/lampwright/show', [s('main'), s('0123'), s('well'), s('well')], 'order-arguments'],
    ['/lampwright/pins', [], 'order-arguments'],
    ['/lampwright/pins', [s('stove'), s('ines')], 'order-arguments'],
    ['/lampwright/pins', [s('main'), s('stove')], 'order-arguments'],
  ] as const)('%s %j is refused', (address, args, reason) => {
    expect(readOrder(address, args)).toBe(reason);
  });

  test('no address but its own enables anything', () => {
    fc.assert(
      fc.property(fc.string(), address => {
        const order = readOrder(address, []);
        if (typeof order === 'object') expect(address.startsWith('/lampwright/')).toBe(true);
      }),
      { seed: 20260120 },
    );
  });
});
