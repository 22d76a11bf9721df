import { mkdtempSync, readFileSync, rmSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { type ExplainFile, openExplainFile } from '../../../src/commands/files/explain-file.js';
import type { EngineView } from '../../../src/engine/view.js';
import { readPart } from '../../../src/recording/decode.js';

const folder = mkdtempSync(join(tmpdir(), 'lampwright-explain-file-'));
afterAll(() => rmSync(folder, { recursive: true }));

/** More than is held back, so that several writes are needed. */
const REPORTS = 2000;
const OFFSET_S = 1_768_262_400;

/** A view of one performer, whose tracker has told of so many reports. */
function told(file: ExplainFile): void {
  let tell: Parameters<EngineView['onReport']>[0] = () => undefined;
  const lastReport = { innovationM: 0.25, varianceM2: 0.5, nis: 0.125, association: 1 };
  const regimes = { still: 0.75, walk: 0.25 };
  const view = {
    performers: [{ name: 'ines', lastReport, regimes }],
    onReport: (listener: typeof tell) => {
      tell = listener;
    },
  };
  file.begin({ view: view as unknown as EngineView });
  file.intake({ unixOffsetS: OFFSET_S });
  for (let i = 0; i < REPORTS; i++) {
    const report = { arrivalS: i, timeS: i - 0.5, x: 1, y: 2, z: 3, quality: 1 };
    tell(0, 'no. 7, "red"', report as never, 'accepted' as never);
  }
}

function written(name: string): Buffer {
  const path = join(folder, name);
  const opened = openExplainFile(path);
  if (!opened.ok || opened.file === undefined) throw new Error(`not opened: ${name}`);
  told(opened.file);
  expect(opened.file.close()).toBeUndefined();
  return readFileSync(path);
}

test('as CSV: one head, then a line for each report, quoted as RFC 4180 has it', () => {
  const lines = written('reports.csv').toString().split('\n');
  expect(lines).toHaveLength(REPORTS + 2);
  expect(lines.filter(line => line.startsWith('unixS,'))).toEqual([
    'unixS,arrivalS,timeS,performer,tracker,x,y,z,quality,verdict,innovationM,varianceM2,nis,association,regime still,regime walk',
  ]);
  expect(lines[2]).toBe(
    `${OFFSET_S + 1},1,0.5,ines,"no. 7, ""red""",1,2,3,1,accepted,0.25,0.5,0.125,1,0.75,0.25`,
  );
  expect(lines.at(-1)).toBe('');
});

test('as lines of JSON, and as records, all that came and in its order', () => {
  const lines = written('reports.jsonl').toString().trimEnd().split('\n');
  const all = lines.map(line => JSON.parse(line) as { arrivalS: number; unixS: number });
  expect(all.map(({ arrivalS }) => arrivalS)).toEqual(Array.from({ length: REPORTS }, (_, i) => i));
  expect(all.every(({ arrivalS, unixS }) => unixS === arrivalS + OFFSET_S)).toBe(true);
  expect(all[0]).toMatchObject({ performer: 'ines', regimes: { still: 0.75, walk: 0.25 } });
  const records = [...readPart(written('reports.lwrec'))];
  expect(records.map(({ type }) => type)).toEqual(all.map(() => 'explain'));
  expect(records.map(one => 'value' in one && one.value)).toEqual(all);
});

test('what it is comes by the name; what is none, or cannot be written, is refused', () => {
  expect(openExplainFile(undefined)).toEqual({ ok: true, file: undefined });
  expect(openExplainFile('reports.txt')).toMatchObject({
    ok: false,
    fault: expect.stringMatching(
      /^the name after --explain ends in \.csv, \.jsonl or \.\w+, .*"reports\.txt"\.$/,
    ),
  });
  const missing = join(folder, 'none', 'reports.csv');
  expect(openExplainFile(missing)).toMatchObject({
    ok: false,
    fault: expect.stringContaining(`can't write ${missing}: `),
  });
});

test('a disk that is full is told of at the end', () => {
  const path = join(folder, 'full.csv');
  // Linux: full(4).
  symlinkSync('/dev/full', path);
  const opened = openExplainFile(path);
  if (!opened.ok || opened.file === undefined) throw new Error('not opened');
  told(opened.file);
  expect(opened.file.close()).toMatch(/^the explanations could not be written: .*ENOSPC/);
});
