import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, expect, test, vi } from 'vitest';
import { replay } from '../../src/commands/afterwards/replay.js';
import { rehearse } from '../../src/commands/checking/rehearse.js';
import { loadShow } from '../../src/commands/files/show-file.js';
import { parseShow } from '../../src/show/parse.js';

/** A show whose profiles are in files of their own. */
const SHOW = 'config/rehearsal-room.show.yaml';
const folder = mkdtempSync(join(tmpdir(), 'lampwright-profiles-'));

afterEach(() => {
  vi.restoreAllMocks();
});
afterAll(() => rmSync(folder, { recursive: true }));

test('the whole of it is one text, which says the same without the files', () => {
  const loaded = loadShow(SHOW);
  expect(loaded.text).toContain('file: profiles/');
  expect(loaded.whole).not.toContain('file: profiles/');
  expect(parseShow(loaded.whole, SHOW)).toEqual({ ok: true, show: loaded.ok && loaded.show });
});

test('a recording of it replays where its profile files are not', async () => {
  let out = '';
  vi.spyOn(process.stdout, 'write').mockImplementation(text => {
    out += String(text);
    return true;
  });
  vi.spyOn(process.stderr, 'write').mockImplementation(() => true);
  const scene = join(folder, 'short.scene.yaml');
  writeFileSync(
    scene,
    `lampwright: 1
scene: to the stove
length: 6
performers:
  ines: { path: [{ at: 0, place: door }, { at: 5, place: stove }] }
`,
  );
  const record = join(folder, 'records');
  expect(await rehearse({ positionals: [SHOW, scene], values: { record } })).toBe(0);
  const [recording] = readdirSync(record);
  out = '';
  const code = await replay({
    positionals: [join(record, recording ?? '')],
    values: { json: true },
  });
  expect([code, out]).toEqual([0, expect.stringContaining('"')]);
});
