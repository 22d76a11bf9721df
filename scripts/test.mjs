// npm test [-- peers]
// All tests: those of single modules compute, those with real processes wait most of their time and are the ones
// that measure time. So the first run beside the second, with what these leave of the machine; with a small share in
// any case, as some of them wait as well.
import { spawn } from 'node:child_process';
import { join } from 'node:path';

const vitest = join('node_modules', 'vitest', 'vitest.mjs');

/** @returns its exit code, and what it printed where that was kept */
function run(command, args, isKept) {
  const child = spawn(command, args, { stdio: isKept ? 'pipe' : 'inherit' });
  const output = [];
  for (const stream of [child.stdout, child.stderr])
    stream?.on('data', piece => output.push(piece));
  return new Promise((resolve, reject) => {
    child.on('error', reject);
    child.on('close', code => resolve({ code, text: Buffer.concat(output).toString() }));
  });
}

const unit = run('nice', ['-n', '10', process.execPath, vitest, 'run', '--project', 'unit'], true);
const processes = run(
  process.execPath,
  [join('scripts', 'test-processes.mjs'), 'system', ...process.argv.slice(2)],
  false,
);
const [{ code, text }, other] = await Promise.all([unit, processes]);
// Of those that passed the sums are enough.
console.log(code === 0 ? `\n unit tests\n${text.split('\n').slice(-6).join('\n')}` : text);
process.exit(code === 0 && other.code === 0 ? 0 : 1);
