// Documentation must not lie: the generated pages are those that the schema gives today, links lead
// somewhere, the commands and options that the pages show exist, and so does the code that they name.
import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import layers from './layers.cjs';
import rooms from './rooms.cjs';

const lampwright = (...args) =>
  execFileSync(process.execPath, ['dist/main.js', ...args], { encoding: 'utf8' });

const problems = [...stalePages(), ...wrongLayers(), ...pages().flatMap(check)];
for (const problem of problems) console.error(problem);
process.exitCode = problems.length > 0 ? 1 : 0;

function stalePages() {
  const fresh = mkdtempSync(join(tmpdir(), 'lampwright-docs-'));
  lampwright('reference', '--write', fresh);
  const read = file => (existsSync(file) ? readFileSync(file, 'utf8') : '');
  const stale = readdirSync(fresh).filter(
    name => read(join(fresh, name)) !== read(join('docs/reference', name)),
  );
  rmSync(fresh, { recursive: true });
  return stale.map(name => `docs/reference/${name} is stale: npm run docs:generate`);
}

/** The layers that the two pages draw are those that `npm run layers` holds, and no folder is left out. */
function wrongLayers() {
  const drawn = [...layers, ['main']].map(row => row.join(', ')).join(' <- ');
  const folders = readdirSync('src', { withFileTypes: true }).filter(entry => entry.isDirectory());
  return [
    ...['DEVELOPERS.md', 'docs/concepts/architecture.md']
      .filter(file => !readFileSync(file, 'utf8').replace(/\s+/g, ' ').includes(drawn))
      .map(file => `${file} does not draw the layers as they are: ${drawn}`),
    ...folders
      .filter(({ name }) => !layers.flat().includes(name))
      .map(({ name }) => `src/${name} is in no layer of scripts/layers.cjs`),
    ...Object.entries(rooms).flatMap(([folder, rows]) => wrongRooms(folder, rows)),
  ];
}

/** The same of the rooms of a folder. */
function wrongRooms(folder, rows) {
  const page = 'docs/concepts/architecture.md';
  const drawn = rows.map(row => row.join(', ').replace('.', 'itself')).join(' <- ');
  const told = readFileSync(page, 'utf8').replace(/\s+/g, ' ');
  const inside = readdirSync(join('src', folder), { withFileTypes: true });
  return [
    ...(told.includes(`${folder}: ${drawn}`)
      ? []
      : [`${page} does not draw the rooms of src/${folder} as they are: ${drawn}`]),
    ...inside
      .filter(entry => entry.isDirectory() && !rows.flat().includes(entry.name))
      .map(({ name }) => `src/${folder}/${name} is in no row of scripts/rooms.cjs`),
  ];
}

function pages() {
  const inDocs = readdirSync('docs', { recursive: true }).map(name => join('docs', name));
  return ['README.md', 'DEVELOPERS.md', 'CHANGELOG.md', ...inDocs].filter(file =>
    file.endsWith('.md'),
  );
}

function check(file) {
  let isFenced = false;
  return readFileSync(file, 'utf8')
    .split('\n')
    .flatMap((line, index) => {
      if (line.trimStart().startsWith('```')) isFenced = !isFenced;
      const isBlock = isFenced || /^( {4}|\t)/.test(line);
      const found = [
        ...badLinks(file, line),
        ...badCommands(line, isBlock),
        ...badCode(line),
        ...badTests(line),
      ];
      return found.map(problem => `${file}:${index + 1}: ${problem}`);
    });
}

function badLinks(file, line) {
  return [...line.matchAll(/\]\(([^)\s]+)\)/g)]
    .map(([, target]) => target)
    .filter(target => !/^(https?:|mailto:|#)/.test(target))
    .filter(target => !existsSync(join(dirname(file), target.split('#')[0])))
    .map(target => `the link to ${target} leads nowhere`);
}

/** Of `lampwright WORD ... --option`, in a code block or between backticks. */
function badCommands(line, isBlock) {
  const shown = isBlock ? [line] : [...line.matchAll(/`([^`]+)`/g)].map(([, code]) => code);
  return shown.flatMap(code => {
    // What follows a pipe, an `&&` or a comment is another program's.
    const [own] = (code.match(/lampwright [a-z].*/)?.[0] ?? '').split(/ [|#;] ?| && | > /);
    const [, command, rest] = /^lampwright (calibrate [a-z]+|[a-z-]+)(.*)$/.exec(own ?? '') ?? [];
    if (command === undefined) return [];
    const help = helpOf(command);
    if (help === undefined) return [`there is no command "lampwright ${command}"`];
    return [...rest.matchAll(/(?<=\s)--[a-z-]+/g)]
      .map(([option]) => option)
      .filter(option => option !== '--help' && !help.includes(option))
      .map(option => `lampwright ${command} has no option ${option}`);
  });
}

/** Files of src/ between backticks; in a table, a function in the cell after one is in it. */
function badCode(line) {
  const cells = line.split('|').map(cell => cell.trim());
  return [...line.matchAll(/`(?:src\/)?([a-z-]+\/[a-z/-]+\.ts)`/g)].flatMap(([shown, name]) => {
    const path = join('src', name);
    if (name.startsWith('tests/')) return [];
    if (!existsSync(path)) return [`there is no ${path}`];
    const [, called] = /^`(#?[a-zA-Z]+)`$/.exec(cells[cells.indexOf(shown) + 1] ?? '') ?? [];
    if (called === undefined) return [];
    const defined = new RegExp(`^(export )?(async )?(function )?[ ]*${called}\\(`, 'm');
    return defined.test(readFileSync(path, 'utf8')) ? [] : [`${path} has no ${called}`];
  });
}

/** Tests that a page names: each is there. */
function badTests(line) {
  return [...line.matchAll(/`(tests\/[\w./-]+\.ts)`/g)]
    .filter(([, name]) => !existsSync(name))
    .map(([, name]) => `there is no ${name}`);
}

function helpOf(command) {
  helpOf.known ??= new Map();
  if (!helpOf.known.has(command)) {
    let help;
    try {
      help = lampwright(...command.split(' '), '--help');
    } catch {
      help = undefined;
    }
    helpOf.known.set(command, help);
  }
  return helpOf.known.get(command);
}
