// What ships besides our own code: the packages that are bundled or installed with it. Their licences are among those
// that we allow, none runs a script when it is installed, each has one version and its hash in package-lock.json, and
// the bill of materials (CycloneDX, by `npm sbom`) and the page that list them are those of today.
// node scripts/supply.mjs [--write]; needs a build, as what is bundled stands in dist/bundle/LICENSES.txt.
import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { readOptions } from './options.mjs';

const USAGE = `
node scripts/supply.mjs [--write]

Checks the packages that ship: licences, install scripts, pinned versions; and that
docs/reference/sbom.cdx.json and docs/reference/packages.md are those of today.

  --write   write the two files anew
  --help    this
`;
const { values } = readOptions(USAGE, { write: { type: 'boolean' } });

/** Permissive ones, that ask for their text to be kept: it is, in dist/bundle/LICENSES.txt or in the package itself. */
const ALLOWED = [
  'MIT',
  'ISC',
  'BSD-2-Clause',
  'BSD-3-Clause',
  'Apache-2.0',
  '0BSD',
  'BlueOak-1.0.0',
];
const BILL = 'docs/reference/sbom.cdx.json';
const PAGE = 'docs/reference/packages.md';

const own = JSON.parse(readFileSync('package.json', 'utf8'));
const locked = Object.entries(JSON.parse(readFileSync('package-lock.json', 'utf8')).packages)
  .filter(([path]) => path !== '')
  .map(([path, entry]) => ({
    ...entry,
    name: entry.name ?? path.replace(/^.*node_modules\//, ''),
  }));
/** Those that the bundles have in them; the codec of `osc` is bundled from a package that is not installed with ours. */
const bundled = [
  ...readFileSync('dist/bundle/LICENSES.txt', 'utf8').matchAll(/^(\S+) (\d\S*) \(.+\)$/gm),
].map(([, name, version]) => `${name}@${version}`);
const shipped = locked
  .filter(({ name, version, dev }) => dev !== true || bundled.includes(`${name}@${version}`))
  .sort((a, b) => a.name.localeCompare(b.name, 'en') || (a.version < b.version ? -1 : 1));

const problems = [...shipped.flatMap(faultsOf), ...notPinned()];
const files = { [BILL]: billText(), [PAGE]: pageText() };
for (const [file, text] of Object.entries(files)) {
  if (values.write) writeFileSync(file, text);
  else if (!isFresh(file, text)) problems.push(`${file} is stale: npm run supply -- --write`);
}
for (const problem of problems) console.error(problem);
process.exitCode = problems.length > 0 ? 1 : 0;

function faultsOf({ name, version, license, integrity, resolved, hasInstallScript }) {
  const at = `${name} ${version}`;
  const choices = (license ?? '').replace(/[()]/g, '').split(' OR ');
  return [
    ...(choices.some(one => ALLOWED.includes(one))
      ? []
      : [`${at}: its licence is ${license ?? 'not said'}; allowed are ${ALLOWED.join(', ')}`]),
    ...(hasInstallScript ? [`${at} runs a script when it is installed`] : []),
    ...(integrity === undefined ? [`${at} has no hash in package-lock.json`] : []),
    ...(resolved === undefined || resolved.endsWith('.tgz') ? [] : [`${at} is no release`]),
  ];
}

/** A tarball of ours carries what package-lock.json has; nothing is looked up when it is installed. */
function notPinned() {
  const bundledWithUs = own.bundleDependencies ?? [];
  const scripts = ['preinstall', 'install', 'postinstall'].filter(name => own.scripts[name]);
  return [
    ...Object.keys(own.dependencies)
      .filter(name => !bundledWithUs.includes(name))
      .map(
        name =>
          `${name} is not in bundleDependencies: who installs the package would get another version`,
      ),
    ...scripts.map(name => `package.json has a script that runs when it is installed: ${name}`),
  ];
}

/** By npm, without what differs from run to run, and without what does not ship. */
function billText() {
  const bill = JSON.parse(
    execFileSync('npm', ['sbom', '--sbom-format', 'cyclonedx', '--package-lock-only'], {
      encoding: 'utf8',
      maxBuffer: 1 << 26,
    }),
  );
  const refs = new Set(shipped.map(({ name, version }) => `${name}@${version}`));
  const ourRef = bill.metadata.component['bom-ref'];
  delete bill.serialNumber;
  delete bill.metadata.timestamp;
  // The versions of npm differ from machine to machine.
  bill.metadata.tools = [{ vendor: 'npm', name: 'cli' }];
  bill.metadata.component.name = own.name;
  const components = bill.components.filter(one => refs.has(one['bom-ref']));
  for (const component of components) {
    // Part of what ships, whatever it is to a contributor.
    component.scope = 'required';
    component.properties = [];
  }
  const dependencies = bill.dependencies
    .filter(({ ref }) => ref === ourRef || refs.has(ref))
    .map(({ ref, dependsOn = [] }) => ({ ref, dependsOn: dependsOn.filter(one => refs.has(one)) }));
  return `${JSON.stringify({ ...bill, components, dependencies }, undefined, 2)}\n`;
}

/** The bill apart from what the version of npm adds: its format. */
function isFresh(file, text) {
  let was;
  try {
    was = readFileSync(file, 'utf8');
  } catch {
    return false;
  }
  if (!file.endsWith('.json')) return was === text;
  const refs = json =>
    JSON.parse(json)
      .components.map(one => `${one['bom-ref']} ${JSON.stringify(one.hashes)}`)
      .sort()
      .join();
  return refs(was) === refs(text) && JSON.parse(was).metadata.component.version === own.version;
}

function pageText() {
  const rows = shipped.map(({ name, version, license }) => {
    const how = bundled.includes(`${name}@${version}`) ? 'in `dist/bundle/`' : 'beside it';
    return `| ${name} | ${version} | ${license} | ${how} |`;
  });
  return `# Packages that ship

<!-- Generated by \`npm run supply -- --write\`; do not edit. -->

What is in the package besides our own code. Each has a licence of this list: ${ALLOWED.join(', ')}. None runs a script
when it is installed. Their versions and hashes are those of \`package-lock.json\`, and the tarball has them in it:
nothing is fetched when it is installed. The same as a bill of materials (CycloneDX): [sbom.cdx.json](sbom.cdx.json). Their
licences in full are in \`dist/bundle/LICENSES.txt\`, or in the folder of the package.

| package | version | licence | where |
|---|---|---|---|
${rows.join('\n')}
`;
}
