import { mkdirSync, mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { makeFolder, makeFolderNow, PRIVATE } from '../../../src/daemon/files/make-folder.js';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-folder-'));
});
afterEach(() => rmSync(folder, { recursive: true }));

describe.each([
  ['at once', async (path: string) => makeFolderNow(path, PRIVATE)],
  ['soon', (path: string) => makeFolder(path, PRIVATE)],
])('a folder that is made %s', (_, make) => {
  it('comes with its parents, for this user alone', async () => {
    const path = join(folder, 'a', 'b', 'c');
    await make(path);
    await make(path);
    expect(statSync(path).mode & 0o777).toBe(0o700);
    expect(statSync(join(folder, 'a')).mode & 0o777).toBe(0o700);
  });

  it('is left as it is where it is there', async () => {
    mkdirSync(join(folder, 'open'), { mode: 0o755 });
    await make(join(folder, 'open'));
    expect(statSync(join(folder, 'open')).mode & 0o777).toBe(0o755);
  });

  it('is refused where a file stands, or above it', async () => {
    writeFileSync(join(folder, 'file'), '');
    await expect(make(join(folder, 'file'))).rejects.toThrow('EEXIST');
    await expect(make(join(folder, 'file', 'b'))).rejects.toThrow('ENOTDIR');
  });

  // proc(5): mkdir(2) says ENOENT there, whatever the parent; Node's recursive way asks for ever.
  it('ends below /proc, and says so', async () => {
    await expect(make('/proc/lampwright/state/main')).rejects.toThrow('ENOENT');
  });
});
