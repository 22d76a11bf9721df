import { expect, it } from 'vitest';
import { strokePeriodS, Watchdog } from '../../../src/daemon/service/watchdog.js';

// sd_watchdog_enabled(3): WATCHDOG_USEC in microseconds, WATCHDOG_PID the process that is meant.
it.each([
  [{}, undefined],
  [{ WATCHDOG_USEC: '2000000' }, 2 / 3],
  [{ WATCHDOG_USEC: '2000000', WATCHDOG_PID: '42' }, 2 / 3],
  [{ WATCHDOG_USEC: '2000000', WATCHDOG_PID: '43' }, undefined],
  [{ WATCHDOG_USEC: '0' }, undefined],
  [{ WATCHDOG_USEC: 'soon' }, undefined],
])('strokes for %o every %s s', (env, periodS) => {
  expect(strokePeriodS(env, 42)).toBe(periodS);
});

const BEAT_S = 0.025;
const yes = () => true;
const no = () => false;

function strokes(watchdog: Watchdog, fromS: number, toS: number, hasSent: () => boolean): number {
  let count = 0;
  for (let nowS = fromS; nowS < toS; nowS += BEAT_S) {
    if (watchdog.beat(nowS, BEAT_S, hasSent)) count += 1;
  }
  return count;
}

it('is stroked once a period by beats that are on time and send', () => {
  expect(strokes(new Watchdog(0.5, 0.1), 0, 10, yes)).toBe(20);
});

it('is not stroked while nothing is sent, and at once when something is', () => {
  const watchdog = new Watchdog(0.5, 0.1);
  expect(strokes(watchdog, 0, 1, yes)).toBe(2);
  expect(strokes(watchdog, 1, 6, no)).toBe(0);
  expect(watchdog.beat(6, BEAT_S, yes)).toBe(true);
});

it('is not stroked by beats that are late', () => {
  const watchdog = new Watchdog(0.5, 0.1);
  for (let nowS = 0; nowS < 10; nowS += 0.2) expect(watchdog.beat(nowS, 0.2, yes)).toBe(false);
});

it('is not stroked when nobody beats: it has no timer', () => {
  const watchdog = new Watchdog(0.5, 0.1);
  expect(watchdog.beat(0, BEAT_S, yes)).toBe(true);
  // The first beat after a pause is late, whatever it sends; the next is a proof.
  expect(watchdog.beat(60, 60, yes)).toBe(false);
  expect(watchdog.beat(60 + BEAT_S, BEAT_S, yes)).toBe(true);
});
