import { expect, it } from 'vitest';
import type {
  SupervisorEvent,
  SupervisorOptions,
} from '../../../src/daemon/beats/supervisor-options.js';
import { StatusTeller } from '../../../src/daemon/status/teller.js';
import { createCounters } from '../../../src/engine/values/counters.js';
import { configShow } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

it('says once that two send one tracker, and once that it is over', () => {
  const told: SupervisorEvent[] = [];
  const teller = new StatusTeller(showOf(configShow('salt-lantern')), () => undefined);
  const given = {
    onEvent: (event: SupervisorEvent) => void told.push(event),
    onCounters: () => undefined,
  } as unknown as SupervisorOptions;
  const { onCounters } = teller.listeningTo(given);
  const positions = [0, 0];
  const look = (...grows: number[]) => {
    grows.forEach((by, i) => {
      positions[i] = (positions[i] ?? 0) + by;
    });
    const feeds = positions.map((count, i) => ({
      tracker: '1',
      input: 'tracking',
      from: `10.0.0.${5 + i}`,
      positions: count,
    }));
    const shell = { lateTicks: 0, framesSkipped: 0, messagesDropped: 0, heapUsed: 0, rss: 0 };
    onCounters({ ...createCounters(), ...shell, feeds });
  };
  for (let i = 0; i < 20; i++) look(30, 30);
  expect(told).toEqual([
    { kind: 'tracker-senders', what: expect.stringMatching(/^tracker 1 is sent by two at once: /) },
  ]);
  for (let i = 0; i < 20; i++) look(30, 0);
  expect(told.slice(1)).toEqual([{ kind: 'tracker-senders' }]);
});
