import { readdirSync, readFileSync } from 'node:fs';
import { afterEach, expect, test, vi } from 'vitest';
import { main } from '../../src/commands/cli.js';
import { parseRequest } from '../../src/daemon/asking/request-words.js';

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
  const said = /All except (.*?) have `--json`/s.exec(README)?.[1] ?? '';
  expect([...said.matchAll(/`(\w+)`/g)].map(([, name]) => name).sort()).toEqual(without.sort());
});

test('the list of commands has tell, and its help has every word that the daemon takes', async () => {
  expect(await printed('--help')).toMatch(
    /^ {2}tell {8}give a running daemon an order: stop, resume, /m,
  );
  const help = await printed('tell', '--help');
  for (const verb of ['assign', 'unassign', 'stop', 'resume', 'reload', 'status']) {
    expect(help).toMatch(new RegExp(`^ {2}${verb}\\b.* {2,}\\S`, 'm'));
  }
});

test('check says when the watchdog acts, as its table does, and how long the fades take', async () => {
  const said = await printed('check', 'config/salt-lantern.show.yaml');
  // Of the defaults, but for a frozen tracker: (2 - 0.35) * 0.5 s of doubt, and 0.5 s.
  expect(said).toContain(
    '\n    watchdog, s until it acts + fade: tracker silent 0.5 + 2, confidence low 0.5 + 2, off the stage 0.5 + 2, frozen 1.32 + 2, engine late 0.25 + 2; back after 1 + 1.5\n',
  );
});

test('every command that the sources name to people is one', async () => {
  const help = await printed('--help');
  const names = new Set([...help.matchAll(/^ {2}([a-z]+) {2,}/gm)].map(([, name]) => name));
  const sources = readdirSync(new URL('src/', ROOT), { recursive: true, encoding: 'utf8' });
  let found = 0;
  const wrong: string[] = [];
  for (const file of sources.filter(name => name.endsWith('.ts'))) {
    const text = readFileSync(new URL(`src/${file}`, ROOT), 'utf8');
    // In ticks, in examples, and with the ticks about the name alone, which hides a command from this test.
    // A tick after "= " or "return " begins a text.
    const named =
      /(?:\\?(?<!= |return )`|^ {2}|usage: )lampwright(\\?`)?(?: ([a-z]+))?(?: [./$S]\S+ ([a-z]+))?/gm;
    for (const [whole, tick, name, verb] of text.matchAll(named)) {
      if (tick === undefined && name === undefined) continue;
      found += 1;
      const isTold = name !== 'tell' || verb === undefined || isRequest(verb);
      if (tick !== undefined || !names.has(name) || !isTold) wrong.push(`${file}: ${whole}`);
    }
  }
  expect(found).toBeGreaterThan(60);
  expect(wrong).toEqual([]);
});

function isRequest(verb: string): boolean {
  return [[], ['1'], ['1', 'ines']].some(rest => typeof parseRequest([verb, ...rest]) !== 'string');
}

test.each(['patch', 'jq'])('a page that uses %s can count on README having named it', tool => {
  const uses = pages.filter(({ text }) => new RegExp(`^ {4}(.*\\| )?${tool} `, 'm').test(text));
  expect(uses.length).toBeGreaterThan(0);
  expect(README).toContain(`\`${tool}\``);
});

test('no page kills by a pattern: another daemon on the machine would go with it', () => {
  expect(pages.filter(({ text }) => /\b(pkill|killall)\b/.test(text))).toEqual([]);
});

test('the row of a command in the reference has every option that its help has, and no others', async () => {
  const rows =
    readFileSync(new URL('docs/reference/commands.md', ROOT), 'utf8')
      .split('| exit code |')[0]
      ?.split('\n')
      .filter(line => line.startsWith('| `')) ?? [];
  expect(rows.length).toBeGreaterThan(15);
  const optionsIn = (text: string) =>
    [...new Set([...text.matchAll(/--[a-z][a-z-]*/g)].map(([option]) => option))].sort();
  for (const row of rows) {
    const words = (/^\| `([a-z ]+?)(?: [A-Z[].*?)?`/.exec(row)?.[1] ?? '').trim().split(' ');
    const help = await printed(...words, '--help');
    // Of other commands that it names, the options are theirs.
    const own = [...help.matchAll(/^ {2}(--[a-z][a-z-]*)/gm)].map(([, option = '']) => option);
    expect(
      optionsIn(row).filter(option => own.includes(option) || !help.includes(option)),
      words.join(' '),
    ).toEqual([...new Set(own)].sort());
  }
});

test('no jq line uses a word that jq keeps for itself as a short key', () => {
  // jq 1.6: a keyword needs quotes in {label, name}; 1.7 takes it.
  const lines = [
    ...pages.map(({ text }) => text),
    README,
    ...readdirSync(new URL('src/commands/', ROOT), { recursive: true, encoding: 'utf8' })
      .filter(name => name.endsWith('.ts'))
      .map(name => readFileSync(new URL(`src/commands/${name}`, ROOT), 'utf8')),
  ];
  const keys = lines.flatMap(text =>
    [...text.matchAll(/jq [^\n]*\{([^}]*)\}/g)].flatMap(([, list = '']) =>
      list.split(',').map(key => key.trim()),
    ),
  );
  expect(keys.length).toBeGreaterThan(0);
  expect(
    keys.filter(key =>
      /^(label|def|if|then|else|end|as|reduce|foreach|import|include|try|catch)$/.test(key),
    ),
  ).toEqual([]);
});
