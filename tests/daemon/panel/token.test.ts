import {
  chmodSync,
  chownSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { newToken, readToken, tokenOf } from '../../../src/daemon/panel/token.js';

let folder: string;
let file: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-token-'));
  file = join(folder, 'panel-token');
});
afterEach(() => rmSync(folder, { recursive: true }));

it('makes one that nobody else may read, and keeps it', () => {
  expect(readToken(folder)).toEqual({ ok: false, fault: undefined });
  const { token, anew } = tokenOf(folder);
  expect(anew).toBeUndefined();
  expect(statSync(file).mode & 0o777).toBe(0o600);
  expect(tokenOf(folder)).toEqual({ token });
});

it('does not take one that others may have read or written, and says so', () => {
  for (const mode of [0o666, 0o644, 0o604, 0o620]) {
    const old = newToken(folder);
    chmodSync(file, mode);
    const text = `${file} is open to other users (mode 0${mode.toString(8)})`;
    expect(readToken(folder)).toEqual({ ok: false, fault: text });
    const { token, anew } = tokenOf(folder);
    expect(token).not.toBe(old);
    expect(anew).toContain(`${text}, so a new token was made`);
    expect(statSync(file).mode & 0o777).toBe(0o600);
  }
  const kept = newToken(folder);
  chmodSync(file, 0o640);
  expect(readToken(folder)).toEqual({ ok: true, token: kept });
});

it('makes another one where what is there is no token', () => {
  writeFileSync(file, 'secret\n', { mode: 0o600 });
  const { token, anew } = tokenOf(folder);
  expect(anew).toContain(`${file} has no token in it, so a new token was made`);
  expect(readFileSync(file, 'utf8')).toBe(`${token}\n`);
});

it('gives one that root makes to the user of the folder', () => {
  if (process.getuid?.() === 0) chownSync(folder, 4242, 4243);
  newToken(folder);
  const { uid, gid } = statSync(folder);
  expect(statSync(file)).toMatchObject({ uid, gid });
});
