import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { loadProfile, loadShow } from '../../../src/commands/files/show-file.js';
import { importFile } from '../../../src/commands/setting-up/import.js';
import { fixtureXml, headGdtf, layerXml, plot } from '../../interchange/make.js';
import { changed } from '../../show/base.js';
import { captured } from '../captured.js';

let folder: string;
const said = captured();

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-import-'));
});

afterEach(() => {
  rmSync(folder, { recursive: true });
});

const at = (name: string) => join(folder, name);
const run = (file: string, values: Record<string, string | boolean> = {}) =>
  importFile({ positionals: [file], values });

function savePlot(fixtures = fixtureXml({ address: '2.1' })): string {
  writeFileSync(at('Big plot.mvr'), plot(layerXml(fixtures)));
  return at('Big plot.mvr');
}

describe('a plot', () => {
  test('goes into files that a show takes as they are', async () => {
    expect(await run(savePlot(), { out: at('rig') })).toBe(0);
    expect(readdirSync(at('rig'))).toEqual(['big-plot.patch.yaml', 'profiles']);
    expect(readdirSync(at('rig/profiles'))).toEqual(['test-head.profile.yaml']);
    expect(said.out).toBe('');
    expect(said.err).toContain('imported: 1 profile, 1 of 1 fixture.');
    expect(said.err).toContain(
      'left out: Test@Head.gdtf, mode "Mode 1 (fine)", channel 7 (Special9)',
    );
    expect(loadProfile(at('rig/profiles/test-head.profile.yaml'))).toMatchObject({ ok: true });

    const parts = readFileSync(at('rig/big-plot.patch.yaml'), 'utf8');
    const show = changed('  glow: { profile: dimmer, universe: 1, address: 1 }\n', '')
      .replace(/fixtures:\n( {2}head.*\n)/, (_, head: string) => `${parts}${head}`)
      .replaceAll('[glow]', '[spot]')
      .replace('universes: [1]', 'universes: [1, 2]');
    writeFileSync(at('rig/show.yaml'), show);
    const loaded = loadShow(at('rig/show.yaml'));
    expect(loaded.ok ? loaded.show.fixtures.map(({ name }) => name) : loaded.problems).toEqual([
      'spot',
      'head',
    ]);
  });

  test('is printed where no folder is named', async () => {
    expect(await run(savePlot())).toBe(0);
    expect(said.out).toMatch(/^# From Big plot.mvr: parts of a show file/);
    expect(said.out).toContain('spot: { label: Spot, profile: test-head, universe: 2, address: 1,');
  });

  test('overwrites nothing, but when told', async () => {
    const file = savePlot();
    await run(file, { out: at('rig') });
    writeFileSync(at('rig/big-plot.patch.yaml'), 'mine');
    said.err = '';
    expect(await run(file, { out: at('rig') })).toBe(2);
    expect(said.err).toContain('big-plot.patch.yaml is there already.');
    expect(readFileSync(at('rig/big-plot.patch.yaml'), 'utf8')).toBe('mine');
    expect(await run(file, { out: at('rig'), force: true })).toBe(0);
    expect(readFileSync(at('rig/big-plot.patch.yaml'), 'utf8')).not.toBe('mine');
  });

  test('with fixtures that can not be used, or that overlap, fails and prints the rest', async () => {
    const lost = fixtureXml({ name: 'lost', spec: 'gone.gdtf' });
    expect(await run(savePlot(fixtureXml() + lost), { json: true })).toBe(1);
    expect(JSON.parse(said.out)).toMatchObject({
      ok: true,
      fixturesFound: 2,
      fixtures: { spot: { address: 1 }, lost: { profile: 'placeholder' } },
      unpatched: ['lost'],
      problems: [],
      written: [],
    });
    const overlap = fixtureXml({ name: 'b', address: '3' });
    expect(await run(savePlot(fixtureXml() + overlap))).toBe(1);
    expect(said.err).toContain(
      'error: fixture "b" shares slot 3 of universe 1 with fixture "spot"',
    );
  });

  test('lies where it is said to lie', async () => {
    const file = savePlot(fixtureXml({ matrix: '{1,0,0}{0,1,0}{0,0,1}{1000,0,5370}' }));
    await run(file, { json: true, origin: '5,4,0', turn: '90' });
    expect(JSON.parse(said.out).fixtures.spot).toMatchObject({
      position: [5, 5, 5],
      orientation: { z: 90 },
    });
  });
});

test('a kind of fixture goes into a profile file', async () => {
  writeFileSync(at('head.gdtf'), headGdtf());
  expect(await run(at('head.gdtf'), { out: at('rig') })).toBe(0);
  expect(readdirSync(at('rig'))).toEqual(['profiles']);
});

describe('bad usage and bad files', () => {
  test.each([
    ['no such file', { file: 'none.mvr' }, 2, /there is no such file/],
    ['a folder', { file: '.' }, 2, /that is a folder/],
    ['an origin of two', { origin: '1,2' }, 2, /three numbers in metres/],
    ['an origin of words', { origin: 'a,b,c' }, 2, /three numbers in metres/],
    ['a turn of nothing', { turn: '' }, 2, /a number of degrees/],
  ])('%s', async (_, { file = 'Big plot.mvr', ...values }: Record<string, string>, code, says) => {
    savePlot();
    expect(await run(at(file), values)).toBe(code);
    expect(said.err).toMatch(says);
    expect(said.out).toBe('');
  });

  test('what is no archive', async () => {
    writeFileSync(at('x.mvr'), 'no archive');
    expect(await run(at('x.mvr'))).toBe(1);
    expect(said.err).toContain(
      "x.mvr can't be imported: it is not a ZIP archive, or it is damaged.",
    );
    expect(await run(at('x.mvr'), { json: true })).toBe(1);
    expect(JSON.parse(said.out)).toMatchObject({ ok: false });
  });

  test('a folder that can not be made', async () => {
    const file = savePlot();
    expect(await run(file, { out: join(file, 'rig') })).toBe(3);
    expect(said.err).toContain("can't be written");
  });
});
