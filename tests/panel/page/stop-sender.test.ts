import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import type { LiveSnapshot } from '../../../src/live/schema.js';
import type { Answer } from '../../../src/panel/page/answers.js';
import { StopSender } from '../../../src/panel/page/stop-sender.js';

let requests: { readonly pressedAtS: number | undefined; readonly signal: AbortSignal }[];
let answers: ((answer: Answer | undefined) => void)[];
let sender: StopSender;
let told: number;

beforeEach(() => {
  vi.useFakeTimers();
  [requests, answers, told] = [[], [], 0];
  sender = new StopSender(
    ({ pressedAtS }, signal) =>
      new Promise(resolve => {
        requests.push({ pressedAtS, signal });
        answers.push(resolve);
        signal.addEventListener('abort', () => resolve(undefined));
      }),
    () => {
      told += 1;
    },
    pressedMs => 1000 + pressedMs / 1e3,
  );
});
afterEach(() => vi.useRealTimers());

const picture = (everybody: boolean) =>
  ({ status: { stops: { everybody }, performers: [] } }) as unknown as LiveSnapshot;

it('has at most three requests under way, and takes the answer of any', async () => {
  const stop = sender.press(['stop', 'everybody']);
  await vi.advanceTimersByTimeAsync(5500);
  // Each says when it was pressed.
  expect(requests).toHaveLength(6);
  expect(new Set(requests.map(({ pressedAtS }) => pressedAtS)).size).toBe(1);
  expect(requests.map(({ signal }) => signal.aborted)).toEqual([
    ...[true, true, true],
    ...[false, false, false],
  ]);
  answers[4]?.({ ok: true, text: 'Everybody stopped.' });
  expect(await stop).toEqual({ ok: true, text: 'Everybody stopped.' });
  expect([requests[3], requests[5]].map(one => one?.signal.aborted)).toEqual([true, true]);
  expect(told).toBeGreaterThan(0);
  await vi.advanceTimersByTimeAsync(5000);
  expect(requests).toHaveLength(6);
});

it('goes on where the panel has answered, but could not reach the daemon', async () => {
  const stop = sender.press(['stop', 'everybody']);
  answers[0]?.({ ok: false, text: 'no daemon', isUnreached: true });
  await vi.advanceTimersByTimeAsync(1100);
  expect(requests).toHaveLength(2);
  answers[1]?.({ ok: true, text: 'Everybody stopped.' });
  expect((await stop).ok).toBe(true);
});

it('tries at once when the stream is back', async () => {
  void sender.press(['stop', 'everybody']);
  await vi.advanceTimersByTimeAsync(2400);
  sender.retry();
  expect(requests).toHaveLength(4);
});

it('believes a picture that was made after the press, and none of before', async () => {
  const stop = sender.press(['stop', 'everybody']);
  await vi.advanceTimersByTimeAsync(500);
  sender.see(picture(true), performance.now());
  await vi.advanceTimersByTimeAsync(1500);
  expect(sender.lateInWords).toBe('Stop is being sent: not done yet. Act at the desk.');
  sender.see(picture(false), performance.now());
  expect(sender.lateInWords).toBeDefined();
  sender.see(picture(true), performance.now());
  expect(await stop).toEqual({ ok: true, text: 'Everybody stopped.' });
  expect(sender.lateInWords).toBeUndefined();
});

it('gives up what was pressed more than 30 s ago, unless it is pressed again', async () => {
  const stop = sender.press(['stop', 'ines']);
  await vi.advanceTimersByTimeAsync(29_000);
  const again = sender.press(['stop', 'ines']);
  await vi.advanceTimersByTimeAsync(29_000);
  expect(sender.lateInWords).toBe('Stop ines is being sent: not done yet. Act at the desk.');
  await vi.advanceTimersByTimeAsync(2100);
  expect((await stop).text).toMatch(/^Stop ines is no longer sent: there was no answer for 30 s/);
  expect(await again).toEqual(await stop);
});

it('counts the time that a phone slept', async () => {
  const stop = sender.press(['stop', 'everybody']);
  vi.setSystemTime(Date.now() + 60_000);
  await vi.advanceTimersByTimeAsync(1100);
  expect((await stop).ok).toBe(false);
  expect(requests).toHaveLength(1);
});

it('ends for a resume of everybody, or of whom it stops, and for no other', async () => {
  const everybody = sender.press(['stop', 'everybody']);
  const ines = sender.press(['stop', 'ines']);
  sender.giveUpFor('ines');
  expect((await ines).text).toBe('Stop ines is no longer sent, as you pressed Resume.');
  await vi.advanceTimersByTimeAsync(1100);
  expect(sender.lateInWords).toMatch(/^Stop is being sent/);
  sender.giveUpFor('everybody');
  expect((await everybody).ok).toBe(false);
});
