// The tests of a part as one file each, with all changes of its code in them, to be switched on one at a time.
import { readFileSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { Instrumenter } from '@stryker-mutator/instrumenter';
import { build } from 'rolldown';

const VITEST = join(dirname(fileURLToPath(import.meta.url)), 'vitest.mjs');
/** Bundled too: Node doesn't know the names that a CommonJS package exports. */
const INSIDE = ['vitest', 'kalman-filter'];
const silent = { debug: () => undefined, info: () => undefined, isDebugEnabled: () => false };

/** The compiler holds that these are never reached. */
const neverReached = {
  shouldIgnore: path =>
    path.isSwitchCase() && path.node.test === null && path.toString().includes('unreachable(')
      ? 'never reached'
      : undefined,
};

/** @returns code with switches by file, and the mutants */
export async function instrumented(files) {
  const named = files.map(file => ({
    name: resolve(file),
    mutate: true,
    content: readFileSync(file, 'utf8'),
  }));
  const options = { plugins: null, excludedMutations: [], ignorers: [neverReached] };
  const { files: out, mutants } = await new Instrumenter(silent).instrument(named, options);
  return { codes: new Map(out.map(({ name, content }) => [name, content])), mutants };
}

const ACTIVE = /stryMutAct_9fa48\("(\d+)"\)/g;
const COVERED = /stryCov_9fa48\(([^)]*)\)/g;

/** Takes out the switches of all other mutants: with all in it, the code takes many times as long. */
export function keepMutants(codes, ids) {
  for (const [file, code] of codes) {
    const kept = [...code.matchAll(ACTIVE)].filter(([, id]) => ids.has(id));
    if (kept.length === 0) {
      codes.delete(file);
      continue;
    }
    const less = code
      .replace(ACTIVE, (call, id) => (ids.has(id) ? call : 'false'))
      .replace(COVERED, (call, list) => {
        if (!list.includes('"')) return call;
        const mine = list.split(', ').filter(id => ids.has(id.slice(1, -1)));
        return mine.length === 0 ? '0' : `stryCov_9fa48(${mine.join(', ')})`;
      });
    codes.set(file, less);
  }
}

/** @param codes by path, in place of what the files have */
export async function bundle(test, codes, out) {
  await build({
    input: resolve(test),
    platform: 'node',
    logLevel: 'silent',
    external: id => !INSIDE.includes(id) && !id.startsWith('.') && !id.startsWith('/'),
    resolve: { extensionAlias: { '.js': ['.ts', '.js'] } },
    plugins: [
      {
        name: 'mutants',
        resolveId: id => (id === 'vitest' ? { id: VITEST, external: true } : undefined),
        load(id) {
          const code = codes.get(id);
          return code === undefined ? undefined : { code, moduleType: 'ts' };
        },
        transform: {
          filter: { code: 'import.meta.url' },
          handler: (code, id) =>
            code.replaceAll('import.meta.url', JSON.stringify(pathToFileURL(id).href)),
        },
      },
    ],
    output: { file: out, format: 'esm', codeSplitting: false },
  });
}

const COUNTER = /(function stryCov_9fa48\S*\(\) \{)/g;

/** Counts which mutants are come by, in `mutantsMet`: a hundred times as quick as Stryker's own way. */
export function withCounts(code) {
  const count =
    'for (let i = 0; i < arguments.length; i++) globalThis.mutantsMet[arguments[i]]++; return;';
  return code
    .replace(/stryCov_9fa48(\$\d+)?\(("\d+"(, "\d+")*)\)/g, call => call.replaceAll('"', ''))
    .replace(COUNTER, `$1 ${count}`);
}

/** What each test comes by is known: from then on the calls that count it only take time. */
export function withoutCounts(code) {
  return code.replace(COUNTER, '$1 return;');
}
