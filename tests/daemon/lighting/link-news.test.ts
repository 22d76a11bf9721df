import { expect, it } from 'vitest';
import type { LightingEvent } from '../../../src/daemon/lighting/events.js';
import { LinkNews } from '../../../src/daemon/lighting/link-news.js';

it('of a plug with a bad contact: a few lines, then one a minute with the number of changes, and the last state', () => {
  const events: LightingEvent[] = [];
  /** What the status knows: each change, at once. */
  let last: string | undefined;
  const news = new LinkNews('eth0', event => {
    last = event.kind;
    if (!('quiet' in event)) events.push(event);
  });
  let nowS = 1000;
  /** Comes and goes twice a second. */
  const flap = (seconds: number) => {
    for (let i = 0; i < seconds * 4; i++) {
      news.look(nowS);
      if (i % 2 === 0) {
        news.carrier(i % 4 !== 0, nowS);
        expect(last).toBe(i % 4 !== 0 ? 'carrier-back' : 'carrier-lost');
      }
      nowS += 0.25;
    }
  };
  flap(4);
  expect(events.map(({ kind }) => kind)).toEqual(
    Array.from({ length: 8 }, (_, i) => (i % 2 === 0 ? 'carrier-lost' : 'carrier-back')),
  );
  flap(596);
  expect(events.length).toBeGreaterThan(8);
  expect(events.length).toBeLessThanOrEqual(18);
  const told = events.reduce((sum, one) => sum + ('changes' in one ? (one.changes ?? 1) : 1), 0);
  expect(told).toBeGreaterThan(1000);
  events.splice(0);
  for (; nowS < 1750; nowS += 0.25) news.look(nowS);
  expect(events.at(-1)).toMatchObject({ kind: 'carrier-back', interface: 'eth0' });
  events.splice(0);
  news.lost('the interface is gone', nowS + 300);
  news.back('10.0.0.2', nowS + 301);
  expect(events).toEqual([
    { kind: 'interface-lost', interface: 'eth0', reason: 'the interface is gone' },
    { kind: 'interface-back', interface: 'eth0', address: '10.0.0.2' },
  ]);
});
