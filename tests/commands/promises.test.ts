import { readdirSync, readFileSync } from 'node:fs';
import { afterEach, expect, test, vi } from 'vitest';
import { main } from '../../src/commands/cli.js';

/** What README and guides promise of the commands and of what is needed beside them. */
const ROOT = new URL('../../', import.meta.url);
const README = readFileSync(new URL('README.md', ROOT), 'utf8');
const mdIn = (folder: string) =>
  readdirSync(new URL(folder, ROOT)).filter(name => name.endsWith('.md'));
const pages = ['docs/guides/', 'docs/tutorial/'].flatMap(folder =>
  mdIn(folder).map(name => ({
    name,
    text: readFileSync(new URL(folder + name, ROOT), 'utf8'),
  })),
);

afterEach(() => {
  vi.restoreAllMocks();
});

async function printed(...argv: string[]): Promise<string> {
  let out = '';
  const write = vi.spyOn(process.stdout, 'write').mockImplementation(text => {
    out += String(text);
    return true;
  });
  expect(await main(argv)).toBe(0);
  write.mockRestore();
  return out;
}

test('README names the commands without --json, and there are no others', async () => {
  const help = await printed('--help');
  const names = [...help.matchAll(/^ {2}([a-z]+) {2,}/gm)].map(([, name = '']) => name);
  expect(names.length).toBeGreaterThan(10);
  const without: string[] = [];
  for (const name of names) {
    // What `calibrate` takes is in the help of what it calibrates.
    const words = name === 'calibrate' ? [name, 'stage'] : [name];
    if (!(await printed(...words, '--help')).includes('--json')) without.push(name);
  }
  const said = /all but (.*?) have `--json`/s.exec(README)?.[1] ?? '';
  expect([...said.matchAll(/`(\w+)`/g)].map(([, name]) => name).sort()).toEqual(without.sort());
});

test.each(['patch', 'jq'])('a page that uses %s can count on README having named it', tool => {
  const uses = pages.filter(({ text }) => new RegExp(`^ {4}(.*\\| )?${tool} `, 'm').test(text));
  expect(uses.length).toBeGreaterThan(0);
  expect(README).toContain(`\`${tool}\``);
});

test('no page kills by a pattern: another daemon on the machine would go with it', () => {
  expect(pages.filter(({ text }) => /\b(pkill|killall)\b/.test(text))).toEqual([]);
});
