// Options of the scripts here: a usage text, and plain words for what is wrong. Exit code 2: that.
import { parseArgs } from 'node:util';

/**
 * @param usage what `--help` prints
 * @param options as of `parseArgs`; with `least` a whole number of at least that, with `from` a list of some of these;
 *   hidden: for the script itself, and nobody is told of it
 * @param allowPositionals whether there are words besides
 */
export function readOptions(usage, options, allowPositionals = false) {
  const known = Object.fromEntries(
    Object.entries(options).map(([name, { least: _, from: __, hidden: ___, ...option }]) => [
      name,
      option,
    ]),
  );
  known.help = { type: 'boolean', short: 'h' };
  let parsed;
  try {
    parsed = parseArgs({ allowPositionals, options: known });
  } catch (error) {
    // Where a word of the command line is at fault, Node says so first, and then how to quote it.
    misuse(`${error.message.split(/[.\n]/)[0]}. Options are ${namesOf(options)}.`);
  }
  const { values, positionals } = parsed;
  if (values.help) {
    console.log(usage.trim());
    process.exit(0);
  }
  for (const [name, { least, from }] of Object.entries(options)) {
    const text = values[name];
    if (text === undefined) continue;
    if (least !== undefined) values[name] = wholeNumber(name, text, least);
    if (from !== undefined) values[name] = listOf(name, text, from);
  }
  return { values, positionals };
}

/** Says what is wrong with the command line, and ends. */
export function misuse(what) {
  console.error(`${what} --help says more.`);
  process.exit(2);
}

function namesOf(options) {
  const names = Object.keys(options).filter(name => !options[name].hidden);
  return [...names, 'help'].map(name => `--${name}`).join(', ');
}

function wholeNumber(name, text, least) {
  const number = Number(text);
  if (/^\d+$/.test(text) && number >= least) return number;
  return misuse(`--${name} ${text}: a whole number of ${least} or more, as in --${name} ${least}.`);
}

function listOf(name, text, from) {
  const words = text.split(',');
  const unknown = words.filter(word => !from.includes(word));
  if (unknown.length === 0) return words;
  return misuse(`--${name}: there is no ${unknown.join(', ')}; there are ${from.join(', ')}.`);
}
