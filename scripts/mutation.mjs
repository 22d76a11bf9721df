// npm run mutation -- --help
// Changes the code in small ways, one at a time (the mutants of Stryker), and looks whether a test of that part
// fails. What was found is kept in .tmp/mutation: as long as a file is the same, what was noticed once is not tried
// again. Exit code 1: below 85 %.
import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join, relative } from 'node:path';
import {
  bundle,
  instrumented,
  keepMutants,
  withCounts,
  withoutCounts,
} from './mutation/bundle.mjs';
import { percent, told, writePage } from './mutation/page.mjs';
import { Worker } from './mutation/process.mjs';
import { misuse, readOptions } from './options.mjs';

const LEAST = 0.85;
/** A file whose tests take longer, once, is left out. */
const FILE_S = 20;
/** A property draws what it tries. */
const DRAWS = /from ["']fast-check["']|\bclass Random\b|\bRandom = class\b/;
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
    tests: /^(protocols\/|reference\/(artnet|sacn|osc|psn)-)/,
  },
  tracking: { code: ['src/tracking/'], tests: /^(tracking\/|reference\/filter-)/ },
  // Not only its own tests run it: these step it too.
  engine: {
    code: ['src/engine/'],
    tests:
      /^(engine|live|recording|readiness|reporting)\/|^rehearsal\/(scene|three-cues)|^daemon\/(asking\/status|beats\/loss-time|engine\/(engine-loss|next-engine)|hand-over-property|keep-out|memory\/memory|operator\/requests|recorder|status|words\/describe)|^(panel\/(live-view|server\/metrics)|sheets\/explain-|show\/(cookbook|palettes))/,
  },
};

const USAGE = `
npm run mutation [-- PART... OPTIONS]

Changes the code in small ways, one at a time, and looks whether a test of that folder fails (docs/reference/mutation.md).
What was found is kept in .tmp/mutation, so that a second run only tries what has changed. Exit code 1: below ${100 * LEAST} %.

  PART...        of ${Object.keys(PARTS).join(', ')}; all unless said
  --only WORDS   files that have this in their name; may be given several times
  --tests WORDS  the same of the tests: what these notice by themselves
  --sample N     about so many changes of a part, drawn at random: each file has its share of them
  --seed WORD    another draw ('1' unless said)
  --seconds N    of the tests that come by a change, as many as take so long in all run (3): a property, the quickest,
                 and those that come by it most often a millisecond
  --write FILE   the table into this page
  --help         this

  npm run mutation -- safety --only fallback
`;
const options = {
  only: { type: 'string', multiple: true },
  tests: { type: 'string', multiple: true },
  sample: { type: 'string', least: 1 },
  seed: { type: 'string', default: '1' },
  seconds: { type: 'string', least: 1, default: '3' },
  write: { type: 'string' },
};
const { values, positionals } = readOptions(USAGE, options, true);
const unknown = positionals.filter(name => !(name in PARTS));
if (unknown.length > 0) {
  misuse(`There is no part ${unknown.join(', ')}; there are ${Object.keys(PARTS).join(', ')}.`);
}

const folder = join('.tmp', 'mutation');
/** Of each test, how often it ran and how often it noticed. */
const records = new Map();
/** Of each mutant, its place in the draw. */
const ranks = new Map();
const names = positionals.length > 0 ? positionals : Object.keys(PARTS);
let isLow = false;
for (const name of names) {
  await tryPart(name);
  const { share, caught, tried, of, endless, sEach } = sumOf(name);
  console.log(
    `${name}: ${percent(share)}, ${caught} of ${tried} caught, ${endless} by time alone; there are ${of}; ${sEach} s each`,
  );
  isLow ||= share < LEAST;
}
if (values.write !== undefined) writePage(values.write, Object.keys(PARTS).map(sumOf));
process.exit(isLow ? 1 : 0);

