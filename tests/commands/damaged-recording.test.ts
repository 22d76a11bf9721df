import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeEach, expect, test } from 'vitest';
import { replay } from '../../src/commands/afterwards/replay.js';
import { report } from '../../src/commands/afterwards/report.js';
import { encodeJson } from '../../src/recording/encode.js';
import { HEAD_BYTES, MAGIC } from '../../src/recording/layout.js';
import { recordSession } from '../recording/sessions.js';
import { captured } from './captured.js';

const folder = mkdtempSync(join(tmpdir(), 'lampwright-damaged-'));
const RECORDS = recordSession(readFileSync('config/salt-lantern.show.yaml', 'utf8'), 3);
const HALF = RECORDS.length / 2 - ((RECORDS.length / 2) % 1);
const START = JSON.parse((RECORDS[0] as Buffer).toString('utf8', HEAD_BYTES));
const REASON = 'the first record, which says what was recorded, is damaged';
const said = captured();
let name = '';

beforeEach(context => {
  name = join(folder, context.task.id);
  mkdirSync(name);
});
afterAll(() => rmSync(folder, { recursive: true }));

/** Writes a part, and damages a byte of its first record. */
function part(file: string, records: readonly Buffer[], damaged: boolean): void {
  const bytes = Buffer.concat([MAGIC, ...records]);
  if (damaged) bytes[MAGIC.length + 40] = (bytes[MAGIC.length + 40] ?? 0) ^ 1;
  writeFileSync(join(name, file), bytes);
}

async function replayed() {
  const code = await replay({ positionals: [name], values: { json: true } });
  return { code, ...JSON.parse(said.out) };
}

test('is read from the next whole record on, with the show of the supervisor', async () => {
  part('engine-0001.lwrec', RECORDS, true);
  part('supervisor-0001.lwrec', [encodeJson('start', { ...START, by: 'supervisor' })], false);
  const { code, runs, cut } = await replayed();
  expect(code).toBe(0);
  expect(cut).toMatchObject([{ fault: expect.stringContaining(REASON) }]);
  // As good as new: what was lost says nothing that another part doesn't.
  expect(runs).toMatchObject([{ ticks: 120, compared: 120, differing: 0, whole: true }]);
  said.out = '';
  expect(await report({ positionals: [name], values: { json: true } })).toBe(0);
  expect(JSON.parse(said.out).notes).toContainEqual(expect.stringContaining(REASON));
});

test('goes on with the run of the part before it', async () => {
  part('engine-0001.lwrec', RECORDS.slice(0, HALF), false);
  part(
    'engine-0002.lwrec',
    [encodeJson('start', { ...START, part: 2 }), ...RECORDS.slice(HALF)],
    true,
  );
  const { runs, cut } = await replayed();
  expect(cut).toHaveLength(1);
  expect(runs).toMatchObject([{ ticks: 120, whole: true }]);
});

test('says so where no part knows the show', async () => {
  part('engine-0001.lwrec', RECORDS, true);
  for (const command of [replay, report]) {
    said.err = '';
    expect(await command({ positionals: [name], values: {} })).toBe(2);
    expect(said.err).toContain(REASON);
    expect(said.err).toContain('no other part of this recording says what the show was');
  }
});

test('says from when to when records are missing, and counts nothing of it', async () => {
  const [from, to] = [Math.floor(RECORDS.length / 2), Math.floor((RECORDS.length * 5) / 6)];
  part('engine-0001.lwrec', [...RECORDS.slice(0, from), ...RECORDS.slice(to)], false);
  said.out = '';
  expect(await report({ positionals: [name], values: { json: true } })).toBe(0);
  const { notes, losses } = JSON.parse(said.out);
  expect(notes).toContainEqual(
    expect.stringMatching(
      /^Records are missing from \d\d:\d\d:\d\d to \d\d:\d\d:\d\d: what happened/,
    ),
  );
  expect(losses).toEqual([]);
});

test('says of a run that differs that records are missing, before anything else', async () => {
  const [from, to] = [Math.floor(RECORDS.length / 2), Math.floor((RECORDS.length * 5) / 6)];
  part('engine-0001.lwrec', [...RECORDS.slice(0, from), ...RECORDS.slice(to)], false);
  said.out = '';
  expect(await replay({ positionals: [name], values: {} })).toBe(0);
  expect(said.out).toMatch(
    /\d {2}records are missing in 1 place, so frames may differ: .*differs from tick|byte for byte.*; records are missing in 1 place/,
  );
});

test('of which the disk took no more says from when on it has nothing, and blames nobody', async () => {
  part('engine-0001.lwrec', RECORDS.slice(0, HALF), false);
  part('supervisor-0001.lwrec', [encodeJson('start', { ...START, by: 'supervisor' })], false);
  // A part that holds nothing, and one of which the disk took a page.
  writeFileSync(join(name, 'engine-0002.lwrec'), '');
  writeFileSync(
    join(name, 'engine-0003.lwrec'),
    Buffer.concat([MAGIC, RECORDS[0] as Buffer]).subarray(0, 600),
  );
  expect(await report({ positionals: [name], values: {} })).toBe(0);
  expect(said.out).toMatch(/note: Nothing was recorded after \d\d:\d\d:\d\d: the disk was full/);
  expect(said.out).toMatch(/1\. Nothing was recorded after \d\d:\d\d:\d\d/);
  expect(said.out).not.toMatch(/NaN|daemon was gone|time after the show|not a recording/);
  said.out = '';
  await replay({ positionals: [name], values: {} });
  expect(said.out).toContain('nothing more was recorded: the disk was full');
  expect(said.out).toMatch(/2 parts from .*engine-0002.lwrec on are empty/);
  expect(said.out).not.toMatch(/crashed|not a recording/);
});

test('that went on when there was room again has a gap, and no end', async () => {
  part('engine-0001.lwrec', RECORDS.slice(0, HALF), false);
  writeFileSync(join(name, 'engine-0002.lwrec'), '');
  part(
    'engine-0003.lwrec',
    [encodeJson('start', { ...START, part: 3 }), ...RECORDS.slice(HALF)],
    false,
  );
  expect(await report({ positionals: [name], values: {} })).toBe(0);
  expect(said.out).not.toMatch(/NaN|Nothing was recorded/);
});
