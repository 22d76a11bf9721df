// Compiles src/ to dist/ from scratch, so that a file deleted in src/ can't linger in dist/. It compiles beside
// dist/ and then takes its place: a show that runs from this clone may start its engine anew at any moment.
// What ships is dist/main.js, dist/man/ and dist/bundle/: all that a process needs in a few files, as a start from some three
// hundred takes three times as long (docs/decisions/0030-bundles.md). The modules beside them are for benchmarks,
// campaign and tests.
import { execFileSync } from 'node:child_process';
import {
  chmodSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { build } from 'rolldown';
import { build as buildPage } from 'vite';

// What `npm ci` runs in a clone `npx` runs anew, at its first use there: nothing is to be built that stands already.
if (process.argv.includes('--unless-built') && isBuilt()) process.exit(0);

const made = `dist.${process.pid}.new`;
const old = `dist.${process.pid}.old`;
const { resolve } = createRequire(import.meta.url);
/** The compiler in native code; the tools that read TypeScript as a library need the one before it. */
const tsc = resolve('typescript-7/package.json').replace('package.json', 'bin/tsc');

/** Of the `osc` package only its codec runs: it ships as one file, without what the package brings with it. */
const CODEC = 'osc/src/osc.js';

/** @returns the packages in it */
async function bundleCodec(folder) {
  const output = { file: join(folder, 'codec.cjs'), format: 'cjs' };
  const { output: made } = await build({
    input: resolve(CODEC),
    platform: 'node',
    output,
    logLevel: 'warn',
  });
  return packagesOf(made);
}

/** Of a module that loads the codec as a package. */
function withCodec(code) {
  return code.replace(`'${CODEC}'`, "'./codec.cjs'");
}

const FROM_SOURCE = {
  platform: 'node',
  logLevel: 'warn',
  external: [/^node:/],
  resolve: { extensionAlias: { '.js': ['.ts', '.js'] } },
  plugins: [{ name: 'codec', transform: withCodec }],
};

/** The two that light waits for, each in one file as CommonJS: V8's code of such a file can be kept (src/commands/compiled-code.ts). */
const OF_LIGHT = {
  engine: 'src/commands/engine.ts',
  run: 'src/commands/running/run-process.ts',
};

async function bundleLight(folder) {
  const made = [];
  for (const [name, input] of Object.entries(OF_LIGHT)) {
    const output = {
      file: join(folder, `${name}.cjs`),
      format: 'cjs',
      codeSplitting: false,
      // As modules are.
      banner: "'use strict';",
    };
    made.push(...(await build({ ...FROM_SOURCE, input, output })).output);
  }
  return packagesOf(made);
}

async function bundle(folder) {
  const { output } = await build({
    ...FROM_SOURCE,
    input: {
      main: 'src/main.ts',
      'show-process': 'src/commands/running/show-process.ts',
      'show-reader': 'src/commands/running/show-reader.ts',
    },
    output: {
      dir: folder,
      format: 'esm',
      entryFileNames: ({ name }) => (name === 'main' ? 'main.js' : 'bundle/[name].js'),
      // The same names each time: a show that runs may load one after the next build.
      chunkFileNames: 'bundle/[name].js',
    },
  });
  const packages = [
    ...packagesOf(output),
    ...(await bundleLight(join(folder, 'bundle'))),
    ...(await bundleCodec(join(folder, 'bundle'))),
    ...(await bundlePage(join(folder, 'bundle', 'panel'))),
  ];
  const licences = [...new Set(packages)].sort().map(licenceOf);
  writeFileSync(join(folder, 'bundle', 'LICENSES.txt'), licences.join('\n\n'));
}

/** On a loaded machine each step takes a while. */
function tell(step) {
  console.error(`build: ${step}`);
}

/** Whether all that it is made of is older. */
function isBuilt() {
  if (!existsSync('dist/main.js')) return false;
  const sources = readdirSync('src', { recursive: true }).map(name => join('src', name));
  const all = [
    'package.json',
    'package-lock.json',
    'tsconfig.build.json',
    'tsconfig.json',
    'scripts/build.mjs',
    ...sources,
  ];
  const builtMs = statSync('dist/main.js').mtimeMs;
  return all.every(file => statSync(file).mtimeMs < builtMs);
}

/** The page of the panel. @returns the packages in it */
async function bundlePage(folder) {
  const { output } = await buildPage({
    root: 'src/panel/page',
    configFile: false,
    logLevel: 'warn',
    build: {
      outDir: join(process.cwd(), folder),
      emptyOutDir: true,
      // Everything under the page's own policy: nothing inline.
      assetsInlineLimit: 0,
      modulePreload: { polyfill: false },
    },
  });
  return packagesOf(output);
}

/** From the help texts; npm links the ones that package.json names, and no folder of them. */
async function manuals(folder) {
  const module = name => import(pathToFileURL(join(folder, 'commands', name)).href);
  const [{ COMMANDS }, { manualPages }] = await Promise.all([
    module('cli.js'),
    module('setting-up/reference.js'),
  ]);
  const { version, man } = JSON.parse(readFileSync('package.json', 'utf8'));
  const pages = Object.entries(manualPages(COMMANDS, version));
  const paths = pages.map(([name]) => `dist/man/${name}`).sort();
  if (paths.join() !== [...man].sort().join()) {
    throw new Error(`package.json: "man" is to be ${JSON.stringify(paths)}`);
  }
  mkdirSync(join(folder, 'man'));
  for (const [name, text] of pages) writeFileSync(join(folder, 'man', name), text);
}

/** Folders of the packages that something was bundled from. */
function packagesOf(output) {
  return output
    .flatMap(({ moduleIds = [] }) => moduleIds)
    .map(id => /^.*\/node_modules\/(@[^/]+\/)?[^/]+/.exec(id)?.[0])
    .filter(Boolean);
}

function licenceOf(folder) {
  const { name, version, license, author } = JSON.parse(
    readFileSync(join(folder, 'package.json'), 'utf8'),
  );
  const file = readdirSync(folder).find(one => /licen[cs]e/i.test(one));
  const text =
    file === undefined
      ? `Its package says no more than that, and who made it: ${author?.name ?? author}.`
      : readFileSync(join(folder, file), 'utf8');
  return `${name} ${version} (${license})\n\n${text}`;
}

try {
  tell('compiling src/ ...');
  const args = ['-p', 'tsconfig.build.json', '--outDir', made];
  execFileSync(process.execPath, [tsc, ...args], { stdio: 'inherit' });
  const library = join(made, 'protocols', 'osc', 'library.js');
  const code = readFileSync(library, 'utf8');
  if (withCodec(code) === code) throw new Error(`${library} does not load ${CODEC}`);
  writeFileSync(library, withCodec(code));
  await bundleCodec(dirname(library));
  tell('bundling the program and the page of the panel ...');
  await bundle(made);
  chmodSync(`${made}/main.js`, 0o755);
  await manuals(made);
  if (existsSync('dist')) renameSync('dist', old);
  renameSync(made, 'dist');
} finally {
  rmSync(made, { recursive: true, force: true });
  rmSync(old, { recursive: true, force: true });
}
