import { execFile } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join, resolve } from 'node:path';
import { promisify } from 'node:util';
import { expect, it } from 'vitest';

const run = promisify(execFile);

it('what the package ships runs with its production packages alone', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-package-'));
  try {
    const { stdout: listed } = await run('npm', [
      'pack',
      '--dry-run',
      '--json',
      '--ignore-scripts',
    ]);
    const [packed] = JSON.parse(listed) as [{ files: readonly { path: string }[] }];
    for (const { path } of packed.files) {
      mkdirSync(dirname(join(folder, path)), { recursive: true });
      cpSync(path, join(folder, path));
    }
    const { dependencies } = JSON.parse(readFileSync('package.json', 'utf8')) as {
      dependencies: Record<string, string>;
    };
    mkdirSync(join(folder, 'node_modules'));
    for (const name of Object.keys(dependencies).filter(one => one.startsWith('pino'))) {
      symlinkSync(resolve('node_modules', name), join(folder, 'node_modules', name));
    }
    expect(dependencies).not.toHaveProperty('osc');
    const paths = packed.files.map(({ path }) => path);
    expect(paths).toContain('dist/bundle/LICENSES.txt');
    expect(
      paths.filter(path => path.startsWith('dist/') && !path.startsWith('dist/bundle/')),
    ).toEqual(['dist/main.js']);
    // What is in the bundles need not be there; pino loads files of its own by name.
    const licences = readFileSync('dist/bundle/LICENSES.txt', 'utf8');
    for (const name of ['zod', 'yaml', 'osc', 'long']) expect(licences).toContain(`\n${name} `);
    // Reports reach the engine as OSC datagrams there: encoded, decoded, and turned into light.
    const { stdout } = await run(process.execPath, [
      join(folder, 'dist/main.js'),
      ...[
        'rehearse',
        'config/salt-lantern.show.yaml',
        'config/scenes/lantern.scene.yaml',
        '--json',
      ],
    ]);
    expect(JSON.parse(stdout).lights).toContainEqual(
      expect.objectContaining({ fixture: 'stove', highest: 85 }),
    );
  } finally {
    rmSync(folder, { recursive: true });
  }
});
