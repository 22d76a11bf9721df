import { spawnSync } from 'node:child_process';
import {
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join, resolve } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { main } from '../../src/commands/cli.js';
import { captured } from './captured.js';

/**
 * What the pages say is done here: each command that needs no network and no stage is run, and what a page shows of its output
 * is compared. A block that begins with `$ lampwright` has the output below, and so has a block that comes straight after one of
 * commands; `...` in a line of its own is any lines, and dates and times of day are any.
 * With DOCS_PICTURES=1 the pictures of the pages are written anew.
 */
const RUN = [
  'aim',
  'assess',
  'calibrate',
  'check',
  'completion',
  'doctor',
  'explain',
  'import',
  'init',
  'plan',
  'reference',
  'rehearse',
  'replay',
  'report',
  'safety',
  'sweep',
  'tune',
];
/** Files of the reader's own, or of an evening that was; and what takes minutes. */
const NOT_HERE = [
  /\bmy\.show\.yaml|\bopera\.show\.yaml --record|\ba\.show\.yaml/,
  /recordings\//,
  /plot\.mvr|spot\.gdtf|rig\//,
  /\bmain\.show\.yaml|\/etc\/lampwright|\/var\/lib/,
  /--repeat/,
  /^assess .*(uwb_|dance)/,
  // Seconds each, and rehearsed by other tests.
  /^rehearse .*(lantern|tide)\.scene/,
  /rehearsal\.csv/,
  /^sweep\b/,
  /--ask|--live|--markers markers\.csv|--samples aims\.csv|--points points\.csv/,
  /\bSHOW\b|\bSTATE_DIR\b|\bREC\b|\bSCENE\b|\bFILE\b|\bNAME\b|\bFOLDER\b|\.\.\./,
  /~\//,
  /\btrial\b/,
  /\/tmp\//,
];
const PICTURES = [
  {
    page: 'docs/tutorial/from-an-empty-stage.md',
    made: 'anchors.svg',
    shown: 'docs/tutorial/pictures/anchors.svg',
  },
  {
    page: 'docs/tutorial/from-an-empty-stage.md',
    made: 'rehearsal.html',
    shown: 'docs/tutorial/pictures/rig.svg',
    labelled: 'the rig from above',
  },
];

interface Step {
  readonly line: number;
  readonly command: string;
  /** What the page shows of its output; undefined: nothing. */
  readonly shown: string | undefined;
  /** It was written for this test. */
  readonly isSure?: boolean;
}

/** YAML that the tutorial has its reader add to the show, and the commands, in the order of the page. */
function stepsOf(text: string): (Step | { readonly yaml: string })[] {
  const steps: (Step | { readonly yaml: string })[] = [];
  const lines = text.split('\n');
  for (let at = 0; at < lines.length; at++) {
    const line = lines[at] ?? '';
    const fence = /^```(\w*)\s*$/.exec(line);
    if (fence !== null) {
      const end = lines.indexOf('```', at + 1);
      const inside = lines.slice(at + 1, end);
      if (fence[1] === 'yaml') steps.push({ yaml: `${inside.join('\n')}\n` });
      else if (inside[0]?.startsWith('$ ')) {
        const shown = inside.slice(1).join('\n');
        steps.push({ line: at + 2, command: inside[0].slice(2), shown, isSure: true });
      } else steps.push(...commandsIn(inside, at + 2));
      at = end;
    } else if (/^ {4}\S/.test(line)) {
      const block = lines.slice(at).findIndex(one => !/^ {4}/.test(one));
      const inside = lines.slice(at, block < 0 ? undefined : at + block);
      steps.push(
        ...commandsIn(
          inside.map(one => one.slice(4)),
          at + 1,
        ),
      );
      at += inside.length - 1;
    }
  }
  return steps;
}

function commandsIn(lines: readonly string[], first: number): Step[] {
  return lines.flatMap((line, index) => {
    // The reader's own copy of a show of ours.
    if (/^sed .* config\/\S+ > \w[\w.]*$/.test(line))
      return [{ line: first + index, command: line, shown: undefined }];
    if (!/^(npx )?lampwright /.test(line)) return [];
    let command = line;
    for (let next = index + 1; command.endsWith('\\'); next++)
      command = `${command.slice(0, -1)} ${lines[next]?.trim()}`;
    return [{ line: first + index, command, shown: undefined }];
  });
}

