import { mkdtempSync, readFileSync, rmSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test, vi } from 'vitest';
import { report } from '../../src/commands/afterwards/report.js';
import { encodeJson } from '../../src/recording/encode.js';
import { HEAD_BYTES, MAGIC } from '../../src/recording/layout.js';
import { recordSession, START_S } from '../recording/sessions.js';

const folder = mkdtempSync(join(tmpdir(), 'lampwright-killed-'));
afterAll(() => rmSync(folder, { recursive: true }));

const SHOW = readFileSync('config/salt-lantern.show.yaml', 'utf8');
const RECORDS = recordSession(SHOW, 8);
const START = JSON.parse((RECORDS[0] as Buffer).toString('utf8', HEAD_BYTES));
const told = (sinceS: number, event: object) =>
  encodeJson('supervisor', { atS: START_S + sinceS, event });
const FADES = [
  told(4, {
    kind: 'lights',
    from: 'live',
    to: 'losing',
    cause: 'the engine is late: no frame on time for 0.29 s',
    condition: 'engine-late',
  }),
  told(6, { kind: 'lights', from: 'rearming', to: 'returning', cause: 'the engine is well' }),
];

async function reported(supervisor: readonly Buffer[], engine = RECORDS) {
  let out = '';
  const write = vi.spyOn(process.stdout, 'write').mockImplementation(text => {
    out += String(text);
    return true;
  });
  const start = encodeJson('start', { ...START, by: 'supervisor' });
  const file = join(folder, 'supervisor-0001.lwrec');
  writeFileSync(join(folder, 'engine-0001.lwrec'), Buffer.concat([MAGIC, ...engine]));
  writeFileSync(file, Buffer.concat([MAGIC, start, ...supervisor]));
  // Of the evening before: nobody writes to it any more.
  utimesSync(file, 1_764_000_000, 1_764_000_000);
  try {
    expect(await report({ positionals: [folder], values: { json: true } })).toBe(0);
  } finally {
    write.mockRestore();
  }
  return JSON.parse(out);
}

test('a recording without an end says so first, and a fade of all light is a loss of everybody', async () => {
  const { notes, recommendations, losses } = await reported(FADES);
  expect(notes[0]).toMatch(
    /^The daemon was gone from \d\d:\d\d:\d\d, and did not end cleanly: gateways held/,
  );
  expect(recommendations[0].what).toMatch(/^The daemon was gone from/);
  expect(recommendations[1].what).toMatch(
    /^The engine was late once; all light went to the safe look/,
  );
  expect(losses.length).toBeGreaterThan(1);
  for (const { cause, forS } of losses) {
    expect(cause).toBe('engine-late');
    expect(forS).toBeCloseTo(2, 0);
  }
});

test('of a pair, the standby may have had the light then', async () => {
  const paired = SHOW.replace(/^operator:.*$/m, line => `${line}\n  standby: 127.0.0.9`);
  const { notes } = await reported(FADES, recordSession(paired, 8));
  expect(notes[0]).toContain('the standby took the light if it ran');
});

test('how long positions took to the light is added up from the records within the time; an old recording has none', async () => {
  const took = (sinceS: number, whole: readonly (readonly [number, number])[]) =>
    encodeJson('delays', { atS: START_S + sinceS, delays: { whole } });
  const { positionToLight } = await reported([
    took(3, [[20, 3]]),
    took(5, [
      [20, 1],
      [30, 4],
    ]),
  ]);
  expect(positionToLight).toMatchObject([
    { part: 'whole', count: 8, p50S: 0.02, p95S: 0.03, p99S: 0.03 },
  ]);
  expect((await reported(FADES)).positionToLight).toEqual([]);
});

test('one with its end says nothing of the kind', async () => {
  const { notes, recommendations } = await reported([
    ...FADES,
    told(7.9, { kind: 'stopping' }),
    told(7.95, { kind: 'stopped' }),
  ]);
  expect(
    [...notes, ...recommendations.map(({ what }: { what: string }) => what)].join(),
  ).not.toContain('gone');
});
