// npm run mutation [-- mapping kinematics ... --write docs/reference/mutation.md]
// Changes the code in small ways, one at a time, and looks whether a test of that folder fails (Stryker). What was
// found is kept in .tmp/mutation, so that a second run only tries what has changed. Exit code 1: below 85 %.
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { Stryker } from '@stryker-mutator/core';

const LEAST = 0.85;
/** What is changed, and the tests that have to notice. */
const PARTS = {
  mapping: { code: ['src/mapping/**/*.ts'], tests: ['mapping'] },
  kinematics: {
    code: ['kinematics', 'pointing', 'pole', 'solutions', 'motion', 'head-motion'].map(
      name => `src/fixtures/${name}.ts`,
    ),
    tests: ['fixtures', 'reference/aiming-three'],
  },
  safety: { code: ['src/safety/**/*.ts'], tests: ['safety'] },
  protocols: {
    code: ['src/protocols/**/*.ts'],
    tests: ['protocols', 'reference/{artnet,sacn,osc}-*'],
  },
  tracking: { code: ['src/tracking/**/*.ts'], tests: ['tracking', 'reference/filter-*'] },
  engine: { code: ['src/engine/**/*.ts'], tests: ['engine'] },
};

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: { write: { type: 'string' }, concurrency: { type: 'string', default: '1' } },
});
const unknown = positionals.filter(name => !(name in PARTS));
if (unknown.length > 0) {
  console.error(`no such part: ${unknown.join(', ')}; there are ${Object.keys(PARTS).join(', ')}`);
  process.exit(2);
}

const folder = join('.tmp', 'mutation');
mkdirSync(folder, { recursive: true });
const names = positionals.length > 0 ? positionals : Object.keys(PARTS);
let isLow = false;
for (const name of names) {
  const result = resultOf(await tried(name));
  writeFileSync(fileOf(name), JSON.stringify(result));
  const { score, caught, of, survivors } = result;
  console.log(`${name}: ${percent(score)}, ${caught} of ${of} caught`);
  for (const { place, change, isCovered } of survivors) {
    console.log(`  ${place}: ${change}${isCovered ? '' : ' (no test runs it)'}`);
  }
  isLow ||= score < LEAST;
}
if (values.write !== undefined) writePage(values.write);
process.exit(isLow ? 1 : 0);

function tried(name) {
  const { code, tests } = PARTS[name];
  const files = tests.map(each => `tests/${each}${each.includes('/') ? '' : '/**/*'}.test.ts`);
  process.env.LAMPWRIGHT_MUTATION_TESTS = files.join(',');
  const stryker = new Stryker({
    mutate: code,
    testRunner: 'vitest',
    plugins: ['@stryker-mutator/vitest-runner'],
    vitest: { configFile: 'scripts/mutation.vitest.config.ts', related: false },
    reporters: ['progress-append-only'],
    ignorePatterns: ['dist*', 'docs', 'campaign', 'bench', 'systemd', '.tmp', '.ci'],
    concurrency: Number(values.concurrency),
    // The first run of all tests, on a machine that has other work.
    dryRunTimeoutMinutes: 20,
    timeoutMS: 20_000,
    incremental: true,
    incrementalFile: join(folder, `${name}.stryker.json`),
    tempDirName: join('.tmp', `stryker-${name}`),
    allowEmpty: false,
  });
  return stryker.runMutationTest();
}

function resultOf(mutants) {
  const valid = mutants.filter(({ status }) => !['Ignored', 'CompileError'].includes(status));
  const caught = valid.filter(({ status }) =>
    ['Killed', 'Timeout', 'RuntimeError'].includes(status),
  );
  return {
    score: caught.length / valid.length,
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

function fileOf(name) {
  return join(folder, `${name}.json`);
}

function percent(share) {
  return `${(share * 100).toFixed(1)} %`;
}

function writePage(file) {
  const known = Object.keys(PARTS).filter(name => existsSync(fileOf(name)));
  const results = known.map(name => [name, JSON.parse(readFileSync(fileOf(name), 'utf8'))]);
  const rows = results.map(
    ([name, { score, caught, of }]) => `| ${name} | ${percent(score)} | ${caught} | ${of} |`,
  );
  const head = ['| part | caught | mutants caught | of |', '| --- | --- | --- | --- |'];
  const lists = results.map(([name, { survivors }]) =>
    [
      `## What no test of ${name} notices`,
      '',
      ...survivors.map(
        ({ place, change, isCovered }) =>
          `- \`${place}\` ${change.replace(': ', ': `').replace(/$/, '`')}${isCovered ? '' : ' (no test runs it)'}`,
      ),
    ].join('\n'),
  );
  const intro = readFileSync(file, 'utf8').split('<!-- table -->')[0];
  const table = [...head, ...rows].join('\n');
  writeFileSync(file, `${intro}${['<!-- table -->', table, ...lists].join('\n\n')}\n`);
}
