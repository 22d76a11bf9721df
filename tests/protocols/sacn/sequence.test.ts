import { describe, expect, it } from 'vitest';
import { acceptsSequence, nextSequence } from '../../../src/protocols/sacn/sequence.js';

describe('sequence numbers', () => {
  it('wrap in one byte', () => {
    expect([0, 1, 254, 255].map(nextSequence)).toEqual([1, 2, 255, 0]);
  });

  it('from any number, 20 are refused and 236 accepted, the next 127 ahead among them', () => {
    const numbers = Array.from({ length: 256 }, (_, i) => i);
    const steps = (from: number, to: number, last: number) =>
      numbers.slice(from, to).filter(step => acceptsSequence(last, (last + step) & 0xff)).length;
    expect(numbers.filter(last => steps(0, 256, last) !== 236)).toEqual([]);
    expect(numbers.filter(last => steps(1, 128, last) !== 127)).toEqual([]);
  });
});
