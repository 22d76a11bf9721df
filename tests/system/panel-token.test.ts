import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { Daemon, lampwright, SALT_LANTERN, Trackers, until } from './support.js';

/** What becomes of open pages when the token is taken back. */
const URL_ = 'http://127.0.0.1:7240';
/** The panel looks at its token once a second; more on a machine that is busy. */
const WITHIN_S = 4;

let folder: string;
let daemon: Daemon;
let trackers: Trackers;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-token-'));
  trackers = new Trackers();
  for (const tracker of [1, 2, 3]) trackers.place(tracker, 2 * tracker, 5);
  daemon = Daemon.run(SALT_LANTERN, {}, ['--state-dir', folder, '--panel', '127.0.0.1:7240']);
  await until('the panel listens', () => daemon.log.some(({ kind }) => kind === 'panel'), 40);
}, 60_000);

afterAll(async () => {
  trackers.close();
  await daemon.stop();
  rmSync(folder, { recursive: true });
});

const by = (token: string) => ({ authorization: `Bearer ${token}` });
/** What came through a proxy is not of this machine: it takes the token to look. */
const FAR = { 'x-forwarded-for': '203.0.113.9' };

async function act(token: string, words: readonly string[], seen?: number): Promise<number> {
  const body = JSON.stringify({ words, ...(seen === undefined ? {} : { seen }) });
  return (await fetch(`${URL_}/api/act`, { method: 'POST', headers: by(token), body })).status;
}

/** An open page. */
async function opened(headers: Record<string, string>) {
  const { body, status } = await fetch(`${URL_}/api/stream`, { headers });
  expect(status).toBe(200);
  const page = { isOpen: true, sequence: 0 };
  const read = async () => {
    for await (const piece of body as unknown as AsyncIterable<Uint8Array>) {
      const found = /"sequence":(\d+)/.exec(Buffer.from(piece).toString('latin1'))?.[1];
      if (found !== undefined) page.sequence = Number(found);
    }
  };
  void read()
    .catch(() => undefined)
    .then(() => {
      page.isOpen = false;
    });
  return page;
}

/** While the engine is late there is no view of it: then asked again. */
const gateOf = async (): Promise<string | undefined> => {
  const { snapshot } = (await (await fetch(`${URL_}/api/snapshot`)).json()) as {
    snapshot: { engine: { hazards: { gate: string }[] } | null };
  };
  if (snapshot.engine !== null) return snapshot.engine.hazards[0]?.gate;
  await sleep(100);
  return gateOf();
};

it('by another token: what was opened elsewhere closes, nothing is done by the old one, and an enable that it held goes off', async () => {
  const old = JSON.parse((await lampwright(['panel', folder, '--json'])).stdout).token as string;
  const far = await opened({ ...by(old), ...FAR });
  const near = await opened({});
  await until('snapshots come', () => far.sequence > 0 && near.sequence > 0);
  await until('the light is live', () =>
    daemon.log.some(({ kind, to }) => kind === 'lights' && to === 'live'),
  );
  let holds = 0;
  const holding = setInterval(() => {
    void act(old, ['hold', 'atmospheric'], near.sequence).then(status => {
      if (status === 200) holds += 1;
    });
  }, 200);
  while ((await gateOf()) !== 'on') await sleep(200);
  expect(holds).toBeGreaterThan(0);
  expect(far.isOpen).toBe(true);

  const { stdout } = await lampwright(['panel', folder, '--json', '--new-token']);
  const { token } = JSON.parse(stdout) as { token: string };
  expect(token).not.toBe(old);
  await until('the page elsewhere is closed', () => !far.isOpen, WITHIN_S);
  expect(await act(old, ['stop', 'everybody'])).toBe(401);
  // The hand still presses; nobody hears it.
  const deadlineMs = performance.now() + 1e3 * WITHIN_S;
  while ((await gateOf()) === 'on') {
    expect(performance.now()).toBeLessThan(deadlineMs);
    await sleep(100);
  }
  clearInterval(holding);
  expect((await fetch(`${URL_}/api/stream`, { headers: { ...by(old), ...FAR } })).status).toBe(401);
  // On the show machine itself anybody may go on looking.
  expect(near.isOpen).toBe(true);
  expect(await act(token, ['stop', 'everybody'])).toBe(200);
  // By what was seen before the stop nothing is resumed.
  const before = near.sequence;
  await until('the stop has been seen', () => near.sequence > before + 1);
  expect(await act(token, ['resume', 'everybody'], near.sequence)).toBe(200);
}, 90_000);

it('by removing its file: nobody acts any more until there is another', async () => {
  const { token } = JSON.parse((await lampwright(['panel', folder, '--json'])).stdout);
  rmSync(join(folder, 'panel-token'));
  for (let tries = 0; (await act(token, ['stop', 'everybody'])) !== 401; tries++) {
    expect(tries).toBeLessThan(10 * WITHIN_S);
    await sleep(100);
  }
  const { stdout } = await lampwright(['panel', folder, '--json', '--new-token']);
  const again = (JSON.parse(stdout) as { token: string }).token;
  for (let tries = 0; (await act(again, ['stop', 'everybody'])) === 401; tries++) {
    expect(tries).toBeLessThan(10 * WITHIN_S);
    await sleep(100);
  }
}, 60_000);
