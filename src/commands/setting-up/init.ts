import { existsSync, writeFileSync } from 'node:fs';
import { basename, dirname, join } from 'node:path';
import { createInterface } from 'node:readline';
import { makeFolderNow } from '../../daemon/files/make-folder.js';
import { inPlainWords, readBytes } from '../../daemon/files/read-file.js';
import { MAX_ARCHIVE_BYTES } from '../../interchange/archive.js';
import { type FirstShow, firstShow, SCHEMA_FOLDER } from '../../interchange/first-show.js';
import { ATMOSPHERIC_MACHINE, type ProfileDraft } from '../../interchange/gdtf-profile.js';
import { importArchive } from '../../interchange/import.js';
import type { OutFile } from '../../interchange/show-text.js';
import { MAX_SHOW_BYTES, parseShow } from '../../show/parse.js';
import { loadShow } from '../files/show-file.js';
import { showWarnings } from '../files/show-warnings.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { refuse } from '../terminal/refuse.js';
import { complain, print, styled } from '../terminal/terminal.js';
import { placeOf } from './import.js';
import { editorSchemas } from './reference.js';

const misuse = misuseOf('init');

export const INIT_HELP = `usage: lampwright init [FILE.show.yaml] [OPTIONS]

Makes a first show that passes \`check\` and runs, with comments, and a scene beside it to try it with. Schemas for
editors go into schemas/: they travel with the show, and its first line names them. In a terminal it asks for what the options leave open; elsewhere, and with --yes, it uses the defaults
in brackets. Everything stays on this machine until you give other addresses.

  --name NAME           name of the show ("My show")
  --stage WxD           width and depth of the stage, metres (10x8)
  --performers A,B,...  who is tracked; they wear trackers 1, 2 and so on (Ines, Tobias)
  --tracking osc|psn    how positions come: OSC or PosiStageNet (osc)
  --listen ADDRESS      this machine's address on the tracking network (127.0.0.1)
  --light sacn|artnet   how levels go out (sacn)
  --interface ADDRESS   this machine's address on the lighting network, or the name of its interface (127.0.0.1)
  --to ADDRESS,...      the receivers, or multicast (127.0.0.1; with another interface multicast for sACN)
  --plot FILE           an MVR plot, to take its fixtures, or a GDTF file: one fixture of that type for each performer
  --origin X,Y,Z        where the origin of the plot lies in the stage frame, metres (0,0,0)
  --turn DEGREES        how far the plot is turned against it, anticlockwise seen from above (0)
  --yes                 ask nothing

examples:
  lampwright init
  lampwright init rig/opera.show.yaml --name "The Salt Lantern" --stage 10x8 --performers Ines,Tobias,Gull --yes
  lampwright init opera.show.yaml --plot plot.mvr --origin=5,1.2,0 --interface eth1 --to multicast

exit codes: 0 made, 1 the plot can't be imported, or the show made from it has errors, 2 bad usage, no such file, or a file is
in the way, 3 a file can't be written`;

/** A question, the answer that Enter alone means, and what is wrong with an answer. */
interface Question {
  readonly option: string;
  readonly ask: string;
  readonly fallback: string;
  readonly fault: (text: string) => string | undefined;
}

const STAGE = /^(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)$/;
const ADDRESS = /^\d{1,3}(\.\d{1,3}){3}$/;
const HERE = '127.0.0.1';
const PROFILE = /\.profile\.yaml$/;
const SCHEMA = /\.schema\.json$/;
const LARGEST_STAGE_M = 200;

const QUESTIONS: readonly Question[] = [
  {
    option: 'name',
    ask: 'name of the show',
    fallback: 'My show',
    fault: text => (text.length > 60 ? 'it has 60 characters at most' : undefined),
  },
  {
    option: 'stage',
    ask: 'width and depth of the stage, metres',
    fallback: '10x8',
    fault: stageFault,
  },
  {
    option: 'performers',
    ask: 'who is tracked',
    fallback: 'Ines, Tobias',
    fault: performersFault,
  },
  {
    option: 'tracking',
    ask: 'how positions come, osc or psn',
    fallback: 'osc',
    fault: oneOf('osc', 'psn'),
  },
  {
    option: 'listen',
    ask: "this machine's address on the tracking network",
    fallback: '127.0.0.1',
    fault: addressFault,
  },
  {
    option: 'light',
    ask: 'how levels go out, sacn or artnet',
    fallback: 'sacn',
    fault: oneOf('sacn', 'artnet'),
  },
  {
    option: 'interface',
    ask: "this machine's address on the lighting network",
    fallback: '127.0.0.1',
    fault: text => (text === '' ? 'an address or a name' : undefined),
  },
  {
    option: 'to',
    ask: 'the receivers of levels, addresses or multicast',
    fallback: HERE,
    fault: text =>
      text === 'multicast' || listOf(text).every(one => addressFault(one) === undefined)
        ? undefined
        : 'addresses such as 10.20.0.50, or multicast',
  },
];

