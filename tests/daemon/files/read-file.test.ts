import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, symlinkSync, truncateSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import {
  inPlainWords,
  plainAndRaw,
  readBytes,
  readText,
} from '../../../src/daemon/files/read-file.js';

const folder = mkdtempSync(join(tmpdir(), 'lampwright-read-'));
const at = (name: string) => join(folder, name);
const server = createServer();

beforeAll(async () => {
  execFileSync('mkfifo', [at('pipe')]);
  symlinkSync('/dev/zero', at('endless'));
  symlinkSync('round', at('round'));
  await new Promise<void>(resolve => server.listen(at('socket'), resolve));
});
afterAll(() => {
  server.close();
  rmSync(folder, { recursive: true });
});

// None of these may wait: a pipe has no writer, and /dev/zero no end.
test.each([
  ['pipe', 'that is a pipe (FIFO), not a file'],
  ['endless', 'that is a device, not a file'],
  ['socket', 'that is a socket, not a file'],
  ['.', 'that is a folder'],
  ['none', 'there is no such file'],
  ['pipe/x', 'a part of its path is not a folder'],
  ['round', 'its symbolic links form a loop'],
  ['x'.repeat(300), 'its name is too long'],
])('%s is refused at once', (name, fault) => {
  expect(readBytes(at(name), 1000)).toEqual({ ok: false, fault });
});

test('a file is read up to the size that was allowed, and one more byte is too much', () => {
  writeFileSync(at('small'), 'abcd');
  expect(readBytes(at('small'), 4)).toEqual({ ok: true, bytes: Buffer.from('abcd') });
  expect(readBytes(at('small'), 3)).toEqual({
    ok: false,
    fault: 'it has 4 bytes, and at most 3 bytes are read',
  });
  // Sparse: it takes no room on the disk, and would take all memory.
  writeFileSync(at('huge'), '');
  truncateSync(at('huge'), 2 ** 40);
  expect(readBytes(at('huge'), 4 * 2 ** 20)).toEqual({
    ok: false,
    fault: 'it has 1024 GiB, and at most 4 MiB are read',
  });
});

test.each([
  ['Latin-1', Buffer.from('a: 1\nname: M\xf6we\n', 'latin1'), 0xf6, 12, 2],
  ['half of a sign at the end', Buffer.from([0x61, 0xe2, 0x82]), 0xe2, 1, 1],
  ['a sign written too long', Buffer.from([0x0a, 0xc0, 0xaf]), 0xc0, 1, 2],
  ['half of a pair', Buffer.from([0xed, 0xa0, 0x80]), 0xed, 0, 1],
  ['one that begins as the replacement does', Buffer.from([0x61, 0xef, 0xbf, 0x41]), 0xef, 1, 1],
])('text that is not UTF-8 is refused with the place: %s', (_, bytes, byte, offset, line) => {
  writeFileSync(at('text'), bytes);
  const hex = byte.toString(16).toUpperCase();
  expect(readText(at('text'), 1000)).toMatchObject({
    ok: false,
    fault: `it is not UTF-8 text: byte 0x${hex} at offset ${offset}, in line ${line}; save it as UTF-8`,
  });
});

test('UTF-16 is called by its name', () => {
  writeFileSync(at('text'), Buffer.from('\ufefflampwright: 1', 'utf16le'));
  expect(readText(at('text'), 1000)).toMatchObject({
    fault: 'it is UTF-16 text; save it as UTF-8',
  });
});

test('faults of writing are said as such', () => {
  const error = (code: string) => Object.assign(new Error(code), { code });
  expect(inPlainWords(error('ENOENT'), 'written')).toBe('there is no such folder');
  expect(inPlainWords(error('EACCES'), 'written')).toBe('this user may not write there');
  expect(inPlainWords(error('ENOSPC'), 'written')).toBe('the disk is full');
  expect(inPlainWords(new Error('what else'), 'read')).toBe('what else');
});

test('plain words stand before what the system says, and alone where they are the same', () => {
  const full = Object.assign(new Error('ENOSPC: no space left on device, write'), {
    code: 'ENOSPC',
  });
  expect(plainAndRaw(full, 'written')).toBe(
    'the disk is full (ENOSPC: no space left on device, write)',
  );
  expect(plainAndRaw(new Error('odd'), 'read')).toBe('odd');
});
