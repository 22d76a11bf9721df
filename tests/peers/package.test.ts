import { execFile } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, expect, it } from 'vitest';

const run = promisify(execFile);
/** Packing and installing write two thousand small files. */
const PACKED_WITHIN_MS = 180_000;

let folder: string;
let packed: readonly { readonly path: string; readonly mode: number }[];
/** The command as it is installed, in a folder where nothing else is, with no more of a PATH than Node. */
const lampwright = (...args: readonly string[]) =>
  run(join(folder, 'bin/lampwright'), args, {
    cwd: folder,
    env: { PATH: `${join(process.execPath, '..')}:/usr/bin:/bin` },
  });

// What `npm install --global` of a release does, on a machine without a network.
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-package-'));
  const { stdout } = await run('npm', [
    ...['pack', '--json', '--ignore-scripts', '--pack-destination', folder],
  ]);
  const [{ filename, files }] = JSON.parse(stdout);
  packed = files;
  await run('npm', [
    ...['install', '--global', '--offline', '--ignore-scripts', '--no-audit', '--no-fund'],
    ...['--prefix', folder, '--cache', join(folder, 'cache'), join(folder, filename)],
  ]);
}, PACKED_WITHIN_MS);
afterAll(() => rmSync(folder, { recursive: true }));

it('ships the bundles, what they do not have in them, and the licences of both', () => {
  const paths = packed.map(({ path }) => path);
  expect(
    paths.filter(path => path.startsWith('dist/') && !/^dist\/(bundle|man)\//.test(path)),
  ).toEqual(['dist/main.js']);
  // npm has linked the manual.
  const page = join(folder, 'share/man/man1/lampwright-run.1');
  expect(readFileSync(page, 'utf8')).toContain('lampwright run SHOW');
  for (const path of ['docs/reference/sbom.cdx.json', 'systemd/lampwright@.service', 'LICENSE']) {
    expect(paths).toContain(path);
  }
  const licences = readFileSync('dist/bundle/LICENSES.txt', 'utf8');
  for (const name of ['zod', 'yaml', 'osc', 'long', 'pino']) {
    expect(licences).toContain(`\n${name} `);
  }
  const { dependencies } = JSON.parse(readFileSync('package.json', 'utf8'));
  for (const name of Object.keys(dependencies)) {
    expect(paths).toContain(`node_modules/${name}/package.json`);
  }
  expect(dependencies).not.toHaveProperty('osc');
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
