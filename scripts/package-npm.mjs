// npm run package:npm: the package for npm, with nothing in it twice. All packages that it needs are in its bundles (docs/decisions/0030-bundles.md), so that the
// package.json that ships names none: `npm pack` here would put them beside the bundles once more. docs/guides/install-as-a-service.md says how it is used.
import { execFileSync } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { readOptions } from './options.mjs';

const USAGE = `
node scripts/package-npm.mjs [--out FOLDER]

Makes lampwright-VERSION.tgz of what is in dist/: build first. Prints its file.

  --out FOLDER  where it goes (.)
  --help        this
`;
const { values } = readOptions(USAGE, { out: { type: 'string', default: '.' } });
/** What only a clone needs: it builds and tests, and audits see the packages. */
const OF_A_CLONE = ['scripts', 'dependencies', 'bundleDependencies', 'devDependencies'];

const own = JSON.parse(readFileSync('package.json', 'utf8'));
const shipped = Object.fromEntries(
  Object.entries(own).filter(([key]) => !OF_A_CLONE.includes(key)),
);
const out = resolve(values.out);
const folder = mkdtempSync(join(tmpdir(), 'lampwright-npm-'));
try {
  for (const path of [...own.files, 'README.md', 'LICENSE', 'CHANGELOG.md']) {
    cpSync(path, join(folder, path), { recursive: true });
  }
  writeFileSync(join(folder, 'package.json'), `${JSON.stringify(shipped, undefined, 2)}\n`);
  mkdirSync(out, { recursive: true });
  console.error('npm: packing ...');
  const pack = ['pack', '--json', '--ignore-scripts', '--pack-destination', out];
  const said = execFileSync('npm', pack, { cwd: folder, encoding: 'utf8' });
  console.log(join(out, JSON.parse(said)[0].filename));
} finally {
  rmSync(folder, { recursive: true, force: true });
}
