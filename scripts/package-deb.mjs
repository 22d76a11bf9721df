// npm run package:deb: what `npm pack` ships as a package for Debian, with the unit, a show that reaches nothing outside of the
// machine, manual pages, completion and the documentation. By dpkg-deb. The same source gives the same bytes: all times
// are SOURCE_DATE_EPOCH, or else that of the last commit. docs/guides/install-as-a-service.md says how it is used.
import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import {
  chmodSync,
  cpSync,
  lutimesSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { COMMANDS } from '../dist/commands/cli.js';
import { completedCommands } from '../dist/commands/setting-up/completion.js';
import { manualPages } from '../dist/commands/setting-up/reference.js';
import { completionOf } from '../dist/reference/completion.js';
import { readOptions } from './options.mjs';

const USAGE = `
node scripts/package-deb.mjs [--out FOLDER] [--version VERSION] [--site FOLDER]

Makes lampwright_VERSION_all.deb of what is in dist/: build first.

  --out FOLDER        where it goes (.)
  --version VERSION   another version than that of package.json
  --site FOLDER       the documentation site, where it was built
  --help              this
`;
const { values } = readOptions(USAGE, {
  out: { type: 'string' },
  version: { type: 'string' },
  site: { type: 'string' },
});
const own = JSON.parse(readFileSync('package.json', 'utf8'));
const version = values.version ?? own.version;
const epochS = Number(
  process.env.SOURCE_DATE_EPOCH ??
    execFileSync('git', ['log', '-1', '--format=%ct'], { encoding: 'utf8' }),
);

const root = mkdtempSync(join(tmpdir(), 'lampwright-deb-'));
try {
  console.error('deb: program, service, manual pages and documents ...');
  program();
  service();
  manuals();
  completions();
  documents();
  control();
  sameTimes(root);
  const file = join(values.out ?? '.', `lampwright_${version}_all.deb`);
  mkdirSync(dirname(file), { recursive: true });
  const made = ['--root-owner-group', '-Zgzip', '--uniform-compression'];
  console.error('deb: packing ...');
  execFileSync('dpkg-deb', [...made, '--build', root, file], {
    env: { ...process.env, SOURCE_DATE_EPOCH: String(epochS) },
    stdio: ['ignore', 'ignore', 'inherit'],
  });
  console.log(file);
} finally {
  rmSync(root, { recursive: true, force: true });
}

/** A file of the package. */
function put(path, content, mode = 0o644) {
  const to = join(root, path);
  mkdirSync(dirname(to), { recursive: true });
  writeFileSync(to, content);
  chmodSync(to, mode);
}

/** What npm would ship, without the packages, which are in the bundles, and the manual, which goes where Debian has it. */
function program() {
  const program = own.files.filter(path => path !== 'dist/man');
  const files = program.flatMap(path =>
    statSync(path).isFile() ? [path] : filesIn(path).map(name => join(path, name)),
  );
  for (const path of files) {
    const to = join(root, 'usr/lib/lampwright', path);
    mkdirSync(dirname(to), { recursive: true });
    cpSync(path, to);
    chmodSync(to, path === 'dist/main.js' ? 0o755 : 0o644);
  }
  put('usr/lib/lampwright/package.json', `${JSON.stringify({ ...own, version }, undefined, 2)}\n`);
  mkdirSync(join(root, 'usr/bin'));
  symlinkSync('../lib/lampwright/dist/main.js', join(root, 'usr/bin/lampwright'));
}

function service() {
  put('usr/lib/systemd/system/lampwright@.service', readFileSync('systemd/lampwright@.service'));
  put('usr/share/lampwright/main.show.yaml', example());
  mkdirSync(join(root, 'etc/lampwright'), { recursive: true });
}

/** What postinst copies to /etc/lampwright at the first install. No conffile: dpkg deletes those at a purge. */
function example() {
  const schema =
    '# yaml-language-server: $schema=/usr/lib/lampwright/docs/reference/show.schema.json\n';
  return schema + readFileSync('scripts/debian/main.show.yaml', 'utf8');
}

function manuals() {
  for (const [name, text] of Object.entries(manualPages(COMMANDS, version))) {
    put(`usr/share/man/man1/${name}.gz`, gzipSync(text, { level: 9 }));
  }
}

function completions() {
  const commands = completedCommands(COMMANDS);
  const folders = {
    bash: 'bash-completion/completions/lampwright',
    zsh: 'zsh/vendor-completions/_lampwright',
    fish: 'fish/vendor_completions.d/lampwright.fish',
  };
  for (const [shell, file] of Object.entries(folders)) {
    put(join('usr/share', file), completionOf(shell, commands));
  }
}

function documents() {
  const folder = 'usr/share/doc/lampwright';
  put(`${folder}/changelog.gz`, gzipSync(readFileSync('CHANGELOG.md'), { level: 9 }));
  put(`${folder}/copyright`, copyright());
  put(`${folder}/README.md`, readFileSync('README.md'));
  // What a check or an editor reads is beside the program: a system may be set to install no documents.
  symlinkSync('../../../lib/lampwright/docs', join(root, folder, 'docs'));
  if (values.site !== undefined) {
    cpSync(values.site, join(root, folder, 'html'), { recursive: true });
  }
}

function copyright() {
  const others = readFileSync('dist/bundle/LICENSES.txt', 'utf8');
  return `${readFileSync('LICENSE', 'utf8')}
The program has packages of others in it, whose licences follow. All are listed in
/usr/lib/lampwright/docs/reference/sbom.cdx.json.

Art-Net (TM) Designed by and Copyright Artistic Licence.

${others}`;
}

function control() {
  const sums = filesIn(root).map(path => {
    const sum = createHash('md5')
      .update(readFileSync(join(root, path)))
      .digest('hex');
    return `${sum}  ${path}\n`;
  });
  const bytes = filesIn(root).reduce((sum, path) => sum + statSync(join(root, path)).size, 0);
  put('DEBIAN/md5sums', sums.join(''));
  const exampleSum = createHash('sha256').update(example()).digest('hex');
  for (const name of ['preinst', 'postinst', 'prerm', 'postrm']) {
    const script = readFileSync(join('scripts/debian', name), 'utf8');
    put(`DEBIAN/${name}`, script.replace('@EXAMPLE_SHA256@', exampleSum), 0o755);
  }
  put(
    'DEBIAN/control',
    `Package: lampwright
Version: ${version}
Architecture: all
Section: misc
Priority: optional
Maintainer: The lampwright authors <nobody@localhost>
Installed-Size: ${Math.ceil(bytes / 1024)}
Depends: nodejs (${own.engines.node.replace(/^(>=)(.*)$/, '$1 $2')}), init-system-helpers
Recommends: systemd (>= 252)
Description: light from the positions of tracked performers
 Takes the positions of tracked performers (OSC, PosiStageNet) and turns them
 into light (sACN, Art-Net). When it no longer knows where a performer is, it
 takes the light somewhere safe.
 .
 It never drives flying, rigging, lifts, scenery, pyrotechnics or flame; those
 belong to the venue's safety staff and to licensed people.
`,
  );
}

/** Files below a folder, links left out, in an order that is the same everywhere. */
function filesIn(folder) {
  return readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter(entry => entry.isFile())
    .map(entry => join(entry.parentPath, entry.name).slice(folder.length + 1))
    .filter(path => !path.startsWith('DEBIAN/'))
    .sort();
}

/** And the same rights for folders, whatever the umask. */
function sameTimes(folder) {
  for (const entry of readdirSync(folder, { withFileTypes: true })) {
    const path = join(folder, entry.name);
    if (entry.isDirectory()) sameTimes(path);
    lutimesSync(path, epochS, epochS);
  }
  chmodSync(folder, 0o755);
  lutimesSync(folder, epochS, epochS);
}
