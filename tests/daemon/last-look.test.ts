import { mkdtempSync, rmSync, truncateSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { LastLook } from '../../src/daemon/last-look.js';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-look-'));
});
afterEach(() => rmSync(folder, { recursive: true }));

const LEVELS = Uint8Array.from({ length: 512 }, (_, i) => i & 0xff);

it('gives the newest levels to who comes within 2.5 s, on the same show', () => {
  const look = LastLook.open(folder, 'a show', 512);
  look?.write(new Uint8Array(512), 99);
  look?.write(LEVELS, 100);
  expect(LastLook.read(folder, 'a show', 512, 101)).toEqual(LEVELS);
  expect(LastLook.read(folder, 'a show', 512, 102.6)).toBeUndefined();
  // Of another boot, whose clock had come farther.
  expect(LastLook.read(folder, 'a show', 512, 50)).toBeUndefined();
  expect(LastLook.read(folder, 'another show', 512, 101)).toBeUndefined();
  expect(LastLook.read(folder, 'a show', 1024, 101)).toBeUndefined();
  truncateSync(join(folder, 'last-look'), 100);
  expect(LastLook.read(folder, 'a show', 512, 101)).toBeUndefined();
  look?.close();
});

it('gives nothing after a clean end, or where there is no folder', () => {
  const look = LastLook.open(folder, 'a show', 512);
  look?.write(LEVELS, 100);
  look?.end();
  look?.write(LEVELS, 100);
  expect(LastLook.read(folder, 'a show', 512, 100)).toBeUndefined();
  const nowhere = join(folder, 'nowhere');
  expect(LastLook.open(nowhere, 'a show', 512)).toBeUndefined();
  expect(LastLook.read(nowhere, 'a show', 512, 100)).toBeUndefined();
});
