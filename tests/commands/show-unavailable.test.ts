import { openSync } from 'node:fs';
import { afterEach, expect, test, vi } from 'vitest';
import { check } from '../../src/commands/check.js';
import { refusalCode } from '../../src/commands/refuse.js';
import { run } from '../../src/commands/run.js';
import { loadShow } from '../../src/commands/show-file.js';

// No file system here fails when it is asked to.
vi.mock('node:fs', async original => {
  const fs = await original<typeof import('node:fs')>();
  return { ...fs, openSync: vi.fn(fs.openSync) };
});

const SHOW = 'config/salt-lantern.show.yaml';

afterEach(() => {
  vi.restoreAllMocks();
});

test.each([
  ['EMFILE', 'too many files are open'],
  ['EIO', 'the disk reports a fault'],
  ['ENOMEM', 'the machine has no memory left'],
])(
  'a show that can not be read for %s is tried again: exit code 3, not one that the service stays down for',
  async (code, why) => {
    let err = '';
    vi.spyOn(process.stderr, 'write').mockImplementation(text => {
      err += String(text);
      return true;
    });
    vi.mocked(openSync).mockImplementation(() => {
      throw Object.assign(new Error(code), { code });
    });
    expect(await run({ positionals: [SHOW], values: {} })).toBe(3);
    expect(err).toContain(`the show can't be read: ${why}. [file-unavailable]`);
    expect(await check({ positionals: [SHOW], values: {} })).toBe(3);
  },
);

test('a profile of it is no different', async () => {
  const { openSync: open } = await vi.importActual<typeof import('node:fs')>('node:fs');
  vi.mocked(openSync).mockImplementation((path, ...rest) => {
    if (!String(path).endsWith('.profile.yaml')) return open(path, ...rest);
    throw Object.assign(new Error('EMFILE'), { code: 'EMFILE' });
  });
  const loaded = loadShow('config/rehearsal-room.show.yaml');
  expect(!loaded.ok && loaded.problems[0]).toMatchObject({
    code: 'file-unavailable',
    message: expect.stringContaining("can't be read: too many files are open."),
  });
  expect(!loaded.ok && refusalCode(loaded.problems)).toBe(3);
});
