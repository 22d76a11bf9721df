import { execFileSync } from 'node:child_process';
import {
  copyFileSync,
  mkdirSync,
  mkdtempSync,
  rmSync,
  symlinkSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { check } from '../../../src/commands/checking/check.js';
import { main } from '../../../src/commands/cli.js';
import { loadShow } from '../../../src/commands/files/show-file.js';
import { changed, MINIMAL } from '../../show/base.js';
import { captured } from '../captured.js';

const folder = mkdtempSync(join(tmpdir(), 'lampwright-show-file-'));
const at = (name: string) => join(folder, name);
const withProfile = (path: string) => `${MINIMAL}profiles: { mine: { file: ${path} } }\n`;
const said = captured();

beforeAll(() => {
  execFileSync('mkfifo', [at('pipe')]);
  symlinkSync('/dev/zero', at('endless'));
  writeFileSync(at('huge.show.yaml'), '');
  truncateSync(at('huge.show.yaml'), 10 * 2 ** 20);
});
afterAll(() => rmSync(folder, { recursive: true }));

test.each([
  ['pipe', 'that is a pipe (FIFO), not a file'],
  ['endless', 'that is a device, not a file'],
  ['.', 'that is a folder'],
  ['huge.show.yaml', 'it has 10 MiB, and at most 4 MiB are read'],
])('%s is no show, and says so unread', async (name, why) => {
  expect(await check({ positionals: [at(name)], values: {} })).toBe(2);
  expect(said.err).toContain(`the show can't be read: ${why}. [file-unreadable]`);
});

test.each([
  ['pipe', 'that is a pipe (FIFO), not a file'],
  ['endless', 'that is a device, not a file'],
  ['huge.show.yaml', 'it has 10 MiB, and at most 4 MiB are read'],
])('%s is no profile of a show', (name, why) => {
  writeFileSync(at('a.show.yaml'), withProfile(name));
  const loaded = loadShow(at('a.show.yaml'));
  expect(!loaded.ok && loaded.problems.map(({ message }) => message)).toEqual([
    `profile file "${name}" can't be read: ${why}.`,
  ]);
});

test('profiles count towards the size of a show', () => {
  mkdirSync(at('many'), { recursive: true });
  copyFileSync('config/profiles/rgb.profile.yaml', at('many/0.yaml'));
  const filler = `#${'-'.repeat(1023)}\n`.repeat(1500);
  for (const name of ['1', '2', '3']) writeFileSync(at(`many/${name}.yaml`), filler);
  const names = ['0', '1', '2', '3'].map(name => `p${name}: { file: many/${name}.yaml }`);
  writeFileSync(at('a.show.yaml'), `${MINIMAL}profiles: { ${names.join(', ')} }\n`);
  const loaded = loadShow(at('a.show.yaml'));
  const messages = loaded.ok ? [] : loaded.problems.map(({ message }) => message);
  expect(messages.filter(message => message.includes('larger than 4 MiB'))).toEqual([
    'profile file "many/3.yaml" can\'t be read: with it, the show and its profile files are larger than 4 MiB.',
  ]);
});

test('text that is not UTF-8 is refused at its place', async () => {
  writeFileSync(at('a.show.yaml'), Buffer.from(changed('One lamp', 'M\xf6we'), 'latin1'));
  expect(await check({ positionals: [at('a.show.yaml')], values: {} })).toBe(1);
  const line = MINIMAL.split('\n').findIndex(one => one.startsWith('name')) + 1;
  expect(said.err).toContain(
    `a.show.yaml:${line}:8: the show can't be read: it is not UTF-8 text: byte 0xF6`,
  );
  expect(said.err).toContain('[not-utf8]');
});

test('labels and slips print nothing that a terminal would obey', async () => {
  const nasty = '"a\\nb\\e[2Jc\\u202Ed"';
  writeFileSync(
    at('a.show.yaml'),
    changed('name: One lamp', `name: ${nasty}`, changed('stove: {', `stove: { label: ${nasty},`)),
  );
  expect(await check({ positionals: [at('a.show.yaml')], values: {} })).toBe(0);
  expect(said.out).toContain('ok  a\\nb\\u001b[2Jc\\u202ed  (');
  writeFileSync(at('b.show.yaml'), `${MINIMAL}"x\x1b[2J\u202ey": 1\n`);
  expect(await check({ positionals: [at('b.show.yaml')], values: {} })).toBe(1);
  expect(await check({ positionals: [at('b.show.yaml')], values: { json: true } })).toBe(1);
  // biome-ignore lint/suspicious/noControlCharactersInRegex: that is what must not be there
  expect(said.out + said.err).not.toMatch(/[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e]/);
});

test('warnings have a list of their own, with places, and the exit code of a show that is right', async () => {
  writeFileSync(at('a.show.yaml'), MINIMAL.replace('[3, 1, 5]', '[3, 1, 5000]'));
  expect(await check({ positionals: [at('a.show.yaml')], values: { json: true } })).toBe(0);
  const line = MINIMAL.split('\n').findIndex(one => one.includes('[3, 1, 5]')) + 1;
  expect(JSON.parse(said.out)).toMatchObject({
    ok: true,
    errors: [],
    warnings: [
      { code: 'safe-dark', line: MINIMAL.split('\n').indexOf('fixtures:') + 1 },
      { code: 'position-far', line },
    ],
  });
  expect(await check({ positionals: [at('a.show.yaml')], values: {} })).toBe(0);
  expect(said.err).toContain(
    'fixture "head" hangs at a height of 5000 m, outside any building. This looks like centimetres or millimetres: divide by 100 or 1000. [position-far]',
  );
  expect(said.err).toContain('2 warnings; the show runs all the same.');
});

test('a show is summed up with figures that agree with their words', async () => {
  expect(await check({ positionals: ['config/minimal.show.yaml'], values: {} })).toBe(0);
  expect(said.out).toContain('1 performer: ines (tracker 1)');
  expect(said.out).toContain('1 zone: ');
  expect(said.out).toContain('1 output: lamps (sacn, 1 universe, 40 Hz');
});

test('a profile is printed slot by slot, and as JSON', async () => {
  const profile = 'config/profiles/dimmer.profile.yaml';
  expect(await check({ positionals: [profile], values: {} })).toBe(0);
  expect(said.out).toMatch(/ 1 {2}Dimmer coarse +0 to 100 %\n +2 {2}Dimmer fine/);
  said.out = '';
  expect(await check({ positionals: [profile], values: { json: true } })).toBe(0);
  expect(JSON.parse(said.out).chart[0].lines[0]).toMatchObject({ slot: 1, attribute: 'Dimmer' });
});

test('the mark stands under its place, also behind what is written out', async () => {
  writeFileSync(
    at('b.show.yaml'),
    `${MINIMAL}{ "\x1b": 1, zz: 1 }\n`.replace('{ "', '"\u202e": { '),
  );
  await check({ positionals: [at('b.show.yaml')], values: {} });
  const lines = said.err.split('\n');
  for (const [i, line] of lines.entries()) {
    if (!line.includes('^')) continue;
    expect(lines[i - 1]?.length).toBeGreaterThanOrEqual(line.indexOf('^'));
  }
});

test('safe values that are of the palettes have their names, as on the safety sheet', async () => {
  const file = at('palettes.show.yaml');
  const text = changed('[3, 1, 5] }', '[3, 1, 5], safe: { target: table, Dimmer: 0 } }');
  const bench =
    'palettes: { points: { table: { label: The table, at: [6, 5, 0.8] }, chair: [1, 3, 0.5] } }\n';
  writeFileSync(file, `${text}${bench}cues: { dusk: { safe: { head: { target: chair } } } }\n`);
  expect(await check({ positionals: [file], values: {} })).toBe(0);
  const [own] = said.out.match(/^ {4}head .*$/m) ?? [];
  expect(own).toMatch(/Dimmer 0 %, Zoom \S+, target The table \(Pan [-\d.]+°, Tilt [-\d.]+°\)$/);
  expect(said.out).toMatch(
    /safe look in cue dusk: head target chair \(Pan [-\d.]+°, Tilt [-\d.]+°\)\n/,
  );
  const words = (text: string) => text.replace(/\s+/g, ' ');
  const listed = own?.replace(/^.*?(?=Dimmer)/, '') ?? '';
  said.clear();
  await main(['safety', file]);
  expect(words(said.out)).toContain(words(listed));
});

test('the safe look of every cue is shown, and where it is that of the fixtures', async () => {
  const file = at('cues.show.yaml');
  const cues =
    'cues: { day: { label: The day }, night: { safe: { glow: { Dimmer: 15 }, head: { Zoom: 30 } } } }\n';
  writeFileSync(file, MINIMAL + cues);
  expect(await check({ positionals: [file], values: {} })).toBe(0);
  expect(said.out).toContain('    safe look in cue The day: as above\n');
  expect(said.out).toContain('    safe look in cue night: glow Dimmer 15 %; head Zoom 30°\n');
  // Of hundreds that say nothing of their own, their number.
  const many = Array.from({ length: 40 }, (_, i) => `c${i}: {}`).join(', ');
  writeFileSync(file, `${MINIMAL}cues: { night: { safe: { glow: { Dimmer: 15 } } }, ${many} }\n`);
  said.clear();
  expect(await check({ positionals: [file], values: {} })).toBe(0);
  expect(said.out).toContain('    safe look in cue night: glow Dimmer 15 %\n');
  expect(said.out).toContain('    safe look in the other 40 cues: as above\n');
  expect(said.out.match(/as above/g)).toHaveLength(1);
  writeFileSync(file, MINIMAL + cues);
  said.clear();
  await check({ positionals: [file], values: { json: true } });
  const { show } = JSON.parse(said.out);
  expect(show.safeLooks.day['1'][0]).toBe(0);
  expect(show.safeLooks.night['1'][0]).toBe(38); // 15 % of 255, rounded
  expect(show.safeLook).toEqual(show.safeLooks.day);
});