async function tryPart(name) {
  mkdirSync(join(folder, name), { recursive: true });
  const { code, tests } = PARTS[name];
  const only = values.only ?? [''];
  const files = filesOf(code)
    .filter(file => only.some(word => file.includes(word)))
    .sort((a, b) => rank(a, only) - rank(b, only));
  const { codes, mutants } = await instrumented(files);
  const all = mutants.filter(({ status }) => status !== 'Ignored');
  const of = file => all.filter(one => relative('.', one.fileName) === file);
  const byFile = new Map(files.map(file => [file, of(file)]));
  const chosen = [...byFile.values()].flatMap(mine => drawn(mine, all.length));
  keepMutants(codes, new Set(chosen.map(({ id }) => id)));
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
  const found = {};
  const hashes = bundles.map(file => hashOf(readFileSync(file)));
  for (const file of bundles) {
    const isProperty = DRAWS.test(readFileSync(file, 'utf8'));
    found[file] = { ...(await coverageOf(file, mutants.length, worker)), isProperty };
  }
  // A survivor of the same code, the same tests and as many of them is one again.
  const by = hashOf(`${hashes.join()} ${values.seconds}`);
  const begun = new Map(files.map(file => [file, begin(name, file, by)]));
  for (const [file, mine] of byFile) begun.get(file).of = mine.length;
  // By chance, from all files: when it is stopped half-way, what was tried is a draw too.
  const order = values.sample === undefined ? chosen : chosen.sort(byRank);
  for (const mutant of order) {
    const state = begun.get(relative('.', mutant.fileName));
    await tryOne(state, mutant, found, worker);
    save(name, state);
  }
  worker.end();
  rmSync(built, { recursive: true, force: true });
}

/** Which mutants the tests of a bundle come by: kept for as long as neither they nor the code changes. */
async function coverageOf(file, mutants, worker) {
  const code = readFileSync(file, 'utf8');
  const kept = join(folder, 'coverage', `${hashOf(code)}.json`);
  if (!existsSync(kept)) {
    writeFileSync(file, withCounts(code));
    const answer = await worker
      .ask({ first: file, mutants }, FILE_S)
      .catch(({ message }) => ({ error: message.split('\n')[0] }));
    const leftOut = answer?.error ?? `${file} takes longer than ${FILE_S} s`;
    const found = answer?.found ?? { always: {}, tests: [], leftOut };
    mkdirSync(join(folder, 'coverage'), { recursive: true });
    writeFileSync(kept, JSON.stringify(found));
  }
  writeFileSync(file, withoutCounts(code));
  const found = JSON.parse(readFileSync(kept, 'utf8'));
  if (found.leftOut !== undefined) console.log(`left out: ${found.leftOut}`);
  return found;
}

/** Of a file's mutants those to try: all, or its share of the sample, so that a larger one has the smaller in it. */
function drawn(mutants, ofPart) {
  if (values.sample === undefined) return mutants;
  const count = Math.ceil((values.sample * mutants.length) / ofPart);
  return mutants.toSorted(byRank).slice(0, count);
}

function byRank(a, b) {
  return rankOf(a) < rankOf(b) ? -1 : 1;
}

/** Its place in a draw. */
function rankOf(mutant) {
  if (!ranks.has(mutant)) {
    const { fileName, location, replacement } = mutant;
    const place = `${relative('.', fileName)} ${JSON.stringify(location)}`;
    ranks.set(mutant, hashOf(`${values.seed} ${place} ${replacement}`));
  }
  return ranks.get(mutant);
}

/** What is known of the changes of a file, from runs before. */
function begin(name, file, tests) {
  const kept = keptOf(name, file);
  const hash = hashOf(readFileSync(file));
  const before = existsSync(kept) ? JSON.parse(readFileSync(kept, 'utf8')) : undefined;
  const isSame = before?.hash === hash;
  const survived = isSame && before.tests === tests ? before.survived : [];
  return {
    file,
    hash,
    tests,
    tried: 0,
    survivors: [],
    noticed: new Set(isSame ? before.noticed : []),
    endless: new Set(isSame ? before.endless : []),
    survived: new Set(survived),
    cost: (isSame && before.cost) || { changes: 0, s: 0 },
  };
}

async function tryOne(state, mutant, found, worker) {
  const { id, fileName, location, replacement, mutatorName } = mutant;
  const place = `${state.file}:${location.start.line + 1}:${location.start.column + 1}`;
  const change = `${mutatorName}: ${sourceOf(fileName, location)} -> ${oneLine(replacement)}`;
  const key = `${place} ${change}`;
  state.tried += 1;
  if (state.noticed.has(key)) return;
  const { tests, hits } = testsFor(id, state.file, found);
  const isCovered = tests.length > 0;
  if (isCovered && !state.survived.has(key)) {
    const beganMs = performance.now();
    const by = await noticedBy(id, tests, hits, worker);
    state.cost.changes += 1;
    state.cost.s += (performance.now() - beganMs) / 1000;
    if (by?.isEndless) state.endless.add(key);
    if (by !== undefined) {
      state.noticed.add(key);
      return;
    }
  }
  state.survived.add(key);
  state.survivors.push({ place, change, isCovered });
  console.log(`  ${told(state.survivors.at(-1))}`);
}

