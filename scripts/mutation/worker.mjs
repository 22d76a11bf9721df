// Runs bundled tests in a process of its own, which is killed where a change makes them run for ever. It is told
// { first: files } once, and then { id, tests: { file: numbers or 'all' } } for each mutant.
import { pathToFileURL } from 'node:url';
import { collect, run, testsOf } from './vitest.mjs';

const stryker = {};
globalThis.__stryker__ = stryker;
let imports = 0;

process.on('message', async message => {
  try {
    process.send(message.first === undefined ? await tried(message) : await first(message.first));
  } catch (error) {
    process.send({ error: error.stack });
  }
});

/** A fresh copy of all modules: what one mutant has done to them the next one must not meet. */
function load(file) {
  imports += 1;
  return collect(() => import(`${pathToFileURL(file).href}?${imports}`));
}

/** Runs all tests; which mutants does each of them come by, and how long does it take? */
async function first(files) {
  const found = {};
  for (const file of files) {
    const coverage = { static: {}, perTest: {} };
    stryker.mutantCoverage = coverage;
    stryker.currentTestId = undefined;
    const root = await load(file);
    const tests = testsOf(root);
    // A test by its place in the file; hooks of a suite count for all of it.
    let [at, began] = [undefined, 0];
    const around = one => {
      const now = cpuMs();
      if (at !== undefined) at.tookMs += now - began;
      [at, began] = [one.parts === undefined ? one : undefined, now];
      const place = tests.indexOf(one);
      stryker.currentTestId = place < 0 ? undefined : String(place + 1);
    };
    const failure = await run(root, () => true, around);
    if (failure) throw new Error(`${file} fails without any change: ${failure.stack ?? failure}`);
    found[file] = {
      always: Object.keys(coverage.static),
      tests: tests.map(({ name, tookMs }, place) => ({
        name,
        tookMs,
        mutants: Object.keys(coverage.perTest[place + 1] ?? {}),
      })),
    };
  }
  return { found };
}

/** By the processor: a machine that is busy with other things must not make a test a slow one. */
function cpuMs() {
  const { user, system } = process.cpuUsage();
  return (user + system) / 1000;
}

async function tried({ id, tests }) {
  stryker.activeMutant = id;
  stryker.mutantCoverage = { static: {}, perTest: {} };
  stryker.currentTestId = undefined;
  try {
    for (const [file, places] of Object.entries(tests)) {
      const root = await load(file);
      const all = testsOf(root);
      const chosen = new Set(places.map(place => all[place]));
      // A mutant that changes which tests there are is noticed.
      if (chosen.has(undefined)) return { caught: true };
      if (await run(root, one => chosen.has(one))) return { caught: true };
    }
    return { caught: false };
  } catch {
    return { caught: true };
  } finally {
    stryker.activeMutant = undefined;
  }
}
