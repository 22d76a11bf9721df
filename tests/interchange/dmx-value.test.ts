import { expect, test } from 'vitest';
import { dmxValue, rawIn } from '../../src/interchange/dmx-value.js';

const raw = (text: string, bytes: number) => {
  const value = dmxValue(text);
  return value === undefined ? undefined : rawIn(value, bytes);
};

/** DIN SPEC 15800:2022-02, DMXValue: mirroring and shifting of 255/1 in a channel of 16 bits. */
test('255/1 in 16 bits is 65535, and 255/1s is 65280', () => {
  expect(raw('255/1', 2)).toBe(65535);
  expect(raw('255/1s', 2)).toBe(65280);
});

test.each([
  ['0/1', 3, 0],
  ['128/1', 1, 128],
  ['128/1', 2, 0x8080],
  ['128/1s', 2, 0x8000],
  ['128/1', 3, 0x808080],
  ['128/1s', 3, 0x800000],
  ['4660/2', 2, 0x1234],
  ['4660/2', 3, 0x123412],
  ['4660/2s', 3, 0x123400],
  ['4660/2', 1, 0x12],
  ['4660/2s', 1, 0x12],
  ['4294967295/4', 3, 0xffffff],
  [' 7/1 ', 1, 7],
  // As in the example of DIN SPEC 15800 with two DMX breaks.
  ['0/255', 2, 0],
])('%s in %d bytes is %d', (text, bytes, expected) => {
  expect(raw(text, bytes)).toBe(expected);
});

test.each(['None', '', '256/1', '65536/2', '1', '-1/1', '1/0', '1/5', '1.5/1', '1/1x', undefined])(
  '%s is none',
  text => {
    expect(dmxValue(text)).toBeUndefined();
  },
);
