import { existsSync, writeFileSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';
import { makeFolderNow } from '../../daemon/files/make-folder.js';
import { inPlainWords, readBytes } from '../../daemon/files/read-file.js';
import { MAX_ARCHIVE_BYTES } from '../../interchange/archive.js';
import { type ImportResult, importArchive } from '../../interchange/import.js';
import { nameFrom, type Remark } from '../../interchange/outcome.js';
import type { PlotPlace } from '../../interchange/plot-fixture.js';
import { type OutFile, partFiles, partText, showOf } from '../../interchange/show-text.js';
import { findingsIn } from '../../show/parse.js';
import { type Degrees, toRadians } from '../../stage/units.js';
import { vec3 } from '../../stage/vector.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { complain, print, styled } from '../terminal/terminal.js';

const misuse = misuseOf('import');

export const IMPORT_HELP = `usage: lampwright import FILE.mvr|FILE.gdtf [--out DIR] [--force] [--origin X,Y,Z] [--turn DEGREES] [--json]

Reads a plot (MVR, DIN SPEC 15801) or a fixture type (GDTF, DIN SPEC 15800) and prints profiles and
patch, with positions and orientations, as parts of a show file. Lists what it could not use.

  --out DIR        write them to files instead: DIR/profiles/NAME.profile.yaml and DIR/FILE.patch.yaml
  --force          overwrite existing files; without it they are left alone
  --origin X,Y,Z   where the origin of the plot lies in the stage frame, metres (0,0,0)
  --turn DEGREES   how far the plot is turned against the stage frame, anticlockwise seen from above (0)
  --json           what was found, as JSON: { ok, fault, profiles, fixtures,
                   fixturesFound, unpatched, remarks, problems, written }

examples:
  lampwright import plot.mvr > parts.yaml
  lampwright import plot.mvr --out rig --origin=5,4,0
  lampwright import spot.gdtf --out rig

A fixture without an address is written with \`unpatched: true\`; one whose type can't be read also gets the profile
\`placeholder\`. Both keep their position, and nothing is sent to them.

exit codes: 0 imported (see the list of what could not be used), 1 the file can't be imported, or has errors
(a type that can't be read, a broken matrix, two fixtures on one slot), 2 bad usage, no such file, or a file is in the way,
3 a file can't be written`;

/** More lines than this help nobody; --json has them all. */
const MOST_REMARKS_SHOWN = 60;

export async function importFile(args: Arguments): Promise<number> {
  const file = args.positionals[0] ?? '';
  const place = placeOf(args);
  if (Array.isArray(place)) return misuse(...place);
  const read = readBytes(file, MAX_ARCHIVE_BYTES);
  if (!read.ok) return misuse(`${file} can't be read: ${read.fault}.`);
  const source = basename(file);
  const result = importArchive(read.bytes, source, place);
  const asJson = args.values.json === true;
  if (!result.ok) {
    if (asJson) print(JSON.stringify({ ok: false, fault: result.fault }, undefined, 2));
    else complain(`${file} can't be imported: ${result.fault}.`);
    return EXIT.failed;
  }
  const problems = problemsOf(result);
  const out = args.values.out;
  const files =
    typeof out === 'string'
      ? partFiles(result, source, nameFrom(source.replace(/\.[^.]*$/, ''), 'plot')).map(one => ({
          ...one,
          path: join(out, one.path),
        }))
      : [];
  const inTheWay = files.filter(({ path }) => existsSync(path));
  if (inTheWay.length > 0 && args.values.force !== true) {
    for (const { path } of inTheWay) complain(`${path} is there already.`);
    return misuse('nothing was written; --force replaces what is there.');
  }
  const unwritten = write(files);
  if (unwritten !== undefined) {
    complain(unwritten);
    return EXIT.fault;
  }
  if (asJson) {
    const { profiles, fixtures, fixturesFound, remarks } = result;
    const unpatched = unpatchedIn(result);
    const written = files.map(({ path }) => path);
    const report = {
      ok: true,
      profiles,
      fixtures,
      fixturesFound,
      unpatched,
      remarks,
      problems,
      written,
    };
    print(JSON.stringify(report, undefined, 2));
  } else {
    if (files.length === 0) print(partText(result, source).trimEnd());
    tell(result, problems, files);
  }
  const hasErrors = result.remarks.some(({ kind }) => kind === 'error') || problems.length > 0;
  return hasErrors ? EXIT.failed : EXIT.ok;
}

/** Names of the fixtures that are sent nothing until somebody patches them. */
function unpatchedIn({ fixtures }: Extract<ImportResult, { ok: true }>): string[] {
  return Object.keys(fixtures).filter(name => fixtures[name]?.unpatched === true);
}

/** What `check` would say about a show with these parts. */
function problemsOf(result: Extract<ImportResult, { ok: true }>): string[] {
  return findingsIn(showOf(result)).map(({ message, code }) => `${message} [${code}]`);
}

function tell(
  result: Extract<ImportResult, { ok: true }>,
  problems: readonly string[],
  files: readonly OutFile[],
): void {
  const { profiles, fixtures, fixturesFound, further, remarks } = result;
  const [kinds, lights] = [Object.keys(profiles).length, Object.keys(fixtures).length];
  const unpatched = unpatchedIn(result).length;
  const parts = [
    counted(kinds, 'profile'),
    ...(fixturesFound > 0
      ? [`${lights - further.size} of ${counted(fixturesFound, 'fixture')}`]
      : []),
    ...(further.size > 0 ? [`${counted(further.size, 'further address', 'es')} of theirs`] : []),
    ...(unpatched > 0 ? [`${unpatched} unpatched`] : []),
  ];
  complain(`${styled('green', 'imported', process.stderr)}: ${parts.join(', ')}.`);
  for (const { path } of files) complain(`    ${path}`);
  const lines = grouped(remarks);
  for (const line of lines.slice(0, MOST_REMARKS_SHOWN)) complain(line);
  const more = lines.length - MOST_REMARKS_SHOWN;
  if (more > 0) complain(`  and ${more} more; --json has them all.`);
  for (const problem of problems)
    complain(`  ${styled('red', 'error', process.stderr)}: ${problem}`);
}

/** One line for a remark that is true of many parts, with how many more there are. */
function grouped(remarks: readonly Remark[]): string[] {
  const groups = new Map<string, { remark: Remark; count: number }>();
  for (const remark of remarks) {
    const key = `${remark.kind} ${remark.what}`;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, { remark, count: 1 });
    else group.count += 1;
  }
  return [...groups.values()]
    .sort((a, b) => a.remark.kind.localeCompare(b.remark.kind))
    .map(({ remark: { kind, where, what }, count }) => {
      const others = count > 1 ? ` (and ${count - 1} more)` : '';
      const word = KIND_WORDS[kind];
      return `  ${word}: ${where}${others}: ${what}.`;
    });
}

