import { execFileSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join, resolve } from 'node:path';
import type { Plugin } from 'vite';
import type { TestProject } from 'vitest/node';

/**
 * The unit tests run src/ compiled, loaded by Node itself: a module that the test runner loads asks for each function
 * of another module anew, and waits for the one process that translates for all. That is a third of the time.
 */
const ROOT = resolve(import.meta.dirname, '..');
const SOURCE = join(ROOT, 'src/');
/** As deep as src/ and dist/: some look for what lies beside these. */
const COMPILED = join(ROOT, 'dist.unit/');
/** Runs in a browser, and is tested by itself. */
const PAGE = join(SOURCE, 'panel/page/');

/** Only what has changed is written anew. Types are checked by `npm run types`. */
export default function setup(project: TestProject): void {
  compile();
  project.onTestsRerun(async () => compile());
}

function compile(): void {
  const { resolve } = createRequire(import.meta.url);
  const tsc = resolve('typescript-7/package.json').replace('package.json', 'bin/tsc');
  const fast = ['--noCheck', '--declaration', 'false', '--incremental'];
  const to = ['--outDir', COMPILED, '--tsBuildInfoFile', join(COMPILED, '.tsbuildinfo')];
  const args = [tsc, '-p', join(ROOT, 'tsconfig.build.json'), ...fast, ...to];
  execFileSync(process.execPath, args, { stdio: 'inherit' });
}

export const compiledSource: Plugin = {
  name: 'compiled-source',
  enforce: 'pre',
  resolveId(source, importer) {
    if (importer === undefined || !source.startsWith('.') || !source.endsWith('.js')) return;
    const path = resolve(dirname(importer), source);
    if (!path.startsWith(SOURCE) || path.startsWith(PAGE)) return;
    if (!existsSync(path.replace(/\.js$/, '.ts'))) return;
    return { id: join(COMPILED, path.slice(SOURCE.length)), external: true };
  },
};
