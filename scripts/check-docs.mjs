// The generated pages must be those that the schema gives today.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const fresh = mkdtempSync(join(tmpdir(), 'lampwright-docs-'));
execFileSync(process.execPath, ['dist/main.js', 'reference', '--write', fresh]);
const stale = readdirSync(fresh).filter(
  name =>
    readFileSync(join(fresh, name), 'utf8') !== readFileSync(join('docs/reference', name), 'utf8'),
);
rmSync(fresh, { recursive: true });
for (const name of stale) console.error(`docs/reference/${name} is stale: npm run docs:generate`);
process.exitCode = stale.length > 0 ? 1 : 0;