export async function init(args: Arguments): Promise<number> {
  const { values, positionals } = args;
  const file = positionals[0] ?? 'my.show.yaml';
  const given = new Map(
    Object.entries(values).flatMap(([option, value]) =>
      typeof value === 'string' ? [[option, value.trim()] as const] : [],
    ),
  );
  const faults = /\.show\.ya?ml$/i.test(file)
    ? []
    : [`the name of a show file ends in .show.yaml, not as in "${file}".`];
  for (const { option, fault } of QUESTIONS) {
    const value = given.get(option);
    const wrong = value === undefined ? undefined : fault(value);
    if (wrong !== undefined) faults.push(`--${option}: ${wrong}, not "${value}".`);
  }
  const place = placeOf(args);
  if (Array.isArray(place)) faults.push(...place);
  const plot = given.get('plot');
  for (const option of ['origin', 'turn']) {
    if (plot === undefined && given.has(option)) {
      faults.push(`--${option} says how a plot lies: name the plot with --plot, or leave it out.`);
    }
  }
  const read = plot === undefined ? undefined : readBytes(plot, MAX_ARCHIVE_BYTES);
  if (read?.ok === false) faults.push(`${plot} can't be read: ${read.fault}.`);
  if (faults.length > 0 || Array.isArray(place)) return misuse(...faults);
  let rig: FirstShow['rig'];
  if (plot !== undefined && read?.ok === true) {
    const imported = importArchive(read.bytes, basename(plot), place);
    if (!imported.ok) {
      complain(`${plot} can't be imported: ${imported.fault}.`);
      return EXIT.failed;
    }
    const lost = imported.remarks.filter(({ kind }) => kind !== 'note').length;
    if (lost > 0)
      complain(
        `not all of ${plot} could be used: \`lampwright import ${plot}\` lists what was left out.`,
      );
    rig = { imported, source: basename(plot) };
  }
  const isAsking =
    values.yes !== true && process.stdin.isTTY === true && process.stdout.isTTY === true;
  const answers = isAsking ? await asked(given) : given;
  if (answers === undefined) return misuse('nothing was made.');
  const wanted = wantedOf(answers, rig);
  if (typeof wanted === 'string') return misuse(wanted);
  const base = basename(file).replace(/\.show\.ya?ml$/i, '');
  const texts = firstShow(wanted, base);
  // Faults of a plot are fixed in the files made from it; faults of options are fixed here.
  const parsed = rig === undefined ? parseShow(texts[0]?.text ?? '', file) : undefined;
  if (parsed?.ok === false) return misuse(...parsed.problems.map(({ message }) => message));
  const schemas = editorSchemas();
  const named = (['show.schema.json', 'scene.schema.json'] as const).map(name => ({
    path: join(SCHEMA_FOLDER, name),
    text: schemas[name],
  }));
  const files = [...texts, ...named].map(one => ({ ...one, path: join(dirname(file), one.path) }));
  const machines = Object.values(rig?.imported.profiles ?? {}).filter(one => one.hazard);
  return make(files, file.endsWith('.yml') ? 'yml' : 'yaml', machines);
}

/** @returns the answers; undefined if somebody ended it (Ctrl-C, Ctrl-D) */
async function asked(given: ReadonlyMap<string, string>): Promise<Map<string, string> | undefined> {
  const answers = new Map(given);
  const lines = createInterface({ input: process.stdin, output: process.stdout });
  // Pasted lines wait for their question.
  const typed = lines[Symbol.asyncIterator]();
  try {
    for (const { option, ask, fallback, fault } of QUESTIONS) {
      while (!answers.has(option)) {
        lines.setPrompt(`${ask} [${fallback}]: `);
        lines.prompt();
        const { value: answer, done } = await typed.next();
        if (done === true) return undefined;
        const text = answer.trim() === '' ? fallback : answer.trim();
        const wrong = fault(text);
        if (wrong === undefined) answers.set(option, text);
        else complain(`  ${wrong}.`);
      }
    }
    return answers;
  } finally {
    lines.close();
  }
}

