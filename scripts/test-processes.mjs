// node scripts/test-processes.mjs --help
// Runs the test files that start real processes, several at a time, each in a network of its own. Where the
// system refuses to make one (unshare of util-linux: root, or user namespaces), they run one after the other.
import { execFileSync, spawn } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import { basename, dirname, join } from 'node:path';
import { inLanes, ownNetwork } from './lanes.mjs';
import { misuse, readOptions } from './options.mjs';

const PROJECTS = ['system', 'peers'];
/**
 * They pack, install and unpack what ships, draw many pages, or wait for what receivers do: minutes, though the files
 * are small.
 */
const LONGEST = [
  'tests/peers/package.test.ts',
  'tests/peers/debian.test.ts',
  'tests/peers/paper.test.ts',
  'tests/peers/two-machines.test.ts',
  'tests/peers/two-machines-stops.test.ts',
  'tests/peers/two-machines-return.test.ts',
];
/** More than so many failures are no matter of the machine's load. */
const MOST_AGAIN = 3;
const USAGE = `
node scripts/test-processes.mjs system|peers... [--jobs N] [part of a file name...]

Runs the test files that start real processes, several at a time, each in a network of its own. Up to 3 that failed
are run once more by themselves.

  --jobs N   files at a time; twice the processors unless said
  --help     this

  node scripts/test-processes.mjs system
  node scripts/test-processes.mjs system peers ownership
`;
const { values, positionals } = readOptions(USAGE, { jobs: { type: 'string', least: 1 } }, true);
const projects = positionals.filter(word => PROJECTS.includes(word));
const filters = positionals.filter(word => !PROJECTS.includes(word));
if (projects.length === 0) misuse(`Which: ${PROJECTS.join(' or ')}?`);

const isolated = ownNetwork();
if (isolated === undefined) console.error('no network namespaces here: one file after the other');

const jobs = isolated === undefined ? 1 : (values.jobs ?? 2 * availableParallelism());

const files = projects
  .map(project => join('tests', project))
  .flatMap(folder => readdirSync(folder).map(name => join(folder, name)))
  .filter(file => file.endsWith('.test.ts'))
  .filter(file => filters.length === 0 || filters.some(part => file.includes(part)))
  // The largest first: they are likely to take longest, and the end should not wait for one of them.
  .sort((a, b) => lengthOf(b) - lengthOf(a));
if (files.length === 0) {
  misuse(`No file of ${projects.join(' and ')} has ${filters.join(' or ')} in its name.`);
}

function lengthOf(file) {
  return LONGEST.includes(file) ? Number.MAX_SAFE_INTEGER : statSync(file).size;
}

execFileSync(process.execPath, ['scripts/build.mjs'], { stdio: 'inherit' });
const results = mkdtempSync(join(tmpdir(), 'lampwright-tests-'));
const vitest = join('node_modules', 'vitest', 'vitest.mjs');

/** Runs one file; its output is kept together, and shown in full if something failed. */
function run(file) {
  const result = join(results, `${file.replaceAll('/', '-')}.json`);
  const project = basename(dirname(file));
  const own = [
    // They measure no time: those beside them do.
    ...(LONGEST.includes(file) ? ['nice', '-n', '10'] : []),
    ...[process.execPath, vitest, 'run', '--project', project],
    ...['--reporter=verbose', '--reporter=json', `--outputFile.json=${result}`, file],
  ];
  const command = isolated?.(own) ?? own;
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

/** Runs one file and tells how it went; what it printed only if something failed. */
async function told(file) {
  const start = performance.now();
  const outcome = await run(file);
  const tests =
    outcome.total === undefined ? 'no result' : `${outcome.passed} of ${outcome.total} passed`;
  const seconds = ((performance.now() - start) / 1000).toFixed(0);
  if (outcome.failed) console.log(outcome.output);
  console.log(` ${outcome.failed ? 'FAIL' : 'ok  '} ${file}: ${tests}, ${seconds} s`);
  return outcome;
}

const began = performance.now();
let done = [];
await inLanes(jobs, files, async file => done.push(await told(file)));

// They measure real time on a machine that the others have loaded: a few that failed are asked again by themselves.
// What passes then is told, with what it printed the first time: there may be a fault that comes now and then.
const late = done.filter(outcome => outcome.failed).map(outcome => outcome.file);
const onlyBeside = [];
if (jobs > 1 && files.length > 1 && late.length <= MOST_AGAIN) {
  for (const file of late) {
    console.log(`\n again, alone: ${file}`);
    const outcome = await told(file);
    if (outcome.failed) continue;
    onlyBeside.push(file);
    done = [...done.filter(one => one.file !== file), outcome];
  }
}
rmSync(results, { recursive: true });

const failed = done.filter(outcome => outcome.failed).map(outcome => outcome.file);
const sum = key => done.reduce((total, outcome) => total + (outcome[key] ?? 0), 0);
console.log(`\n Test Files  ${done.length - failed.length} passed (${done.length})`);
console.log(`      Tests  ${sum('passed')} passed (${sum('total')})`);
console.log(`   Duration  ${((performance.now() - began) / 1000).toFixed(0)} s, ${jobs} at a time`);
if (onlyBeside.length > 0) console.log(`Only beside others failed  ${onlyBeside.join(', ')}`);
if (failed.length > 0) console.log(`     Failed  ${failed.join(', ')}`);
process.exit(failed.length > 0 ? 1 : 0);
