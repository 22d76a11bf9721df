// Compiles src/ to dist/ from scratch, so that a file deleted in src/ can't linger in dist/. It compiles beside
// dist/ and then takes its place: a show that runs from this clone may start its engine anew at any moment.
import { execFileSync } from 'node:child_process';
import { chmodSync, existsSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { build } from 'rolldown';

const made = `dist.${process.pid}.new`;
const old = `dist.${process.pid}.old`;
const { resolve } = createRequire(import.meta.url);
/** The compiler in native code; the tools that read TypeScript as a library need the one before it. */
const tsc = resolve('typescript-7/package.json').replace('package.json', 'bin/tsc');

/** Of the `osc` package only its codec runs: it ships as one file, without what the package brings with it. */
const CODEC = 'osc/src/osc.js';
const LICENCES = {
  'osc (MIT)': join(dirname(resolve(CODEC)), '..', 'MIT-LICENSE.txt'),
  'long (Apache-2.0)': join(
    dirname(createRequire(resolve(CODEC)).resolve('long')),
    '..',
    'LICENSE',
  ),
};

async function bundleCodec(folder) {
  const output = { file: join(folder, 'codec.cjs'), format: 'cjs' };
  await build({ input: resolve(CODEC), platform: 'node', output, logLevel: 'warn' });
  const texts = Object.entries(LICENCES).map(
    ([name, file]) => `${name}\n\n${readFileSync(file, 'utf8')}`,
  );
  writeFileSync(join(folder, 'codec.LICENSE.txt'), texts.join('\n\n'));
  const user = join(folder, 'library.js');
  const code = readFileSync(user, 'utf8');
  const bundled = code.replace(`'${CODEC}'`, "'./codec.cjs'");
  if (bundled === code) throw new Error(`${user} does not load ${CODEC}`);
  writeFileSync(user, bundled);
}

try {
  const args = ['-p', 'tsconfig.build.json', '--outDir', made];
  execFileSync(process.execPath, [tsc, ...args], { stdio: 'inherit' });
  await bundleCodec(join(made, 'protocols', 'osc'));
  chmodSync(`${made}/main.js`, 0o755);
  if (existsSync('dist')) renameSync('dist', old);
  renameSync(made, 'dist');
} finally {
  rmSync(made, { recursive: true, force: true });
  rmSync(old, { recursive: true, force: true });
}
