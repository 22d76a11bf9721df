import { expect, it } from 'vitest';
import type { LightingEvent } from '../../../src/daemon/lighting/events.js';
import { SendFailures } from '../../../src/daemon/lighting/send-failures.js';

const HEADS = { output: 'heads' };
const LAMPS = { output: 'lamps' };
const POLL = { errand: 'ArtPoll' } as const;

function failures() {
  const events: LightingEvent[] = [];
  return { events, all: new SendFailures('eth0', event => events.push(event)) };
}

it('an output is told of at once, and then each second, by its own packets', () => {
  const { events, all } = failures();
  for (let beat = 0; beat < 80; beat++) {
    all.sent(LAMPS);
    if (beat >= 10) all.failed(HEADS, 'EPERM', 2);
    else all.sent(HEADS);
    all.report(100 + beat / 40);
  }
  expect(events).toEqual([
    { kind: 'send-failed', interface: 'eth0', output: 'heads', reason: 'EPERM', count: 2, sent: 0 },
    {
      kind: 'send-failed',
      interface: 'eth0',
      output: 'heads',
      reason: 'EPERM',
      count: 80,
      sent: 0,
    },
  ]);
});

it('says how many of an output did leave, to other receivers', () => {
  const { events, all } = failures();
  all.sent(HEADS);
  all.failed(HEADS, 'EHOSTUNREACH', 1);
  all.report(100);
  expect(events).toMatchObject([{ output: 'heads', count: 1, sent: 1 }]);
});

it('what is no levels is said once, until it is sent', () => {
  const { events, all } = failures();
  for (let i = 0; i < 3; i++) all.failed(POLL, 'EPERM', 1);
  all.report(100);
  all.sent(POLL);
  all.sent(POLL);
  expect(events).toEqual([
    { kind: 'errand-failed', interface: 'eth0', errand: 'ArtPoll', reason: 'EPERM' },
    { kind: 'errand-sent', interface: 'eth0', errand: 'ArtPoll' },
  ]);
});
