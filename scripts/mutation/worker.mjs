// Runs bundled tests in a process of its own, which is killed where a change makes them run for ever. It is told
// { first: file, mutants: how many } for each, and then { id, hitLimit, tests: [{ file, place, tookMs, isAlways }] } for each mutant;
// it says { expectedMs } as tests begin.
import { pathToFileURL } from 'node:url';
import fastCheck from 'fast-check';
import { collect, run, testsOf } from './vitest.mjs';

const stryker = {};
globalThis.__stryker__ = stryker;
/** The smallest case in which a property fails is of no use here. */
fastCheck.configureGlobal({ endOnFailure: true });

let imports = 0;
/** Tests by file, loaded without any change in force. */
const loaded = new Map();

process.on('message', async message => {
  try {
    process.send(
      message.first === undefined
        ? await tried(message)
        : await first(message.first, message.mutants),
    );
  } catch (error) {
    process.send({ error: error.stack });
  }
});

/** A fresh copy of all modules. */
async function load(file) {
  imports += 1;
  const root = await collect(() => import(`${pathToFileURL(file).href}?${imports}`));
  return { root, tests: testsOf(root) };
}

async function loadedOf(file) {
  if (!loaded.has(file)) loaded.set(file, await load(file));
  return loaded.get(file);
}

/** Runs all tests of a file; which mutants does each of them come by, how often, and how long does it take? */
async function first(file, mutants) {
  const counts = new Float64Array(mutants);
  globalThis.mutantsMet = counts;
  const met = () => {
    const hits = {};
    for (const [id, count] of counts.entries()) if (count > 0) hits[id] = count;
    counts.fill(0);
    return hits;
  };
  const { root, tests } = await load(file);
  for (const one of tests) one.hits = {};
  const always = {};
  // What is met between the tests, and by hooks of a suite, counts for all of the file.
  let [at, began] = [undefined, cpuMs()];
  const around = one => {
    const now = cpuMs();
    if (at === undefined) Object.assign(always, met());
    else {
      at.tookMs += now - began;
      at.hits = met();
    }
    [at, began] = [one.parts === undefined ? one : undefined, now];
  };
  const failure = await run(root, () => true, around);
  if (failure) throw new Error(`${file} fails without any change: ${failure.stack ?? failure}`);
  Object.assign(always, met());
  return { found: { always, tests: tests.map(({ tookMs, hits }) => ({ tookMs, hits })) } };
}

/** By the processor: a machine that is busy with other things must not make a test a slow one. */
function cpuMs() {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
}

/** @returns the test that notices the mutant, if one does */
async function tried({ id, hitLimit, tests }) {
  // A change that makes a loop go on for ever is stopped at the change, as Stryker does it.
  stryker.hitLimit = hitLimit;
  const anew = tests.filter(one => one.isAlways);
  for (const one of tests) {
    if (one.isAlways) continue;
    process.send({ expectedMs: one.tookMs });
    const { isCaught, isMet } = await triedAgain(id, one);
    if (isCaught) return { caught: one };
    if (!isMet) anew.push(one);
  }
  for (const file of new Set(anew.map(one => one.file))) {
    const mine = anew.filter(one => one.file === file);
    process.send({ expectedMs: mine.reduce((sum, { tookMs }) => sum + tookMs, 0) });
    if (await triedAnew(id, mine)) return { caught: mine[0] };
  }
  return {};
}

/**
 * In modules that were loaded before. What an earlier mutant left in them must not count: a test that fails has to
 * pass again without the change, and one that does not come by the change is tried anew.
 */
async function triedAgain(id, { file, place }) {
  const { root, tests } = await loadedOf(file);
  const chosen = one => one === tests[place];
  if (!(await failsWith(id, root, chosen))) return { isCaught: false, isMet: stryker.hitCount > 0 };
  if (!(await run(root, chosen))) return { isCaught: true };
  loaded.delete(file);
  return { isCaught: await triedAnew(id, [{ file, place }]) };
}

/** In modules that are loaded with the change in force. */
async function triedAnew(id, tests) {
  stryker.activeMutant = id;
  stryker.hitCount = 0;
  try {
    const { root, tests: all } = await load(tests[0].file);
    const chosen = new Set(tests.map(({ place }) => all[place]));
    // A mutant that changes which tests there are is noticed.
    return chosen.has(undefined) || (await failsWith(id, root, one => chosen.has(one)));
  } catch {
    return true;
  } finally {
    stryker.activeMutant = undefined;
  }
}

async function failsWith(id, root, chosen) {
  stryker.activeMutant = id;
  stryker.hitCount = 0;
  try {
    return (await run(root, chosen)) !== undefined;
  } catch {
    // A hook that runs after the tests.
    return true;
  } finally {
    stryker.activeMutant = undefined;
  }
}
