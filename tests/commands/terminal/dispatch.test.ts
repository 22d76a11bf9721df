import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeEach, expect, test } from 'vitest';
import { main } from '../../../src/commands/cli.js';
import { type Arguments, type Command, dispatch } from '../../../src/commands/terminal/dispatch.js';
import { captured } from '../captured.js';

const folder = mkdtempSync(join(tmpdir(), 'lampwright-dispatch-'));
const at = (name: string) => join(folder, name);
const said = captured();
let ran: Arguments[] = [];

const COMMAND: Command = {
  summary: 'writes a page',
  help: 'usage: lampwright page\n\n  --html FILE      a page\n\nexamples:\n  lampwright page',
  options: { html: { type: 'string' }, plots: { type: 'string' } },
  words: [0, 0],
  writes: ['html'],
  fills: ['plots'],
  run: async args => {
    ran.push(args);
    return 0;
  },
};

beforeEach(() => {
  ran = [];
});
afterAll(() => rmSync(folder, { recursive: true }));

test('a scene that is not there is bad usage, and one show with errors has them counted', async () => {
  const show = 'config/salt-lantern.show.yaml';
  expect(await main(['play', at('none.scene.yaml'), '--show', show])).toBe(2);
  writeFileSync(at('broken.show.yaml'), 'lampwright: 1\nname: 3\n');
  expect(await main(['run', at('broken.show.yaml')])).toBe(1);
  expect(said.err).toMatch(/^\d+ errors?\.$/m);
});

test('a file that is there is refused before anything is done, and replaced when told', async () => {
  writeFileSync(at('page.html'), 'mine');
  mkdirSync(at('plots'), { recursive: true });
  writeFileSync(at('plots/a.svg'), 'mine');
  const asked = ['--html', at('page.html'), '--plots', at('plots')];
  expect(await dispatch('page', COMMAND, asked)).toBe(2);
  expect(ran).toEqual([]);
  expect(said.err).toContain(`--html: ${at('page.html')} is there already.`);
  expect(said.err).toContain(`--plots: ${at('plots')} has files in it already.`);
  expect(said.err).toContain('nothing was written; --force replaces what is there.');
  expect(await dispatch('page', COMMAND, [...asked, '--force'])).toBe(0);
  expect(ran).toHaveLength(1);
});

test('what is not there, an empty folder and a device are written to', async () => {
  mkdirSync(at('empty'));
  const asked = ['--html', '/dev/null', '--plots', at('empty')];
  expect(await dispatch('page', COMMAND, asked)).toBe(0);
  expect(await dispatch('page', COMMAND, ['--html', at('new.html')])).toBe(0);
});

test('help says so', async () => {
  await dispatch('page', COMMAND, ['--help']);
  // In the column of the option before it.
  expect(said.out).toMatch(/ {2}--html FILE {6}a page\n {2}--force {10}overwrite existing files/);
});

const POINTS = 'config/examples/salt-lantern.points.csv';
const SHOW = 'config/salt-lantern.show.yaml';
// biome-ignore format: a table
test.each([
  ['safety', SHOW, '--html'],
  ['plan', SHOW, '--plot'],
  ['calibrate', 'stage', SHOW, '--points', POINTS, '--plot'],
  ['calibrate', 'stage', SHOW, '--points', POINTS, '--patch'],
  ['calibrate', 'fixture', SHOW, '--samples', 'config/examples/salt-lantern.aims.csv', '--plot'],
  ['rehearse', SHOW, 'config/scenes/lantern.scene.yaml', '--html'],
  ['rehearse', SHOW, 'config/scenes/lantern.scene.yaml', '--explain'],
  ['report', 'none', '--html'],
  ['replay', 'none', '--explain'],
])('is the rule of %s %s', async (...words) => {
  const taken = at('taken.csv');
  writeFileSync(taken, 'mine');
  expect(await main([...words, taken])).toBe(2);
  expect(said.err).toContain(`${taken} is there already.`);
  expect(readFileSync(taken, 'utf8')).toBe('mine');
  expect(said.out).toBe('');
});
