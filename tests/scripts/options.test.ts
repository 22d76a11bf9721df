import { spawnSync } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, it } from 'vitest';

const SCRIPT = `import { readOptions } from './scripts/options.mjs';
const { values, positionals } = readOptions('\\nUSAGE\\n', {
  seeds: { type: 'string', default: '3', least: 1 },
  parts: { type: 'string', from: ['cpu', 'memory'] },
  fault: { type: 'string', hidden: true },
});
console.log(JSON.stringify({ ...values, positionals }));`;
const run = (...args: string[]) => {
  const all = ['--input-type=module', '-e', SCRIPT, '--', ...args];
  const { status, stdout, stderr } = spawnSync(process.execPath, all, { encoding: 'utf8' });
  return { status, said: stdout + stderr };
};

it('options of scripts: a usage text, and plain words for what is wrong, with exit code 2', () => {
  expect(run('--help')).toEqual({ status: 0, said: 'USAGE\n' });
  expect(run('--parts', 'cpu,memory')).toEqual({
    status: 0,
    said: '{"parts":["cpu","memory"],"seeds":3,"positionals":[]}\n',
  });
  const help = '--help says more.\n';
  const options = `Options are --seeds, --parts, --help. ${help}`;
  for (const [args, said] of [
    [['--seed', '2'], `Unknown option '--seed'. ${options}`],
    [['--seeds'], `Option '--seeds <value>' argument missing. ${options}`],
    [['two'], `Unexpected argument 'two'. ${options}`],
    [['--seeds', '0'], `--seeds 0: a whole number of 1 or more, as in --seeds 1. ${help}`],
    [['--seeds', '1e3x'], `--seeds 1e3x: a whole number of 1 or more, as in --seeds 1. ${help}`],
    [['--parts', 'disk'], `--parts: there is no disk; there are cpu, memory. ${help}`],
  ] as const) {
    expect(run(...args)).toEqual({ status: 2, said });
  }
});

it('no script reads its options in another way', () => {
  const scripts = readdirSync('scripts').filter(name => name.endsWith('.mjs'));
  const own = scripts.filter(name =>
    readFileSync(join('scripts', name), 'utf8').includes('parseArgs'),
  );
  expect(own).toEqual(['options.mjs']);
});
