// npm run mutation -- --help
// Changes the code in small ways, one at a time (the mutants of Stryker), and looks whether a test of that part
// fails. What was found is kept in .tmp/mutation: as long as a file is the same, what was noticed once is not tried
// again. Exit code 1: below 85 %.
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join, relative } from 'node:path';
import { bundle, instrumented } from './mutation/bundle.mjs';
import { Worker } from './mutation/process.mjs';
import { misuse, readOptions } from './options.mjs';

const LEAST = 0.85;
/** A test that takes longer, of the processor's time, is left out: what it alone would notice counts as not noticed. */
const SLOW_MS = 1500;
/** What is changed, and the tests that have to notice. */
const PARTS = {
  mapping: { code: ['src/mapping/'], tests: /^mapping\// },
  kinematics: {
    code: ['kinematics', 'pointing', 'pole', 'solutions', 'motion', 'head-motion'].map(
      name => `src/fixtures/${name}.ts`,
    ),
    tests: /^(fixtures\/|reference\/aiming-three)/,
  },
  // Without the models of all states: they take seconds to begin.
  safety: { code: ['src/safety/'], tests: /^safety\/[^/]+$/ },
  protocols: {
    code: ['src/protocols/'],
    tests: /^(protocols\/|reference\/(artnet|sacn|osc)-)/,
  },
  tracking: { code: ['src/tracking/'], tests: /^(tracking\/|reference\/filter-)/ },
  engine: { code: ['src/engine/'], tests: /^engine\// },
};

const USAGE = `
npm run mutation [-- PART... OPTIONS]

Changes the code in small ways, one at a time, and looks whether a test of that folder fails (docs/reference/mutation.md).
What was found is kept in .tmp/mutation, so that a second run only tries what has changed. Exit code 1: below ${100 * LEAST} %.

  PART...        of ${Object.keys(PARTS).join(', ')}; all unless said
  --only WORDS   files that have this in their name; may be given several times
  --write FILE   the table into this page
  --help         this

  npm run mutation -- safety --only fallback
`;
const options = { only: { type: 'string', multiple: true }, write: { type: 'string' } };
const { values, positionals } = readOptions(USAGE, options, true);
const unknown = positionals.filter(name => !(name in PARTS));
if (unknown.length > 0) {
  misuse(`There is no part ${unknown.join(', ')}; there are ${Object.keys(PARTS).join(', ')}.`);
}

const folder = join('.tmp', 'mutation');
const names = positionals.length > 0 ? positionals : Object.keys(PARTS);
let isLow = false;
for (const name of names) {
  await tryPart(name);
  const { caught, of } = sumOf(name);
  console.log(`${name}: ${percent(caught / of)}, ${caught} of ${of} caught`);
  isLow ||= caught / of < LEAST;
}
if (values.write !== undefined) writePage(values.write);
process.exit(isLow ? 1 : 0);

async function tryPart(name) {
  mkdirSync(join(folder, name), { recursive: true });
  const { code, tests } = PARTS[name];
  const only = values.only ?? [''];
  const files = filesOf(code)
    .filter(file => only.some(word => file.includes(word)))
    .sort((a, b) => rank(a, only) - rank(b, only));
  const { codes, mutants } = await instrumented(files);
  const built = join(folder, `${name}.bundles`);
  rmSync(built, { recursive: true, force: true });
  const bundles = [];
  for (const test of testFiles(tests)) {
    const out = join(built, `${nameOf(test)}.mjs`);
    await bundle(test, codes, out);
    // Most tests come by none of the files.
    if (readFileSync(out, 'utf8').includes('stryMutAct_9fa48')) bundles.push(out);
  }
  const worker = new Worker();
  const { found } = await worker.ask({ first: bundles });
  for (const file of bundles) writeFileSync(file, withoutCounting(readFileSync(file, 'utf8')));
  for (const file of files) {
    const mine = mutants.filter(one => relative('.', one.fileName) === file);
    await tryFile(name, file, mine, found, worker);
  }
  worker.end();
  rmSync(built, { recursive: true, force: true });
}

async function tryFile(name, file, mutants, found, worker) {
  const kept = join(folder, name, `${nameOf(file)}.json`);
  const hash = createHash('sha256').update(readFileSync(file)).digest('hex');
  const before = existsSync(kept) ? JSON.parse(readFileSync(kept, 'utf8')) : undefined;
  const known = new Set(before?.hash === hash ? before.noticed : []);
  const noticed = [];
  const survivors = [];
  for (const mutant of mutants) {
    if (mutant.status === 'Ignored') continue;
    const { fileName, location, replacement, mutatorName } = mutant;
    const place = `${file}:${location.start.line + 1}:${location.start.column + 1}`;
    const change = `${mutatorName}: ${sourceOf(fileName, location)} -> ${oneLine(replacement)}`;
    const { tests, expectedMs } = testsFor(mutant.id, found);
    const isCovered = Object.keys(tests).length > 0;
    const isCaught =
      known.has(`${place} ${change}`) ||
      (isCovered && (await worker.notices(mutant.id, tests, expectedMs)));
    if (isCaught) noticed.push(`${place} ${change}`);
    else survivors.push({ place, change, isCovered });
  }
  const [caught, of] = [noticed.length, noticed.length + survivors.length];
  writeFileSync(kept, JSON.stringify({ hash, caught, of, survivors, noticed }));
  console.log(`${file}: ${caught} of ${of} caught`);
  for (const one of survivors) console.log(`  ${told(one)}`);
}

/** The tests that come by a mutant, by file; the quickest files first. */
function testsFor(id, found) {
  const rows = [];
  for (const [file, { always, tests }] of Object.entries(found)) {
    const isAlways = always.includes(id);
    const places = tests.flatMap(({ tookMs, mutants }, place) =>
      tookMs <= SLOW_MS && (isAlways || mutants.includes(id)) ? [place] : [],
    );
    const tookMs = places.reduce((sum, place) => sum + tests[place].tookMs, 0);
    if (places.length > 0) rows.push({ file, places, tookMs });
  }
  rows.sort((a, b) => a.tookMs - b.tookMs);
  return {
    tests: Object.fromEntries(rows.map(({ file, places }) => [file, places])),
    expectedMs: rows.reduce((sum, { tookMs }) => sum + tookMs, 0),
  };
}

/** What each test comes by is known: from then on the calls that count it only take time. */
function withoutCounting(code) {
  return code.replace(/(function stryCov_9fa48\S*\(\) \{)/g, '$1 return;');
}

function rank(file, only) {
  return only.findIndex(word => file.includes(word));
}

function testFiles(which) {
  return readdirSync('tests', { recursive: true })
    .filter(name => name.endsWith('.test.ts') && which.test(name))
    .map(name => join('tests', name))
    .sort();
}

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

/** What stands there, at most so much of it that one knows it again. */
function sourceOf(fileName, { start, end }) {
  const lines = readFileSync(fileName, 'utf8')
    .split('\n')
    .slice(start.line, end.line + 1);
  const text = lines.join('\n');
  const tail = lines.at(-1).length - end.column;
  return oneLine(text.slice(start.column, text.length - tail));
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
  const results = files.map(file => JSON.parse(readFileSync(join(folder, name, file), 'utf8')));
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
