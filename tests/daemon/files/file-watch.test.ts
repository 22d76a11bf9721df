import { mkdtempSync, renameSync, rmSync, unlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { FileWatch } from '../../../src/daemon/files/file-watch.js';

// Waits for real time, as the files are the system's.
const LOOKS_EVERY_MS = 15;
let folder: string;
let file: string;
let watch: FileWatch;
let saves: number;

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-test-'));
  file = join(folder, 'a.show.yaml');
  writeFileSync(file, 'first');
  saves = 0;
  watch = new FileWatch(
    () => [file],
    async () => {
      saves += 1;
    },
    LOOKS_EVERY_MS,
  );
  await watch.start();
});
afterEach(() => {
  watch.end();
  rmSync(folder, { recursive: true });
});

const saved = (times: number) => vi.waitFor(() => expect(saves).toBe(times), 3000);

it('tells of a save once, whether it is written in place or renamed over', async () => {
  writeFileSync(file, 'second, longer');
  await saved(1);
  writeFileSync(`${file}~`, 'third');
  renameSync(`${file}~`, file);
  await saved(2);
  // Removed, and written anew.
  unlinkSync(file);
  await sleep(4 * LOOKS_EVERY_MS);
  expect(saves).toBe(2);
  writeFileSync(file, 'fourth one');
  await saved(3);
  await sleep(4 * LOOKS_EVERY_MS);
  expect(saves).toBe(3);
});

it('waits until the writing is over, and tells of nothing once it is ended', async () => {
  for (let i = 0; i < 20; i++) {
    writeFileSync(file, 'x'.repeat(100 + i));
    await sleep(5);
  }
  await saved(1);
  watch.end();
  writeFileSync(file, 'after the end');
  await sleep(5 * LOOKS_EVERY_MS);
  expect(saves).toBe(1);
});