const KIND_WORDS: Readonly<Record<Remark['kind'], string>> = {
  error: 'error',
  'left-out': 'left out',
  note: 'note',
};

function counted(count: number, what: string, plural = 's'): string {
  return `${count} ${what}${count === 1 ? '' : plural}`;
}

/** How the plot lies on the stage, from --origin and --turn. @returns the place, or the faults */
export function placeOf({ values }: Pick<Arguments, 'values'>): PlotPlace | string[] {
  const { origin = '0,0,0', turn = '0' } = values;
  const numbers = String(origin).split(',').map(numberFrom);
  const degrees = numberFrom(String(turn));
  const [x = 0, y = 0, z = 0] = numbers;
  const faults: string[] = [];
  if (numbers.length !== 3 || !numbers.every(Number.isFinite)) {
    faults.push(`--origin is three numbers in metres, such as 5,4,0, not "${String(origin)}".`);
  }
  if (!Number.isFinite(degrees)) {
    faults.push(`--turn is a number of degrees, not "${String(turn)}".`);
  }
  if (faults.length > 0) return faults;
  return { origin: vec3(x, y, z), turn: toRadians(degrees as Degrees) };
}

function numberFrom(text: string): number {
  return text.trim() === '' ? Number.NaN : Number(text);
}

/** @returns a message if a file could not be written */
function write(files: readonly OutFile[]): string | undefined {
  for (const { path, text } of files) {
    try {
      makeFolderNow(dirname(path));
      writeFileSync(path, text);
    } catch (error) {
      return `${path} can't be written: ${inPlainWords(error, 'written')}`;
    }
  }
  return undefined;
}
