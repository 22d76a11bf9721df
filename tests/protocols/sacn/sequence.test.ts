import { describe, expect, it } from 'vitest';
import { acceptsSequence, nextSequence } from '../../../src/protocols/sacn/sequence.js';

describe('sequence numbers', () => {
  it('wrap in one byte', () => {
    expect([0, 1, 254, 255].map(nextSequence)).toEqual([1, 2, 255, 0]);
  });

  it('from any number, 20 are refused and 236 accepted, the next 127 ahead among them', () => {
    for (let last = 0; last < 256; last++) {
      let refused = 0;
      for (let step = 0; step < 256; step++) {
        if (!acceptsSequence(last, (last + step) & 0xff)) refused++;
      }
      expect(refused).toBe(20);
      for (let step = 1; step <= 127; step++) {
        expect(acceptsSequence(last, (last + step) & 0xff)).toBe(true);
      }
    }
  });
});
