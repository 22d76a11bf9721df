import { describe, expect, it } from 'vitest';
import { Inbox } from '../../../src/daemon/engine/inbox.js';

const datagram = (n: number) => ({ input: 0, bytes: Buffer.of(n), arrivalS: n });
const numbers = (inbox: Inbox) => inbox.take().map(({ arrivalS }) => arrivalS);

describe('the inbox', () => {
  it('gives datagrams in the order of arrival, once', () => {
    const inbox = new Inbox(4);
    for (const n of [1, 2, 3]) inbox.put(datagram(n));
    expect(inbox.count).toBe(3);
    expect(numbers(inbox)).toEqual([1, 2, 3]);
    expect(numbers(inbox)).toEqual([]);
  });

  it('drops the oldest when it is full, and counts', () => {
    const inbox = new Inbox(4);
    for (let n = 1; n <= 11; n++) inbox.put(datagram(n));
    expect(inbox.dropped).toBe(7);
    expect(numbers(inbox)).toEqual([8, 9, 10, 11]);
  });

  it('gives the same array every time, so that a tick allocates none', () => {
    const inbox = new Inbox(4);
    inbox.put(datagram(1));
    const first = inbox.take();
    inbox.put(datagram(2));
    expect(inbox.take()).toBe(first);
    expect(first).toEqual([datagram(2)]);
  });

  it('holds no more than its capacity over many rounds', () => {
    const inbox = new Inbox(3);
    let n = 0;
    for (let round = 0; round < 50; round++) {
      for (let i = 0; i < round % 5; i++) inbox.put(datagram(++n));
      const taken = numbers(inbox);
      expect(taken).toHaveLength(Math.min(3, round % 5));
      expect(taken.at(-1)).toBe(round % 5 === 0 ? undefined : n);
    }
  });
});
