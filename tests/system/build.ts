import { execFileSync } from 'node:child_process';

/** The system tests run dist/ as users do; it must be that of today's source. */
export default function setup(): void {
  // scripts/test-processes.mjs has built it once for all files.
  if (process.env.LAMPWRIGHT_BUILT === '1') return;
  execFileSync(process.execPath, ['scripts/build.mjs'], { stdio: 'inherit' });
}