/** As a shell would take it apart, as far as the pages go; what follows a pipe or a comment is another program's. */
function wordsOf(command: string): string[] {
  const own = command.replace(/^(npx )?lampwright /, '').split(/ \| | > | {2,}# ?| && /)[0] ?? '';
  return [...own.matchAll(/"([^"]*)"|(\S+)/g)].map(([, quoted, plain]) => quoted ?? plain ?? '');
}

const home = process.cwd();
const pages = [
  'README.md',
  'docs/tutorial',
  'docs/guides',
  'docs/concepts',
  'docs/reference',
].flatMap(path =>
  path.endsWith('.md')
    ? [path]
    : readdirSync(path)
        .filter(name => name.endsWith('.md'))
        .map(name => join(path, name)),
);
const said = captured();
let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-docs-'));
});
afterAll(() => {
  process.chdir(home);
  rmSync(folder, { recursive: true });
});

const isRun = (step: Step | { readonly yaml: string }): step is Step => {
  if ('yaml' in step) return false;
  if (step.command.startsWith('sed ')) return true;
  const words = wordsOf(step.command);
  const isAbout = RUN.includes(words[0] ?? '');
  return isAbout && (step.isSure === true || !NOT_HERE.some(one => one.test(words.join(' '))));
};
/** Of what the page itself has recorded. */
const hasNoRecording = ({ command }: Step) =>
  / recordings\b/.test(command) && !command.includes('--record') && !existsSync('recordings');
let ran = 0;
const read = pages
  .map(page => ({ page, steps: stepsOf(readFileSync(page, 'utf8')) }))
  .filter(({ steps }) => steps.some(isRun));
describe.each(read)('$page', ({ page, steps }) => {
  it('what it says can be done, and is as it is shown', async () => {
    // The pages are read in a clone; what a command writes goes beside it.
    const here = join(folder, page.replaceAll('/', '-'));
    mkdirSync(here);
    for (const name of ['config', 'docs', 'tests'])
      symlinkSync(resolve(home, name), join(here, name));
    process.chdir(here);
    try {
      for (const step of steps) {
        if ('yaml' in step) {
          const show = join(here, 'opera.show.yaml');
          if (existsSync(show)) writeFileSync(show, `${readFileSync(show, 'utf8')}\n${step.yaml}`);
          continue;
        }
        if (!isRun(step) || hasNoRecording(step)) continue;
        if (step.command.startsWith('sed ')) {
          expect(spawnSync('sh', ['-c', step.command]).status, step.command).toBe(0);
          continue;
        }
        said.clear();
        const code = await main(wordsOf(step.command));
        ran += 1;
        const where = `${page}:${step.line}: ${step.command}`;
        // 1 is an answer too: what was looked at has a fault.
        expect(code, `${where}\n${said.err}`).toBeLessThanOrEqual(1);
        expect(said.err, where).not.toMatch(/^\s+at .*:\d+:\d+\)?$/m);
        if (step.shown !== undefined) expectShown(step.shown, said.out, where);
      }
      for (const picture of PICTURES.filter(one => one.page === page)) {
        const made = svgIn(readFileSync(picture.made, 'utf8'), picture.labelled);
        const shown = join(home, picture.shown);
        if (process.env.DOCS_PICTURES === '1') {
          mkdirSync(dirname(shown), { recursive: true });
          writeFileSync(shown, made);
        }
        expect(readFileSync(shown, 'utf8'), picture.shown).toBe(made);
      }
    } finally {
      process.chdir(home);
    }
  });
});

it('some commands were run', () => expect(ran).toBeGreaterThan(15));

/** The picture itself, or the one of a page with this label, as a file of its own. */
function svgIn(text: string, labelled: string | undefined): string {
  if (labelled === undefined) return text;
  const found = [...text.matchAll(/<svg[\s\S]*?<\/svg>/g)].find(([one]) =>
    one.includes(`aria-label="${labelled}"`),
  );
  const picture = (found?.[0] ?? '')
    .replace('<svg ', '<svg xmlns="http://www.w3.org/2000/svg" font-family="sans-serif" ')
    .replace(' font-family="inherit"', '');
  return `${picture}\n`;
}

function expectShown(shown: string, out: string, where: string): void {
  const trimmed = (text: string) =>
    text
      .split('\n')
      .map(line =>
        line
          .trimEnd()
          .replace(/\d{4}-\d\d-\d\d/g, 'DAY')
          .replace(/\d\d:\d\d:\d\d/g, 'TIME'),
      )
      .join('\n')
      .trim();
  const pattern = trimmed(shown)
    .split(/^\.\.\.$/m)
    .map(part => part.replace(/[.*+?^${}()|[\]\\]/g, '\\$&').trim())
    .join('\n[\\s\\S]*?');
  expect(trimmed(out), where).toMatch(new RegExp(`^${pattern}$`));
}
