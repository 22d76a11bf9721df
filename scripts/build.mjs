// Compiles src/ to dist/ from scratch, so that a file deleted in src/ can't linger in dist/. It compiles beside
// dist/ and then takes its place: a show that runs from this clone may start its engine anew at any moment.
import { execFileSync } from 'node:child_process';
import { chmodSync, existsSync, renameSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';

const made = `dist.${process.pid}.new`;
const old = `dist.${process.pid}.old`;
const tsc = createRequire(import.meta.url).resolve('typescript/bin/tsc');
try {
  const args = ['-p', 'tsconfig.build.json', '--outDir', made];
  execFileSync(process.execPath, [tsc, ...args], { stdio: 'inherit' });
  chmodSync(`${made}/main.js`, 0o755);
  if (existsSync('dist')) renameSync('dist', old);
  renameSync(made, 'dist');
} finally {
  rmSync(made, { recursive: true, force: true });
  rmSync(old, { recursive: true, force: true });
}