function wantedOf(answers: ReadonlyMap<string, string>, rig: FirstShow['rig']): FirstShow | string {
  const of = (option: string) =>
    answers.get(option) ?? QUESTIONS.find(one => one.option === option)?.fallback ?? '';
  const [, width = '', depth = ''] = STAGE.exec(of('stage')) ?? [];
  const light = of('light') === 'artnet' ? 'artnet' : 'sacn';
  const isHere = of('interface').startsWith('127.');
  const to = answers.get('to') ?? (isHere ? HERE : 'multicast');
  const receivers = to === 'multicast' ? [] : listOf(to);
  if (light === 'artnet' && receivers.length === 0) {
    return '--to: Art-Net is sent to its nodes: give their addresses.';
  }
  return {
    name: of('name'),
    widthM: Number(width),
    depthM: Number(depth),
    performers: listOf(of('performers')),
    tracking: of('tracking') === 'psn' ? 'psn' : 'osc',
    listen: of('listen'),
    light,
    interface: of('interface'),
    to: receivers,
    rig,
  };
}

/** @param machines those for fog or haze, which it tells of */
function make(
  files: readonly OutFile[],
  ending: string,
  machines: readonly Pick<ProfileDraft, 'label'>[],
): number {
  const named = files.map(({ path, text }) => ({
    path: ending === 'yml' ? path.replace(/\.show\.yaml$/, '.show.yml') : path,
    text,
  }));
  // A profile that an earlier import of the plot wrote is the same file: it is kept.
  const isSame = ({ path, text }: OutFile) => PROFILE.test(path) && holds(path, text);
  const isKept = (one: OutFile) => (SCHEMA.test(one.path) ? existsSync(one.path) : isSame(one));
  const taken = named.filter(isKept);
  const inTheWay = named.filter(one => existsSync(one.path) && !taken.includes(one));
  if (inTheWay.length > 0) {
    return misuse(
      ...inTheWay.map(({ path }) =>
        PROFILE.test(path)
          ? `${path} is there already and differs from the one to be made: move it, or make the show in another folder.`
          : `${path} is there already: name another show file.`,
      ),
      'nothing was written.',
    );
  }
  for (const { path, text } of named.filter(one => !taken.includes(one))) {
    try {
      makeFolderNow(dirname(path));
      writeFileSync(path, text, { flag: 'wx' });
    } catch (error) {
      complain(`${path} can't be written: ${inPlainWords(error, 'written')}`);
      return EXIT.fault;
    }
  }
  for (const one of named) {
    const isTaken = taken.includes(one);
    print(isTaken ? `kept  ${one.path}` : `${styled('green', 'made')}  ${one.path}`);
    if (isTaken && !holds(one.path, one.text)) {
      complain(
        `${one.path} is of another version: \`lampwright reference --schemas ${dirname(one.path)}\` writes those of this one over it.`,
      );
    }
  }
  const [show = '', scene = ''] = named.map(({ path }) => path);
  const loaded = loadShow(show);
  if (!loaded.ok) {
    refuse(loaded.problems);
    complain('The show made from the plot has errors: fix them in the files that were written.');
    return EXIT.failed;
  }
  const warnings = showWarnings(loaded.show, loaded.text, show);
  for (const { label } of machines) complain(`hazard: ${label}: ${ATMOSPHERIC_MACHINE}.`);
  const dark = warnings.find(({ code }) => code === 'safe-dark');
  if (dark !== undefined) complain(`to decide: ${dark.message}`);
  print(`
next:
  lampwright check ${show}
  lampwright rehearse ${show} ${scene}
  lampwright run ${show}          and in another terminal
  lampwright play ${scene} --show ${show} --loop`);
  return EXIT.ok;
}

function listOf(text: string): string[] {
  return text
    .split(',')
    .map(one => one.trim())
    .filter(one => one !== '');
}

function holds(path: string, text: string): boolean {
  const read = existsSync(path) ? readBytes(path, MAX_SHOW_BYTES) : undefined;
  return read?.ok === true && Buffer.from(text).equals(read.bytes);
}

function performersFault(text: string): string | undefined {
  const names = listOf(text);
  if (names.length === 0) return 'at least one name';
  const twice = names.find(
    (name, index) => names.findIndex(one => one.toLowerCase() === name.toLowerCase()) !== index,
  );
  return twice === undefined ? undefined : `each name once (${twice} is there twice)`;
}

function oneOf(...words: readonly string[]): Question['fault'] {
  return text => (words.includes(text) ? undefined : `it is ${words.join(' or ')}`);
}

function stageFault(text: string): string | undefined {
  const [, width = '0', depth = '0'] = STAGE.exec(text) ?? [];
  const isOne = [width, depth].every(one => Number(one) >= 1 && Number(one) <= LARGEST_STAGE_M);
  return isOne ? undefined : 'two lengths in metres such as 10x8';
}

function addressFault(text: string): string | undefined {
  const isOne = ADDRESS.test(text) && text.split('.').every(part => Number(part) <= 255);
  return isOne ? undefined : 'an IPv4 address such as 10.10.0.5';
}
