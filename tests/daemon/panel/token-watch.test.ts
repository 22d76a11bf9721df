import { chmodSync, mkdirSync, mkdtempSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { newToken } from '../../../src/daemon/panel/token.js';
import { TokenWatch } from '../../../src/daemon/panel/token-watch.js';

let above: string;
let folder: string;
let file: string;
beforeEach(() => {
  above = mkdtempSync(join(tmpdir(), 'lampwright-watch-'));
  folder = join(above, 'state');
  mkdirSync(folder);
  file = join(folder, 'panel-token');
});
afterEach(() => rmSync(above, { recursive: true }));

it('takes another token, and says so once', () => {
  const watch = new TokenWatch(folder, newToken(folder));
  expect(watch.look()).toBeUndefined();
  const token = newToken(folder);
  expect(watch.look()).toEqual({ token, trouble: undefined });
  expect(watch.look()).toBeUndefined();
});

it('revokes a token whose file is removed, spoilt or open to others, and names the remedy', () => {
  const token = newToken(folder);
  const watch = new TokenWatch(folder, token);
  const spoils: [() => void, string][] = [
    [() => rmSync(file), 'was removed'],
    [() => writeFileSync(file, 'secret\n', { mode: 0o600 }), 'has no token in it'],
    [() => chmodSync(file, 0o644), 'is open to other users (mode 0644)'],
  ];
  for (const [spoil, why] of spoils) {
    spoil();
    const now = watch.look();
    expect(now?.token).toBeUndefined();
    expect(now?.trouble).toContain(why);
    expect(now?.trouble).toContain(`lampwright panel ${folder} --new-token`);
    const another = newToken(folder);
    expect(watch.look()).toEqual({ token: another, trouble: undefined });
  }
});

it('keeps the token while the folder itself is gone, and revokes it where another without one has its place', () => {
  const token = newToken(folder);
  const watch = new TokenWatch(folder, token);
  renameSync(folder, join(above, 'away'));
  expect(watch.look()).toBeUndefined();
  mkdirSync(folder);
  expect(watch.look()).toEqual({
    token: undefined,
    trouble: expect.stringContaining(`${folder} is another folder now, without a token`),
  });
  rmSync(folder, { recursive: true });
  renameSync(join(above, 'away'), folder);
  expect(watch.look()).toEqual({ token, trouble: undefined });
});
