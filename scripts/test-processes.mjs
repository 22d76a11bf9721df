// node scripts/test-processes.mjs system|peers [--jobs N] [part of a file name...]
// Runs the test files that start real processes: several at a time, each in a network of its own, so that
// all may use the same ports and universes. Most of their time is waiting. Where the system refuses to make
// a network (unshare of util-linux: root, or user namespaces), they run one after the other in this one.
import { execFileSync, spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: { jobs: { type: 'string' } },
});
const [project, ...filters] = positionals;
if (project !== 'system' && project !== 'peers') {
  console.error(
    'usage: node scripts/test-processes.mjs system|peers [--jobs N] [part of a file name...]',
  );
  process.exit(2);
}

/** Named namespaces of a test are files in /run/netns: each run gets a folder of its own there. */
const INSIDE =
  '{ mkdir -p /run/netns && mount -t tmpfs netns /run/netns; } 2>/dev/null; ip link set lo up && exec "$@"';
const WAYS = [
  ['unshare', '--net', '--mount'],
  ['unshare', '--map-root-user', '--net', '--mount'],
];
const way = WAYS.find(
  ([command, ...options]) =>
    spawnSync(command, [...options, 'sh', '-c', INSIDE, 'sh', 'true']).status === 0,
);
if (way === undefined) console.error('no network namespaces here: one file after the other');

const jobs = way === undefined ? 1 : Number(values.jobs ?? availableParallelism() + 1);
if (!(Number.isInteger(jobs) && jobs > 0)) {
  console.error(`--jobs ${values.jobs}: a whole number above 0, for instance --jobs 3`);
  process.exit(2);
}

const folder = join('tests', project);
const files = readdirSync(folder)
  .filter(name => name.endsWith('.test.ts'))
  .map(name => join(folder, name))
  .filter(file => filters.length === 0 || filters.some(part => file.includes(part)))
  // The largest first: they are likely to take longest, and the end should not wait for one of them.
  .sort((a, b) => statSync(b).size - statSync(a).size);
if (files.length === 0) {
  console.error(`no file in ${folder} has ${filters.join(' or ')} in its name`);
  process.exit(2);
}

execFileSync(process.execPath, ['scripts/build.mjs'], { stdio: 'inherit' });
const results = mkdtempSync(join(tmpdir(), 'lampwright-tests-'));
const vitest = join('node_modules', 'vitest', 'vitest.mjs');

/** Runs one file; its output is kept together, and shown in full if something failed. */
function run(file) {
  const result = join(results, `${file.replaceAll('/', '-')}.json`);
  const command = [
    ...(way === undefined ? [] : [...way, 'sh', '-c', INSIDE, 'sh']),
    process.execPath,
    vitest,
    ...['run', '--project', project, '--reporter=verbose', '--reporter=json'],
    `--outputFile.json=${result}`,
    file,
  ];
  return new Promise(resolve => {
    const child = spawn(command[0], command.slice(1), {
      env: { ...process.env, LAMPWRIGHT_BUILT: '1' },
      stdio: ['ignore', 'pipe', 'pipe'],
    });
    const output = [];
    child.stdout.on('data', piece => output.push(piece));
    child.stderr.on('data', piece => output.push(piece));
    child.on('error', error => resolve({ file, failed: true, output: error.message }));
    child.on('close', code => {
      const text = Buffer.concat(output).toString();
      try {
        const { numPassedTests, numTotalTests } = JSON.parse(readFileSync(result, 'utf8'));
        resolve({
          file,
          failed: code !== 0,
          passed: numPassedTests,
          total: numTotalTests,
          output: text,
        });
      } catch {
        resolve({ file, failed: true, output: text });
      }
    });
  });
}

const began = performance.now();
const queue = [...files];
const done = [];
async function lane() {
  for (let file = queue.shift(); file !== undefined; file = queue.shift()) {
    const start = performance.now();
    const outcome = await run(file);
    done.push(outcome);
    const tests =
      outcome.total === undefined ? 'no result' : `${outcome.passed} of ${outcome.total} passed`;
    const seconds = ((performance.now() - start) / 1000).toFixed(0);
    if (outcome.failed) console.log(outcome.output);
    console.log(` ${outcome.failed ? 'FAIL' : 'ok  '} ${file}: ${tests}, ${seconds} s`);
  }
}
await Promise.all(Array.from({ length: jobs }, lane));
rmSync(results, { recursive: true });

const failed = done.filter(outcome => outcome.failed).map(outcome => outcome.file);
const sum = key => done.reduce((total, outcome) => total + (outcome[key] ?? 0), 0);
console.log(`\n Test Files  ${done.length - failed.length} passed (${done.length})`);
console.log(`      Tests  ${sum('passed')} passed (${sum('total')})`);
console.log(`   Duration  ${((performance.now() - began) / 1000).toFixed(0)} s, ${jobs} at a time`);
if (failed.length > 0) console.log(`     Failed  ${failed.join(', ')}`);
process.exit(failed.length > 0 ? 1 : 0);