function save(name, state) {
  const { file, tried, survivors, noticed, endless, survived } = state;
  survivors.sort((a, b) => lineOf(a) - lineOf(b));
  const sets = { noticed: [...noticed], endless: [...endless], survived: [...survived] };
  const result = { ...state, ...sets, caught: tried - survivors.length };
  writeFileSync(keptOf(name, file), JSON.stringify(result));
}

function lineOf({ place }) {
  return Number(place.split(':')[1]);
}

function keptOf(name, file) {
  return join(folder, name, `${nameOf(file)}.json`);
}

/**
 * The tests that come by a mutant, the likeliest to notice one in little time first; and how often they do. Of too many
 * a property, as it tries what no example does; of the rest for half of the time those of the file itself and those
 * that have noticed most a millisecond, and then those that come by it most often a millisecond.
 */
function testsFor(id, source, found) {
  const rows = [];
  const own = nameOf(source).replace('.ts', '');
  for (const [file, { always, tests, isProperty }] of Object.entries(found)) {
    for (const [place, { tookMs, hits }] of tests.entries()) {
      const isAlways = id in always;
      const isOwn = file.includes(own);
      if (!(isAlways || id in hits)) continue;
      const times = (always[id] ?? 0) + (hits[id] ?? 0);
      rows.push({ file, place, isAlways, isOwn, isProperty, tookMs, times });
    }
  }
  const tests = [];
  let leftMs = 1000 * values.seconds;
  const take = (all, untilMs) => {
    for (const one of all) {
      if (tests.includes(one) || leftMs - one.tookMs < untilMs) continue;
      leftMs -= one.tookMs;
      tests.push(one);
    }
  };
  const halfMs = leftMs / 2;
  const properties = rows.filter(one => one.isProperty && one.tookMs <= halfMs);
  take(properties.sort((a, b) => b.times - a.times).slice(0, 1), 0);
  take(
    rows.toSorted((a, b) => b.isOwn - a.isOwn || promise(b) - promise(a)),
    leftMs - halfMs,
  );
  take(
    rows.toSorted((a, b) => oftenIn(b) - oftenIn(a)),
    0,
  );
  tests.sort((a, b) => promise(b) - promise(a));
  return { tests, hits: tests.reduce((sum, { times }) => sum + times, 0) };
}

/** How often a test comes by it, a millisecond. */
function oftenIn({ times, tookMs }) {
  return times / (tookMs + 0.5);
}

/** How often a test noticed, of how often it ran, a millisecond. */
function promise({ file, place, tookMs }) {
  const { noticed, ran } = records.get(`${file} ${place}`) ?? { noticed: 0, ran: 0 };
  return (noticed + 0.1) / (ran + 1) / (tookMs + 0.5);
}

async function noticedBy(id, tests, hits, worker) {
  const by = await worker.notices(id, tests, hits);
  for (const { file, place } of tests) {
    const isIt = file === by?.file && place === by.place;
    const key = `${file} ${place}`;
    const { noticed, ran } = records.get(key) ?? { noticed: 0, ran: 0 };
    records.set(key, { noticed: noticed + (isIt ? 1 : 0), ran: ran + 1 });
    if (isIt) break;
  }
  return by;
}

function rank(file, only) {
  return only.findIndex(word => file.includes(word));
}

function testFiles(which) {
  const words = values.tests ?? [''];
  return readdirSync('tests', { recursive: true })
    .filter(name => name.endsWith('.test.ts') && which.test(name))
    .filter(name => words.some(word => name.includes(word)))
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

function hashOf(bytes) {
  return createHash('sha256').update(bytes).digest('hex');
}

/** All that is known of a part: of its files as they are now. */
function sumOf(name) {
  const files = filesOf(PARTS[name].code);
  const results = files
    .map(file => keptOf(name, file))
    .filter(kept => existsSync(kept))
    .map(kept => JSON.parse(readFileSync(kept, 'utf8')));
  const sum = of => results.reduce((total, one) => total + of(one), 0);
  const of = sum(one => one.of);
  // Each file counts by how many changes it has: of a sample, small ones have more than their share.
  const caughtOfAll = sum(one => (one.tried > 0 ? (one.caught / one.tried) * one.of : 0));
  return {
    name,
    files: files.length,
    results,
    of,
    tried: sum(one => one.tried),
    caught: sum(one => one.caught),
    // Of those caught, by which the tests came to no end in time: none of them failed.
    endless: sum(one => one.endless?.length ?? 0),
    sEach: (sum(one => one.cost?.s ?? 0) / sum(one => one.cost?.changes ?? 0)).toFixed(1),
    share: caughtOfAll / of,
  };
}
