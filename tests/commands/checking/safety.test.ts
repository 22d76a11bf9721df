import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { main } from '../../../src/commands/cli.js';
import { MINIMAL } from '../../show/base.js';
import { captured } from '../captured.js';

let folder: string;
const said = captured();
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-safety-'));
});
afterEach(() => rmSync(folder, { recursive: true }));

test('a label that is as long as its column stands apart from what comes after it', async () => {
  const file = join(folder, 'a.show.yaml');
  const long = 'A lamp of a name that fills more than the widest column';
  writeFileSync(
    file,
    `${MINIMAL.replace('glow: {', `glow: { label: ${long},`)}cues:
  ebb: { label: Act I, mappings: [] }
  tide: { label: Act II - Spring tide, mappings: [], fade: 4 }
`,
  );
  expect(await main(['safety', file])).toBe(0);
  expect(said.out).toMatch(/^ {2}Act II - Spring tide {2}in 4 s;/m);
  expect(said.out).toMatch(/^ {2}Act I {17}\S/m);
  expect(said.out).toContain(`  ${long}  1/1`);
});
