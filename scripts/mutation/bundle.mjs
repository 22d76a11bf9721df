// The tests of a part as one file each, with all changes of its code in them, to be switched on one at a time.
import { readFileSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { Instrumenter } from '@stryker-mutator/instrumenter';
import { build } from 'rolldown';

const VITEST = join(dirname(fileURLToPath(import.meta.url)), 'vitest.mjs');
const silent = { debug: () => undefined, info: () => undefined, isDebugEnabled: () => false };

/** @returns code with switches by file, and the mutants */
export async function instrumented(files) {
  const named = files.map(file => ({
    name: resolve(file),
    mutate: true,
    content: readFileSync(file, 'utf8'),
  }));
  const options = { plugins: null, excludedMutations: [], ignorers: [] };
  const { files: out, mutants } = await new Instrumenter(silent).instrument(named, options);
  return { codes: new Map(out.map(({ name, content }) => [name, content])), mutants };
}

/** @param codes by path, in place of what the files have */
export async function bundle(test, codes, out) {
  await build({
    input: resolve(test),
    platform: 'node',
    logLevel: 'silent',
    external: id => id !== 'vitest' && !id.startsWith('.') && !id.startsWith('/'),
    resolve: { extensionAlias: { '.js': ['.ts', '.js'] } },
    plugins: [
      {
        name: 'mutants',
        resolveId: id => (id === 'vitest' ? { id: VITEST, external: true } : undefined),
        load(id) {
          const code = codes.get(id);
          return code === undefined ? undefined : { code, moduleType: 'ts' };
        },
        transform: (code, id) =>
          code.replaceAll('import.meta.url', JSON.stringify(pathToFileURL(id).href)),
      },
    ],
    output: { file: out, format: 'esm', codeSplitting: false },
  });
}
