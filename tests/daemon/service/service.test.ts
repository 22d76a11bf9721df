import { expect, it, vi } from 'vitest';
import { Service, withoutService } from '../../../src/daemon/service/service.js';

const BEAT_S = 0.025;

/** A service whose messages the test carries: each waits until it is let go. */
function rig(env: Record<string, string>) {
  const sent: string[][] = [];
  const failures: string[] = [];
  const waiting: ((failure: string | undefined) => void)[] = [];
  const service = Service.of({
    env,
    pid: 42,
    beatS: BEAT_S,
    onFailure: reason => failures.push(reason),
    run: (args, done) => {
      sent.push([...args]);
      waiting.push(done);
    },
  });
  return { service, sent, failures, carry: (failure?: string) => waiting.shift()?.(failure) };
}

const MANAGED = { NOTIFY_SOCKET: '/run/notify', WATCHDOG_USEC: '1500000' };

it('spawns nothing where no manager listens', () => {
  expect(rig({}).service).toBeUndefined();
  expect(rig({ WATCHDOG_USEC: '1500000', NOTIFY_SOCKET: '' }).service).toBeUndefined();
});

it('says ready, then what came meanwhile in one message, the newest of each', () => {
  const { service, sent, carry } = rig(MANAGED);
  service?.ready();
  service?.status('safe');
  service?.status('live\nREADY=1');
  expect(sent).toEqual([['READY=1']]);
  carry();
  // A line break would begin an assignment of its own.
  expect(sent).toEqual([['READY=1'], ['STATUS=live READY=1']]);
  carry();
  service?.status('live\nREADY=1');
  expect(sent.length).toBe(2);
});

it('strokes only by the beats, and only where the manager asks for it', () => {
  const { service, sent, carry } = rig(MANAGED);
  const silent = rig({ NOTIFY_SOCKET: '/run/notify' });
  for (let i = 0; i < 80; i++) {
    service?.beat(i * BEAT_S, BEAT_S, () => true);
    silent.service?.beat(i * BEAT_S, BEAT_S, () => true);
    carry();
  }
  // 2 s of beats, a stroke every 0.5 s.
  expect(sent).toEqual(Array.from({ length: 4 }, () => ['WATCHDOG=1']));
  expect(silent.sent).toEqual([]);
});

it('asks for the time that the fade takes, and settles', async () => {
  const { service, sent, carry } = rig(MANAGED);
  service?.stopping(4.5);
  expect(sent[0]).toContain('STOPPING=1');
  expect(sent[0]).toContain('EXTEND_TIMEOUT_USEC=4500000');
  const settled = service?.settled();
  carry();
  await settled;
});

it('reports a failure once in a row, and says again what was not carried, but no stroke', () => {
  vi.useFakeTimers();
  const { service, failures, sent, carry } = rig(MANAGED);
  service?.beat(0, BEAT_S, () => true);
  service?.status('a');
  carry('spawn sh ENOMEM');
  service?.status('b');
  expect(sent).toEqual([['WATCHDOG=1']]);
  vi.advanceTimersByTime(200);
  carry('spawn sh ENOMEM');
  vi.advanceTimersByTime(399);
  expect(sent).toEqual([['WATCHDOG=1'], ['STATUS=b']]);
  vi.advanceTimersByTime(1);
  expect(sent).toEqual([['WATCHDOG=1'], ['STATUS=b'], ['STATUS=b']]);
  carry();
  service?.status('c');
  carry('its shell ended with SIGKILL');
  expect(failures).toEqual(['spawn sh ENOMEM', 'its shell ended with SIGKILL']);
  vi.useRealTimers();
});

it("keeps the manager's variables from children", () => {
  const env = { PATH: '/bin', NOTIFY_SOCKET: '/s', WATCHDOG_USEC: '1', WATCHDOG_PID: '2' };
  expect(withoutService(env)).toEqual({ PATH: '/bin' });
});
