import { spawnSync } from 'node:child_process';
import { describe, expect, it } from 'vitest';
import { COMMANDS } from '../../src/commands/cli.js';
import { completedCommands } from '../../src/commands/setting-up/completion.js';
import { manualPages } from '../../src/commands/setting-up/reference.js';
import { completionOf } from '../../src/reference/completion.js';
import { helpOptions, readHelp } from '../../src/reference/help-text.js';
import { manualPage } from '../../src/reference/manual.js';

const HELP = `usage: lampwright glow LAMP [--hue warm|cold]
                 [--for S]
       lampwright glow --all

Lets a lamp glow, as \`glow\` does.
It's over after a minute.

  LAMP              one of the show
  --hue warm|cold   its hue: warm if not
                    said
  --for S           for how long
  --near M, --far M  from where to where

Nobody looks into it.

examples:
  lampwright glow stove \\
    --for 5

exit codes: 0 it glows, 1 it does
not`;

describe('a help text', () => {
  const read = readHelp(HELP);
  it('is taken apart', () => {
    expect(read).toEqual({
      usage: ['lampwright glow LAMP [--hue warm|cold] [--for S]', 'lampwright glow --all'],
      body: [
        { kind: 'paragraph', text: "Lets a lamp glow, as `glow` does. It's over after a minute." },
        { kind: 'paragraph', text: 'Nobody looks into it.' },
      ],
      options: [
        { term: 'LAMP', text: 'one of the show' },
        { term: '--hue warm|cold', text: 'its hue: warm if not said' },
        { term: '--for S', text: 'for how long' },
        { term: '--near M, --far M', text: 'from where to where' },
      ],
      examples: ['lampwright glow stove \\', '  --for 5'],
      exitCodes: '0 it glows, 1 it does not',
    });
  });
  it('says what its options take', () => {
    expect(helpOptions(read, { hue: true, far: true, all: false })).toEqual([
      { name: 'hue', takesValue: true, choices: ['warm', 'cold'], text: 'its hue' },
      { name: 'far', takesValue: true, choices: [], text: 'from where to where' },
      { name: 'all', takesValue: false, choices: [], text: '' },
    ]);
  });
  it('becomes a manual page, in which nothing is lost or taken for a macro', () => {
    const page = manualPage({
      name: 'lampwright-glow',
      summary: 'let a lamp glow',
      help: HELP.replace('Nobody', '.Nobody'),
      version: '1.2.3',
      seeAlso: ['lampwright'],
    });
    expect(page).toContain('.TH LAMPWRIGHT-GLOW 1 "" "lampwright 1.2.3" "lampwright"\n');
    expect(page).toContain('as \\fBglow\\fR does. It\\(aqs over');
    expect(page).toContain('\n\\&.Nobody looks into it.\n');
    expect(page).toContain('.TP\n\\fB\\-\\-for S\\fR\nfor how long\n');
    expect(page).toContain('lampwright glow stove \\e\n  \\-\\-for 5\n');
  });
});

describe('every command', () => {
  const commands = completedCommands(COMMANDS);
  it('has a manual page with all of its options', () => {
    const pages = manualPages(COMMANDS, '0.0.0');
    expect(Object.keys(pages)).toContain('lampwright-calibrate-fixture.1');
    for (const { name, options, words } of commands) {
      const own = [name, ...words.map(word => `${name}-${word}`)];
      const text = own.map(one => pages[`lampwright-${one}.1`] ?? '').join('');
      for (const option of options) {
        expect(text, name).toContain(`\\-\\-${option.name.replaceAll('-', '\\-')}`);
      }
    }
  });
  it('says in its help what each option is', () => {
    const silent = commands.flatMap(({ name, options }) =>
      options.filter(({ text }) => text === '').map(option => `${name} --${option.name}`),
    );
    expect(silent).toEqual([]);
  });
});

describe('completion in bash, asked of bash', () => {
  const script = completionOf('bash', completedCommands(COMMANDS));
  const asked = (...words: readonly string[]) => {
    const { stdout, stderr } = spawnSync(
      'bash',
      [
        '-c',
        `${script}
COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); _lampwright; printf '%s\\n' "\${COMPREPLY[@]}"`,
        'bash',
        'lampwright',
        ...words,
      ],
      { encoding: 'utf8' },
    );
    return stderr + stdout.trim();
  };
  it.each([
    [['rehe'], 'rehearse'],
    [['run', '--standb'], '--standby'],
    [['run', '--log', 'j'], 'json'],
    [['calibrate', 'fix'], 'fixture'],
    [['check', 'package.js'], 'package.json'],
    [['report', '--html', 'package.js'], 'package.json'],
    [['tell', '/var/lib/lampwright/main', 'ass'], 'assign'],
    [['--vers'], '--version'],
  ])('%j', (words, expected) => expect(asked(...words)).toBe(expected));
});

describe('completion in zsh and fish', () => {
  it('has every command and every option, each text in quotes that end', () => {
    for (const shell of ['zsh', 'fish'] as const) {
      const script = completionOf(shell, completedCommands(COMMANDS));
      for (const name of Object.keys(COMMANDS)) expect(script).toContain(name);
      for (const line of script.split('\n')) {
        expect((line.match(/'/g) ?? []).length % 2, line).toBe(0);
      }
    }
  });
});
