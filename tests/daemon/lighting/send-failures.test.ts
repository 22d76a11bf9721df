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

/** Beats at 40 Hz, each with what happens in it; @returns the time of the last, seconds */
function beats(all: SendFailures, fromS: number, seconds: number, each: (beat: number) => void) {
  for (let beat = 0; beat < seconds * 40; beat++) {
    each(beat);
    all.report(fromS + beat / 40);
  }
  return fromS + seconds;
}
const FAILED = { kind: 'send-failed', interface: 'eth0', output: 'heads' } as const;

it('an output is told of at once, then each minute with the count, and when it is over', () => {
  const { events, all } = failures();
  let nowS = beats(all, 100, 0.25, () => {
    all.sent(LAMPS);
    all.sent(HEADS);
  });
  nowS = beats(all, nowS, 130, () => {
    all.sent(LAMPS);
    all.failed(HEADS, 'EPERM', 2);
  });
  expect(events).toHaveLength(3);
  expect(events[0]).toEqual({ ...FAILED, reason: 'EPERM', count: 2, sent: 0, began: true });
  const told = events.map(event => (event.kind === 'send-failed' ? event.count : 0));
  // 60 s at 80 packets a second.
  expect(told[1]).toBeCloseTo(4800, -2);
  expect(told[2]).toBeCloseTo(4800, -2);
  beats(all, nowS, 10, () => {
    all.sent(LAMPS);
    all.sent(HEADS);
  });
  expect(events).toHaveLength(4);
  const over = events[3];
  expect(over).toMatchObject({ kind: 'sent-again', interface: 'eth0', output: 'heads' });
  expect(over?.kind === 'sent-again' && over.count).toBe(130 * 80);
  expect(over?.kind === 'sent-again' && over.forS).toBeCloseTo(130, -1);
});

it('failures that come and go are one, whatever their reasons: no flood', () => {
  const { events, all } = failures();
  beats(all, 100, 600, beat => {
    if (Math.floor(beat / 60) % 2 === 0) all.failed(HEADS, `E${beat % 1000}`, 1);
    else all.sent(HEADS);
  });
  // Eight reasons at once, then each minute, or each 10 s while all and some take turns.
  expect(events.length).toBeLessThan(8 + 60 + 1);
  // It seems to be over once; from then on that is not believed so soon.
  expect(events.filter(({ kind }) => kind !== 'send-failed')).toHaveLength(1);
});

it('that it sends again is told within a second, with the time to the first packet that left', () => {
  const { events, all } = failures();
  let nowS = beats(all, 100, 6.3, () => all.failed(HEADS, 'EPERM', 1));
  nowS = beats(all, nowS, 1, () => all.sent(HEADS));
  expect(events).toMatchObject([
    { kind: 'send-failed', began: true },
    { kind: 'sent-again', count: 252, forS: expect.closeTo(6.3, 6) },
  ]);
});

it('an output that nothing leaves of any more is not said to send again', () => {
  const { events, all } = failures();
  all.failed(HEADS, 'EPERM', 1);
  beats(all, 100, 20, () => undefined);
  expect(events).toHaveLength(1);
});

it('a new reason is told at once, and within 10 s that some packets leave now', () => {
  const { events, all } = failures();
  let nowS = beats(all, 100, 2, () => all.failed(HEADS, 'EPERM', 1));
  nowS = beats(all, nowS, 2, () => all.failed(HEADS, 'EIO', 1));
  expect(events.map(event => event.kind === 'send-failed' && event.reason)).toEqual([
    'EPERM',
    'EIO',
  ]);
  beats(all, nowS, 15, () => {
    all.failed(HEADS, 'EIO', 1);
    all.sent(HEADS);
  });
  expect(events).toHaveLength(3);
  expect(events[2]).toMatchObject({ kind: 'send-failed', reason: 'EIO' });
  expect(events[2]?.kind === 'send-failed' && events[2].sent).toBeGreaterThan(0);
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

it('what has failed when the sockets are closed is told of once, in whole', () => {
  const { events, all } = failures();
  all.failed(POLL, 'EPERM', 1);
  const nowS = beats(all, 100, 2, () => all.failed(HEADS, 'EPERM', 3));
  // Of the last beat nobody has been told.
  all.failed(HEADS, 'EPERM', 3);
  all.failed(LAMPS, 'EPERM', 1);
  events.length = 0;
  all.end(nowS);
  all.end(nowS);
  expect(events).toEqual([
    {
      kind: 'sends-ended',
      interface: 'eth0',
      outputs: [
        { output: 'heads', count: 243, forS: 2 },
        { output: 'lamps', count: 1, forS: 0 },
      ],
      errands: ['ArtPoll'],
    },
  ]);
});

it('sockets that are closed while all is well say nothing', () => {
  const { events, all } = failures();
  const nowS = beats(all, 100, 1, () => all.sent(HEADS));
  all.end(nowS);
  expect(events).toEqual([]);
});
