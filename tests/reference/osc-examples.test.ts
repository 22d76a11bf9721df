import { describe, expect, it } from 'vitest';
import { matchPattern } from '../../src/protocols/osc/address.js';
import { encodePacket } from '../../src/protocols/osc/encode.js';
import { collect } from '../protocols/osc/collect.js';

/**
 * Source: "OSC 1.0 examples" (opensoundcontrol.stanford.edu/spec-1_0-examples.html): the two example
 * messages with all of their bytes.
 */
const OSCILLATOR = '2f6f7363696c6c61746f722f342f6672657175656e6379002c66000043dc0000';
const FOO = '2f666f6f000000002c69697366660000000003e8ffffffff68656c6c6f0000003f9df3b640b5b22d';

const oscillator = {
  address: '/oscillator/4/frequency',
  args: [{ type: 'f', value: 440 }],
} as const;
const foo = {
  address: '/foo',
  args: [
    { type: 'i', value: 1000 },
    { type: 'i', value: -1 },
    { type: 's', value: 'hello' },
    { type: 'f', value: Math.fround(1.234) },
    { type: 'f', value: Math.fround(5.678) },
  ],
} as const;

describe('the example messages of the OSC 1.0 specification', () => {
  it.each([
    ['oscillator, 32 bytes', OSCILLATOR, oscillator],
    ['foo, 40 bytes', FOO, foo],
  ] as const)('%s', (_, hex, message) => {
    expect(collect(Buffer.from(hex, 'hex'))).toEqual([{ ...message, timeTag: 'immediately' }]);
    expect(encodePacket(message).toString('hex')).toBe(hex);
  });

  // Computed from the layouts that OSC 1.0 gives in words.
  it('the first in an immediate bundle, 52 bytes', () => {
    const hex = `2362756e646c6500000000000000000100000020${OSCILLATOR}`;
    const bytes = encodePacket({ timeTag: 'immediately', elements: [oscillator] });
    expect(bytes.toString('hex')).toBe(hex);
    expect(collect(Buffer.from(hex, 'hex'))).toEqual([{ ...oscillator, timeTag: 'immediately' }]);
  });

  it('a blob of 5 bytes', () => {
    const hex = '2f6200002c620000000000050102030405000000';
    const blob = {
      address: '/b',
      args: [{ type: 'b', value: new Uint8Array([1, 2, 3, 4, 5]) }],
    } as const;
    expect(encodePacket(blob).toString('hex')).toBe(hex);
    expect(collect(Buffer.from(hex, 'hex'))).toEqual([{ ...blob, timeTag: 'immediately' }]);
  });
});

/** Derived case by case from "OSC Message Dispatching and Pattern Matching" of OSC 1.0. */
describe('OSC 1.0 pattern matching', () => {
  it.each([
    ['/t/?/pos', '/t/12/pos', false],
    ['/t/*/pos', '/t/12/pos', true],
    ['/*', '/t/1', false],
    ['/t/[!0-4]', '/t/7', true],
    ['/t/[!0-4]', '/t/4', false],
    ['/t/[a-]', '/t/-', true],
    ['/t/[a!]', '/t/!', true],
    ['/{foo,bar}/x', '/bar/x', true],
    ['/{foo,bar}/x', '/foobar/x', false],
    ['/t/1*', '/t/1', true],
    ['/t', '/t/1', false],
  ])('%s on %s: %s', (pattern, address, matches) => {
    expect(matchPattern(pattern, address)).toBe(matches);
  });
});
