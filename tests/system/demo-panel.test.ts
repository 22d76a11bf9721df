import type { ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { spawn } from '../tethered.js';
import { until } from './support.js';

let temporary: string;
let demo: ChildProcess | undefined;
let said: string;

beforeEach(() => {
  temporary = mkdtempSync(join(tmpdir(), 'lampwright-demos-'));
});
afterEach(() => {
  demo?.kill('SIGKILL');
  rmSync(temporary, { recursive: true });
});

function begin(...options: string[]): ChildProcess {
  said = '';
  demo = spawn(process.execPath, ['dist/main.js', 'demo', '--plain', ...options], {
    stdio: ['ignore', 'pipe', 'pipe'],
    env: { ...process.env, TMPDIR: temporary },
  });
  demo.stdout?.on('data', (text: Buffer) => {
    said += text.toString();
  });
  return demo;
}

async function link(): Promise<{ url: string; token: string }> {
  const pattern = /^The panel is at (http:\/\/127\.0\.0\.1:\d+)\/#token=([\w-]{22})$/m;
  await until('it says where the panel is', () => pattern.test(said), 30);
  const [, url = '', token = ''] = pattern.exec(said) ?? [];
  return { url, token };
}

const ended = (child: ChildProcess) =>
  new Promise<number | null>(resolve => child.once('exit', resolve));

it('has a panel, which anybody on this machine may look at, and which acts by its token only', async () => {
  const child = begin();
  const { url, token } = await link();
  expect(url).toBe('http://127.0.0.1:7240');
  await until('somebody is live', () => /Ines live/.test(said), 30);
  const picture = (await (await fetch(`${url}/api/snapshot`)).json()) as {
    snapshot: { status: { show: string } };
  };
  expect(picture.snapshot.status.show).toBe('The Salt Lantern');
  expect(await (await fetch(`${url}/`)).text()).toContain('<html');
  const act = async (headers: Record<string, string>) => {
    const body = JSON.stringify({ words: ['stop', 'everybody'] });
    return (await fetch(`${url}/api/act`, { method: 'POST', headers, body })).status;
  };
  expect(await act({})).toBe(401);
  expect(said).not.toMatch(/Ines stopped/);
  expect(await act({ authorization: `Bearer ${token}` })).toBe(200);
  await until('the stop is seen', () => /Ines stopped/.test(said), 20);
  expect(readdirSync(temporary)).toHaveLength(1);
  child.kill('SIGINT');
  expect(await ended(child)).toBe(0);
  // Token and socket leave with it.
  expect(readdirSync(temporary)).toEqual([]);
}, 120_000);

it('takes another port where a show has the usual one', async () => {
  const show = createServer();
  show.listen(7240, '127.0.0.1');
  // Fails where it is taken: the demo before it has ended, and its panel with it.
  await once(show, 'listening');
  const child = begin();
  const { url } = await link();
  expect(url).not.toBe('http://127.0.0.1:7240');
  expect((await fetch(`${url}/healthz`)).ok || (await fetch(`${url}/api/door`)).ok).toBe(true);
  await until('somebody is live', () => /Ines live/.test(said), 30);
  child.kill('SIGINT');
  expect(await ended(child)).toBe(0);
  show.close();
}, 90_000);

it('has none with --panel off', async () => {
  const child = begin('--panel', 'off', '--seconds', '6');
  expect(await ended(child)).toBe(0);
  expect(said).not.toContain('panel');
  expect(readdirSync(temporary)).toEqual([]);
}, 60_000);
