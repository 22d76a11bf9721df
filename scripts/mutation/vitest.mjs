// What the tests of the pure folders use of vitest, to be run again and again in one process: a mutant costs the
// time of the tests that notice it, and no start of a runner. `expect` is vitest's own.
import { chai, JestAsymmetricMatchers, JestChaiExpect, JestExtend } from '@vitest/expect';
import * as spies from '@vitest/spy';

chai.use(JestExtend);
chai.use(JestChaiExpect);
chai.use(JestAsymmetricMatchers);

export const expect = chai.expect;
export const expectTypeOf = () => new Proxy(() => undefined, { get: () => expectTypeOf() });
export const vi = {
  fn: spies.fn,
  spyOn: spies.spyOn,
  restoreAllMocks: spies.restoreAllMocks,
};

/** The suite whose tests are being collected. */
let suite;

/** @returns the tests of a file, by `load`, which imports it */
export async function collect(load) {
  suite = suiteOf(undefined);
  const root = suite;
  await load();
  return root;
}

/** All tests of a suite, in order. */
export function testsOf(one) {
  return one.parts.flatMap(part => (part.parts === undefined ? [part] : testsOf(part)));
}

/**
 * Runs what is chosen, until a test fails.
 * @param chosen whether to run a test
 * @param around called with the test, or a suite whose hooks run, before it does
 * @returns what failed first, or undefined
 */
export async function run(root, chosen, around = () => undefined) {
  if (!testsOf(root).some(chosen)) return undefined;
  try {
    around(root);
    for (const hook of root.beforeAll) await hook();
    for (const part of root.parts) {
      const failure =
        part.parts === undefined
          ? chosen(part) && (await runTest(part, around))
          : await run(part, chosen, around);
      if (failure) return failure;
    }
    return undefined;
  } catch (error) {
    return error ?? new Error('a hook failed');
  } finally {
    around(root);
    for (const hook of root.afterAll) await hook();
  }
}

async function runTest(one, around) {
  around(one);
  const suites = [];
  for (let at = one.in; at !== undefined; at = at.in) suites.unshift(at);
  const context = { task: { id: String(one.number), name: one.name } };
  let failure;
  try {
    for (const { beforeEach } of suites) for (const hook of beforeEach) await hook(context);
    await one.body(context);
  } catch (error) {
    failure = error ?? new Error('the test failed');
  }
  for (const { afterEach } of suites.reverse()) for (const hook of afterEach) await hook(context);
  return failure;
}

function suiteOf(parent) {
  const hooks = { beforeAll: [], beforeEach: [], afterEach: [], afterAll: [] };
  return { in: parent, parts: [], ...hooks };
}

let number = 0;

export function test(name, ...rest) {
  const body = rest.find(part => typeof part === 'function');
  number += 1;
  suite.parts.push({ in: suite, number, name, body, tookMs: 0 });
}

export function describe(_name, body) {
  const parent = suite;
  suite = suiteOf(parent);
  parent.parts.push(suite);
  body();
  suite = parent;
}

const each = make => cases => (name, body, timeout) => {
  for (const one of cases) {
    const args = Array.isArray(one) ? one : [one];
    make(name, () => body(...args), timeout);
  }
};
/** As `each`, but a case that is an array is one argument. */
const forEach = make => cases => (name, body, timeout) => {
  for (const one of cases) make(name, context => body(one, context), timeout);
};
test.each = each(test);
test.for = forEach(test);
describe.each = each(describe);
describe.for = forEach(describe);
export const it = (...args) => test(...args);
it.each = test.each;
it.for = test.for;

export const beforeAll = hook => suite.beforeAll.push(hook);
export const beforeEach = hook => suite.beforeEach.push(hook);
export const afterEach = hook => suite.afterEach.push(hook);
export const afterAll = hook => suite.afterAll.push(hook);
