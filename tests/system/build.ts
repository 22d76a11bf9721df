import { execFileSync } from 'node:child_process';

/** The system tests run dist/ as users do; it must be that of today's source. */
export default function setup(): void {
  execFileSync(process.execPath, ['scripts/build.mjs'], { stdio: 'inherit' });
}
