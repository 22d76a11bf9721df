import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, it } from 'vitest';
import {
  Daemon,
  lampwright,
  SALT_LANTERN,
  SacnReceiver,
  Trackers,
  until,
  variantOf,
} from './support.js';

/** What a page held goes off with the page; a browser does the same in tests/peers/panel-hands.test.ts. */
const URL_ = 'http://127.0.0.1:7240';
const HAZE = 30;
/** Long enough that what is not released is seen to stay on. */
const ENABLE_TIMEOUT_S = 3;

let folder: string;
let show: ReturnType<typeof variantOf>;
let daemon: Daemon;
let trackers: Trackers;
let walking: NodeJS.Timeout;
let sacn: SacnReceiver;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-left-'));
  show = variantOf(SALT_LANTERN, [
    ['  port: 9011\n', `  port: 9011\n  enableTimeout: ${ENABLE_TIMEOUT_S}\n`],
  ]);
  sacn = await SacnReceiver.open(1);
  trackers = new Trackers();
  let steps = 0;
  walking = setInterval(() => {
    steps += 1;
    for (const tracker of [1, 2, 3]) {
      trackers.place(tracker, 2 * tracker + 0.3 * Math.sin(steps / 20), 5);
    }
  }, 50);
  daemon = Daemon.run(show.file, {}, ['--state-dir', folder, '--panel', '127.0.0.1:7240']);
  await until('the panel listens', () => daemon.log.some(({ kind }) => kind === 'panel'), 40);
}, 60_000);

afterAll(async () => {
  clearInterval(walking);
  trackers.close();
  sacn.close();
  await daemon.stop();
  show.remove();
  rmSync(folder, { recursive: true });
});

it('releases what a page held when the page is closed', async () => {
  const { token } = JSON.parse((await lampwright(['panel', folder, '--json'])).stdout);
  const headers = { authorization: `Bearer ${token}` };
  await until('everybody is live', () => {
    const live = daemon.log.filter(({ kind, to }) => kind === 'performer' && to === 'live');
    return new Set(live.map(({ performer }) => performer)).size === 3;
  });
  // For so long a new engine takes a hold for one that the engine before it had.
  await sleep(ENABLE_TIMEOUT_S * 1e3);
  const closing = new AbortController();
  const { body } = await fetch(`${URL_}/api/stream?rate=5&page=one`, {
    headers,
    signal: closing.signal,
  });
  let seen = 0;
  const read = async () => {
    for await (const piece of body as unknown as AsyncIterable<Uint8Array>) {
      const found = /"sequence":(\d+)/.exec(Buffer.from(piece).toString('latin1'))?.[1];
      if (found !== undefined) seen = Number(found);
    }
  };
  const reading = read().catch(() => undefined);
  await until('snapshots come', () => seen > 0);
  const holding = setInterval(() => {
    const order = JSON.stringify({ words: ['hold', 'atmospheric'], seen, page: 'one' });
    void fetch(`${URL_}/api/act`, { method: 'POST', headers, body: order }).catch(() => undefined);
  }, 120);
  await until('haze leaves', () => (sacn.last[HAZE] ?? 0) > 0);
  clearInterval(holding);
  closing.abort();
  await reading;
  await until('no haze leaves', () => sacn.last[HAZE] === 0);
  const enables = () => daemon.log.filter(({ kind }) => kind === 'enable');
  await until('it is logged', () => enables().at(-1)?.gate === 'off');
  expect(enables().at(-1)).toMatchObject({ wasOn: true, reason: 'released' });
}, 60_000);
