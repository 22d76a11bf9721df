import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Daemon, SALT_LANTERN, until, variantOf } from './support.js';

/** Ports of this file's own. */
const POSITIONS = 19_760;

let folder: string;
let show: ReturnType<typeof variantOf>;
let cache: string;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-compiled-'));
  cache = join(folder, 'cache');
  show = variantOf(SALT_LANTERN, [
    ['port: 9010', `port: ${POSITIONS}`],
    ['port: 9011', `port: ${POSITIONS + 1}`],
    ['to: [127.0.0.1]', 'to: [127.0.0.97]'],
  ]);
});
afterEach(() => {
  show.remove();
  rmSync(folder, { recursive: true });
});

it('keeps the code of both processes when they end, and the next start takes it', async () => {
  await untilKept();
  const kept = inodes();
  expect(Object.keys(kept)).toEqual([
    expect.stringMatching(/^engine\.cjs-v/),
    expect.stringMatching(/^run\.cjs-v/),
  ]);
  await liveAndStop();
  // Code that V8 had refused would have been kept anew, as another file.
  expect(inodes()).toEqual(kept);
});

it('goes on without it where it is damaged, and keeps it anew', async () => {
  await untilKept();
  const kept = inodes();
  for (const name of Object.keys(kept)) writeFileSync(join(cache, name), 'not code');
  await untilKept();
  expect(Object.keys(inodes())).toEqual(Object.keys(kept));
});

it('keeps nothing of a process that has hardly run', () => {
  execFileSync(process.execPath, ['dist/main.js', 'run', 'none.yaml', '--help'], {
    env: { ...process.env, CACHE_DIRECTORY: cache },
  });
  expect(existsSync(cache)).toBe(false);
});

/** On a busy machine an engine that takes longer than half a second to end is killed, and keeps nothing that time. */
async function untilKept(): Promise<void> {
  do await liveAndStop();
  while (readdirSync(cache).filter(name => statSync(join(cache, name)).size > 100_000).length < 2);
}

async function liveAndStop(): Promise<void> {
  const daemon = Daemon.run(show.file, { CACHE_DIRECTORY: cache });
  await until('the engine has the light', () =>
    daemon.log.some(({ kind, to }) => kind === 'lights' && to === 'live'),
  );
  expect(await daemon.stop()).toBe(0);
}

function inodes(): Readonly<Record<string, number>> {
  return Object.fromEntries(
    readdirSync(cache)
      .sort()
      .map(name => [name, statSync(join(cache, name)).ino]),
  );
}
