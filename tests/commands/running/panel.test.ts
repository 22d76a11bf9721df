import { chmodSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, it } from 'vitest';
import { main } from '../../../src/commands/cli.js';
import { forgetWhere, newToken, noteWhere, readToken } from '../../../src/daemon/panel/token.js';
import { captured } from '../captured.js';

const folder = mkdtempSync(join(tmpdir(), 'lampwright-panel-'));
afterAll(() => rmSync(folder, { recursive: true }));
const said = captured();

it('prints the link of a daemon that has ended, and says that none answers', async () => {
  expect(await main(['panel', folder])).toBe(1);
  expect(said.err).toMatch(/^No panel has been started/m);
  const token = newToken(folder);
  noteWhere(folder, 'http://127.0.0.1:7240');
  said.clear();
  expect(await main(['panel', folder])).toBe(1);
  expect(said.err).toContain(`No daemon answers in ${folder} now`);
  expect(said.out).toContain('The panel was at http://127.0.0.1:7240');
  expect(said.out).toContain(`http://127.0.0.1:7240/#token=${token}`);
  said.clear();
  expect(await main(['panel', folder, '--json'])).toBe(1);
  expect(JSON.parse(said.out)).toMatchObject({ token, running: false });
  said.clear();
  expect(await main(['panel', folder, '--new-token'])).toBe(0);
  expect(said.out).not.toContain(token);
});

it('opens nothing with a token that others may read, and says what helps', async () => {
  const token = newToken(folder);
  noteWhere(folder, 'http://127.0.0.1:7240');
  chmodSync(join(folder, 'panel-token'), 0o666);
  said.clear();
  expect(await main(['panel', folder])).toBe(1);
  expect(said.out).toBe('');
  expect(said.err).toContain('panel-token is open to other users (mode 0666). Make another token:');
  said.clear();
  expect(await main(['panel', folder, '--new-token', '--json'])).toBe(0);
  expect(JSON.parse(said.out).token).not.toBe(token);
});

it('makes no folder that is not there', async () => {
  for (const more of [[], ['--new-token']]) {
    said.clear();
    expect(await main(['panel', join(folder, 'gone'), ...more])).toBe(2);
    expect(said.err).toContain('gone: there is no such folder.');
  }
});

it('says what is missing: the token, or the address', async () => {
  newToken(folder);
  for (const text of ['garbage', '{"url":"javascript:alert(1)"}', '{"url":"file:///etc"}']) {
    writeFileSync(join(folder, 'panel.json'), text);
    said.clear();
    expect(await main(['panel', folder])).toBe(1);
    expect(said.out).toBe('');
    expect(said.err).toContain("It isn't known where the panel of");
  }
  noteWhere(folder, 'http://127.0.0.1:7240');
  rmSync(join(folder, 'panel-token'));
  said.clear();
  expect(await main(['panel', folder])).toBe(1);
  expect(said.err).toContain('was removed. Make another: lampwright panel');
});

it('tells another token whenever it made one, and that the old one acts where it could not', async () => {
  const token = newToken(folder);
  forgetWhere(folder);
  said.clear();
  expect(await main(['panel', folder, '--new-token'])).toBe(0);
  const read = readToken(folder);
  const made = read.ok ? read.token : '';
  expect(made).not.toBe(token);
  expect(said.out).toContain(`links with the old one no longer work: ${made}`);
  expect(said.out).toContain("There is no link: It isn't known where the panel of");
  said.clear();
  // Something in the way, which fails as a full disk does.
  mkdirSync(join(folder, 'panel-token.new'));
  expect(await main(['panel', folder, '--new-token'])).toBe(2);
  expect(said.err).toContain(`no new token could be written in ${folder}`);
  expect(said.err).toContain('The old one still works.');
  expect(readToken(folder)).toEqual({ ok: true, token: made });
});
