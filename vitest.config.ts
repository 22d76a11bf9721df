import { availableParallelism } from 'node:os';
import { defineConfig } from 'vitest/config';
import { compiledSource } from './tests/compile.js';

/** Wall-clock allowance for tests that start real processes (interpreter start on a slow machine). */
const SYSTEM_TIMEOUT_MS = 60_000;

const UNIT_TIMEOUT_MS = 60_000;

export default defineConfig({
  test: {
    projects: [
      {
        plugins: [compiledSource],
        test: {
          name: 'unit',
          globalSetup: ['tests/compile.ts'],
          // Places in src/, where something fails in what was compiled.
          execArgv: ['--enable-source-maps'],
          include: ['tests/**/*.test.ts'],
          exclude: ['tests/system/**', 'tests/peers/**'],
          // A limit against endless loops, not a measure: a busy machine takes several times longer.
          testTimeout: UNIT_TIMEOUT_MS,
          hookTimeout: UNIT_TIMEOUT_MS,
          // The core is pure, so no file leaves anything behind for the next, and modules are loaded once.
          isolate: false,
          // Left alone it keeps a core for itself, and does little with it.
          maxWorkers: availableParallelism(),
        },
      },
      {
        test: {
          name: 'system',
          globalSetup: ['tests/system/build.ts'],
          include: ['tests/system/**/*.test.ts'],
          testTimeout: SYSTEM_TIMEOUT_MS,
          hookTimeout: SYSTEM_TIMEOUT_MS,
          // All files use the same ports: scripts/test-processes.mjs runs several, each in a network of its own.
          fileParallelism: false,
        },
      },
      {
        test: {
          name: 'peers',
          globalSetup: ['tests/system/build.ts'],
          include: ['tests/peers/**/*.test.ts'],
          testTimeout: SYSTEM_TIMEOUT_MS,
          hookTimeout: SYSTEM_TIMEOUT_MS,
          // Needs tshark, oscsend, iproute2 and root: see .ci/run.
          fileParallelism: false,
        },
      },
    ],
  },
});
