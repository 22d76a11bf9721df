import { defineConfig } from 'vitest/config';

/** The tests that scripts/mutation.mjs has chosen for the folder whose code it changes. */
const tests = (process.env.LAMPWRIGHT_MUTATION_TESTS ?? 'tests/mapping/**/*.test.ts').split(',');

export default defineConfig({
  test: {
    include: tests,
    exclude: ['tests/system/**', 'tests/peers/**'],
    isolate: false,
    testTimeout: 60_000,
  },
});
