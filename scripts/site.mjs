// npm run docs:site: the pages of docs/ as a site that is read from a folder, without a server and without a network, its
// search too. By Sphinx with MyST, from Debian: python3-sphinx, python3-myst-parser, furo (docs/decisions/0034-documentation-site.md).
// A link or a heading that leads nowhere is an error.
import { execFileSync } from 'node:child_process';
import {
  cpSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join, resolve } from 'node:path';
import { readOptions } from './options.mjs';

const USAGE = `
node scripts/site.mjs [--out FOLDER]

  --out FOLDER   where the site goes (site); what is there is replaced
  --help         this
`;
const { values } = readOptions(USAGE, { out: { type: 'string' } });
const { version } = JSON.parse(readFileSync('package.json', 'utf8'));
const out = resolve(values.out ?? 'site');
/** As they stand beside each other in the source, so that links lead from one to the other. */
const PARTS = ['docs', 'config', 'systemd', 'CHANGELOG.md', 'DEVELOPERS.md', 'LICENSE'];
const SECTIONS = [
  ['Tutorial', 'tutorial'],
  ['Guides', 'guides'],
  ['Reference', 'reference'],
  ['Concepts', 'concepts'],
  ['Decisions', 'decisions'],
];

try {
  execFileSync('sphinx-build', ['--version'], { stdio: 'ignore' });
} catch {
  console.error(
    'There is no sphinx-build: apt-get install python3-sphinx python3-myst-parser furo',
  );
  process.exit(2);
}
const source = mkdtempSync(join(tmpdir(), 'lampwright-site-'));
try {
  for (const part of PARTS) cpSync(part, join(source, part), { recursive: true });
  withoutFolders();
  writeFileSync(join(source, 'index.md'), index());
  rmSync(out, { recursive: true, force: true });
  const sphinx = [
    '-b',
    'html',
    '-c',
    'scripts/site',
    '-d',
    join(source, '.doctrees'),
    '-D',
    `html_title=lampwright ${version}`,
  ];
  console.error(`site: Sphinx makes ${filesIn(source, '.md').length} pages ...`);
  execFileSync(
    'sphinx-build',
    [...sphinx, '-q', '-W', '--keep-going', '-n', '-j', 'auto', source, out],
    {
      stdio: 'inherit',
      env: { ...process.env, SOURCE_DATE_EPOCH: process.env.SOURCE_DATE_EPOCH ?? epoch() },
    },
  );
  const fetched = fetchedByPages();
  if (fetched.length > 0) throw new Error(`needs a network: ${fetched.join(', ')}`);
  for (const left of ['.buildinfo', 'objects.inv']) rmSync(join(out, left), { force: true });
} finally {
  rmSync(source, { recursive: true, force: true });
}

/** A link to a folder leads nowhere in a site: what it is called stays. */
function withoutFolders() {
  for (const file of filesIn(source, '.md')) {
    const text = readFileSync(file, 'utf8');
    const changed = text.replace(/\[([^\]]*)\]\(([^)#\s]+)\)/g, (link, words, target) => {
      if (/^[a-z]+:/.test(target)) return link;
      const at = statSync(join(dirname(file), target), { throwIfNoEntry: false });
      return at?.isDirectory() ? words : link;
    });
    if (changed !== text) writeFileSync(file, changed);
  }
}

/** What a browser would fetch to show a page; a link that somebody has to click is none. */
function fetchedByPages() {
  const found = filesIn(out, '.html').flatMap(file => [
    ...readFileSync(file, 'utf8').matchAll(
      /<(?:script|img|link)[^>]+(?:src|href)="(?:https?:)?\/\/[^"]+"/g,
    ),
  ]);
  const styles = filesIn(out, '.css').flatMap(file => [
    ...readFileSync(file, 'utf8').matchAll(/(?:@import|url\()\s*["']?(?:https?:)?\/\/[^"')]+/g),
  ]);
  return [...new Set([...found, ...styles].map(([what]) => what))];
}

function filesIn(folder, ending) {
  return readdirSync(folder, { recursive: true })
    .filter(name => name.endsWith(ending))
    .map(name => join(folder, name));
}

/** The list of docs/README.md, and all pages for the navigation: those of that list in its order, then the rest. */
function index() {
  const listed = readFileSync('docs/README.md', 'utf8');
  const order = [...listed.matchAll(/\]\(([a-z-]+)\/([\w.-]+\.md)(?:#[^)]*)?\)/g)].map(
    ([, folder, name]) => `${folder}/${name}`,
  );
  const trees = SECTIONS.map(([title, folder]) => {
    const pages = readdirSync(join('docs', folder))
      .filter(name => name.endsWith('.md'))
      .map(name => `${folder}/${name}`);
    const sorted = [...new Set([...order.filter(page => pages.includes(page)), ...pages])];
    return toctree(
      title,
      sorted.map(page => `docs/${page.replace(/\.md$/, '')}`),
    );
  });
  return `${readFileSync('README.md', 'utf8')}
${trees.join('\n')}
${toctree('The project', ['docs/README', 'CHANGELOG', 'DEVELOPERS'])}`;
}

function toctree(title, pages) {
  return ['```{toctree}', ':hidden:', `:caption: ${title}`, '', ...pages, '```', ''].join('\n');
}

function epoch() {
  return execFileSync('git', ['log', '-1', '--format=%ct'], { encoding: 'utf8' }).trim();
}
