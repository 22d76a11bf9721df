// npm run mutation [-- mapping kinematics ... --only fade-to-safe --write docs/reference/mutation.md]
// Changes the code in small ways, one at a time, and looks whether a test of that folder fails (Stryker). What was
// found is kept in .tmp/mutation, so that a second run only tries what has changed. Exit code 1: below 85 %.
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { Stryker } from '@stryker-mutator/core';

const LEAST = 0.85;
/** What is changed, and the tests that have to notice. */
const PARTS = {
  mapping: { code: ['src/mapping/'], tests: ['mapping'] },
  kinematics: {
    code: ['kinematics', 'pointing', 'pole', 'solutions', 'motion', 'head-motion'].map(
      name => `src/fixtures/${name}.ts`,
    ),
    tests: ['fixtures', 'reference/aiming-three'],
  },
  safety: { code: ['src/safety/'], tests: ['safety'] },
  protocols: {
    code: ['src/protocols/'],
    tests: ['protocols', 'reference/{artnet,sacn,osc}-*'],
  },
  tracking: { code: ['src/tracking/'], tests: ['tracking', 'reference/filter-*'] },
  engine: { code: ['src/engine/'], tests: ['engine'] },
};

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: {
    // Part of a file's name.
    only: { type: 'string' },
    write: { type: 'string' },
    concurrency: { type: 'string', default: '1' },
  },
});
const unknown = positionals.filter(name => !(name in PARTS));
if (unknown.length > 0) {
  console.error(`no such part: ${unknown.join(', ')}; there are ${Object.keys(PARTS).join(', ')}`);
  process.exit(2);
}

const folder = join('.tmp', 'mutation');
const names = positionals.length > 0 ? positionals : Object.keys(PARTS);
let isLow = false;
for (const name of names) {
  mkdirSync(join(folder, name), { recursive: true });
  // One after the other: what is done is kept, however long the rest takes.
  for (const file of filesOf(PARTS[name].code)) {
    if (values.only !== undefined && !file.includes(values.only)) continue;
    const result = resultOf(await tried(name, file));
    writeFileSync(join(folder, name, `${nameOf(file)}.json`), JSON.stringify(result));
    console.log(`${file}: ${result.caught} of ${result.of} caught`);
    for (const one of result.survivors) console.log(`  ${told(one)}`);
  }
  const { caught, of } = sumOf(name);
  console.log(`${name}: ${percent(caught / of)}, ${caught} of ${of} caught`);
  isLow ||= caught / of < LEAST;
}
if (values.write !== undefined) writePage(values.write);
process.exit(isLow ? 1 : 0);

/** A path that ends with a slash is a folder, with all in it. */
function filesOf(paths) {
  return paths.flatMap(path =>
    path.endsWith('/')
      ? readdirSync(path, { recursive: true })
          .filter(name => name.endsWith('.ts'))
          .map(name => join(path, name))
          .sort()
      : [path],
  );
}

function tried(name, file) {
  const { tests } = PARTS[name];
  const files = tests.map(each => `tests/${each}${each.includes('/') ? '' : '/**/*'}.test.ts`);
  process.env.LAMPWRIGHT_MUTATION_TESTS = files.join(',');
  const stryker = new Stryker({
    mutate: [file],
    testRunner: 'vitest',
    plugins: ['@stryker-mutator/vitest-runner'],
    vitest: { configFile: 'scripts/mutation.vitest.config.ts' },
    reporters: ['progress-append-only'],
    ignorePatterns: ['dist*', 'docs', 'campaign', 'bench', 'systemd', '.tmp', '.ci'],
    concurrency: Number(values.concurrency),
    // The first run of all tests, on a machine that has other work.
    dryRunTimeoutMinutes: 20,
    timeoutMS: 20_000,
    incremental: true,
    incrementalFile: join(folder, name, `${nameOf(file)}.stryker.json`),
    tempDirName: join('.tmp', `stryker-${name}`),
    // Types alone, for instance.
    allowEmpty: true,
  });
  return stryker.runMutationTest();
}

function resultOf(mutants) {
  const valid = mutants.filter(({ status }) => !['Ignored', 'CompileError'].includes(status));
  const caught = valid.filter(({ status }) =>
    ['Killed', 'Timeout', 'RuntimeError'].includes(status),
  );
  return {
    caught: caught.length,
    of: valid.length,
    survivors: valid
      .filter(mutant => !caught.includes(mutant))
      .map(({ fileName, location, replacement, mutatorName, status }) => ({
        place: `${fileName.slice(fileName.lastIndexOf('src/'))}:${location.start.line}:${location.start.column}`,
        change: `${mutatorName}: ${sourceOf(fileName, location)} -> ${oneLine(replacement)}`,
        isCovered: status !== 'NoCoverage',
      })),
  };
}

/** What stands there, at most so much of it that one knows it again. */
function sourceOf(fileName, { start, end }) {
  const lines = readFileSync(fileName, 'utf8')
    .split('\n')
    .slice(start.line - 1, end.line);
  const text = lines.join('\n');
  const tail = lines.at(-1).length - end.column + 1;
  return oneLine(text.slice(start.column - 1, text.length - tail));
}

function oneLine(text) {
  const line = text.replace(/\s+/g, ' ');
  return line.length > 60 ? `${line.slice(0, 57)}...` : line;
}

function nameOf(file) {
  return file.replace('src/', '').replaceAll('/', '-');
}

/** All that is known of a part. */
function sumOf(name) {
  const files = existsSync(join(folder, name)) ? readdirSync(join(folder, name)) : [];
  const results = files
    .filter(file => !file.endsWith('.stryker.json'))
    .map(file => JSON.parse(readFileSync(join(folder, name, file), 'utf8')));
  const sum = of => results.reduce((total, one) => total + one[of], 0);
  return {
    files: `${results.length} of ${filesOf(PARTS[name].code).length}`,
    caught: sum('caught'),
    of: sum('of'),
    survivors: results.flatMap(({ survivors }) => survivors),
  };
}

function told({ place, change, isCovered }) {
  return `${place} ${change}${isCovered ? '' : ' (no test runs it)'}`;
}

function percent(share) {
  return `${(share * 100).toFixed(1)} %`;
}

function writePage(file) {
  const results = Object.keys(PARTS)
    .map(name => ({ name, ...sumOf(name) }))
    .filter(({ of }) => of > 0);
  const rows = results.map(
    ({ name, files, caught, of }) =>
      `| ${name} | ${files} | ${percent(caught / of)} | ${caught} | ${of} |`,
  );
  const head = [
    '| part | files tried | caught | changes caught | of |',
    '| --- | --- | --- | --- | --- |',
  ];
  const lists = results.map(({ name, survivors }) =>
    [`## Not noticed by the tests: ${name}`, '', ...survivors.map(one => `    ${told(one)}`)].join(
      '\n',
    ),
  );
  const intro = readFileSync(file, 'utf8').split('<!-- table -->')[0];
  const table = [...head, ...rows].join('\n');
  writeFileSync(file, `${intro}${['<!-- table -->', table, ...lists].join('\n\n')}\n`);
}
