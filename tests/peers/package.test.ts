import { execFile } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, expect, it } from 'vitest';

const run = promisify(execFile);
/** Somewhat above what it has: with the packages beside their bundles it would be 7 MB. */
const MOST_BYTES = 4e6;
/** Packing and installing write hundreds of small files. */
const PACKED_WITHIN_MS = 180_000;

let folder: string;
let packed: readonly string[];
let packedBytes: number;
/** The command as it is installed, in a folder where nothing else is, with no more of a PATH than Node. */
const lampwright = (...args: readonly string[]) =>
  run(join(folder, 'bin/lampwright'), args, {
    cwd: folder,
    env: { PATH: `${join(process.execPath, '..')}:/usr/bin:/bin` },
  });

// What `npm install --global` of a release does, on a machine without a network.
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-package-'));
  const { stdout: made } = await run(process.execPath, [
    ...['scripts/package-npm.mjs', '--out', folder],
  ]);
  const file = made.trim();
  packedBytes = statSync(file).size;
  const { stdout: listed } = await run('tar', ['-tzf', file]);
  packed = listed
    .trim()
    .split('\n')
    .map(path => path.replace(/^package\//, ''));
  await run('npm', [
    ...['install', '--global', '--offline', '--ignore-scripts', '--no-audit', '--no-fund'],
    ...['--prefix', folder, '--cache', join(folder, 'cache'), file],
  ]);
}, PACKED_WITHIN_MS);
afterAll(() => rmSync(folder, { recursive: true }));

it('ships the bundles with the licences of what is in them, and nothing twice', () => {
  expect(
    packed.filter(path => path.startsWith('dist/') && !/^dist\/(bundle|man)\//.test(path)),
  ).toEqual(['dist/main.js']);
  // npm has linked the manual.
  const page = join(folder, 'share/man/man1/lampwright-run.1');
  expect(readFileSync(page, 'utf8')).toContain('lampwright run SHOW');
  for (const path of ['docs/reference/sbom.cdx.json', 'systemd/lampwright@.service', 'LICENSE']) {
    expect(packed).toContain(path);
  }
  const licences = readFileSync('dist/bundle/LICENSES.txt', 'utf8');
  for (const name of ['zod', 'yaml', 'osc', 'long', 'pino']) {
    expect(licences).toContain(`\n${name} `);
  }
  const { dependencies } = JSON.parse(readFileSync('package.json', 'utf8'));
  for (const name of Object.keys(dependencies)) expect(licences).toContain(`${name} `);
  expect(packed.filter(path => path.includes('node_modules'))).toEqual([]);
  const shipped = JSON.parse(
    readFileSync(join(folder, 'lib/node_modules/lampwright/package.json'), 'utf8'),
  );
  expect(Object.keys(shipped).filter(key => /dependencies$/i.test(key))).toEqual([]);
  expect(packedBytes).toBeLessThan(MOST_BYTES);
});

it('runs once installed: checks a show, and takes positions through the engine to light', async () => {
  const own = join(folder, 'lib/node_modules/lampwright/config');
  const { stdout: checked } = await lampwright('check', join(own, 'salt-lantern.show.yaml'));
  expect(checked).toMatch(/^ok {2}The Salt Lantern/);
  // Reports reach the engine as OSC datagrams there: encoded, decoded, and turned into light.
  const { stdout: rehearsed } = await lampwright(
    ...['rehearse', join(own, 'salt-lantern.show.yaml'), join(own, 'scenes/lantern.scene.yaml')],
    '--json',
  );
  expect(JSON.parse(rehearsed).lights).toContainEqual(
    expect.objectContaining({ fixture: 'stove', highest: 85 }),
  );
});

it('runs the demo once installed: both processes, until the light follows', async () => {
  const { stdout } = await lampwright('demo', '--seconds', '6', '--plain');
  expect(stdout).toContain('the light follows');
});
