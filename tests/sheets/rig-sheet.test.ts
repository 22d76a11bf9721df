import { describe, expect, it } from 'vitest';
import { rigPage } from '../../src/sheets/rig-page.js';
import { rigSheet } from '../../src/sheets/rig-sheet.js';
import { safeLights } from '../../src/sheets/safe-lights.js';
import { runsOf, runsText, slotChart } from '../../src/sheets/slot-chart.js';
import { KEPT } from '../engine/keep-out-show.js';
import { changed, configShow } from '../show/base.js';
import { showOf } from '../show/show-of.js';

const SHOW = showOf(configShow('salt-lantern'));
const SHEET = rigSheet(SHOW);

describe('the rig of The Salt Lantern', () => {
  it('is patched as the show file says, with what is free', () => {
    expect(
      SHEET.universes.map(({ universe, used, free }) => [universe, used, runsText(free)]),
    ).toEqual([
      // Three dimmers, four slots of the harbour lamp at 11, two of the hazer at 31.
      [1, 9, '4 to 10, 15 to 30, 33 to 512'],
      // Three heads of ten slots.
      [2, 30, '11 to 20, 31 to 40, 51 to 512'],
    ]);
    expect(SHEET.fixtures.map(({ number, name }) => [number, name]).slice(0, 4)).toEqual([
      [1, 'stove-glow'],
      [2, 'window-glow'],
      [3, 'lantern-glow'],
      [4, 'harbour-lamp'],
    ]);
    const head = SHEET.fixtures.find(({ name }) => name === 'head-left');
    expect(head).toMatchObject({ patch: '2/21', runs: [[21, 30]], hangs: '9.0, 1.0, 5.2' });
    expect(head?.hung).toBe('hanging, turned 180° about z');
  });

  it('has the channels of each profile once, and who has it', () => {
    const head = SHEET.profiles.find(({ name }) => name === 'salt-head');
    expect(head?.fixtures).toHaveLength(3);
    expect(head?.channels.slice(0, 4).map(({ slots, attribute, range }) => [slots, attribute, range])).toEqual([
      ['1 + 2', 'Pan', '-270 to 270°'],
      ['3 + 4', 'Tilt', '-135 to 135°'],
      ['5 + 6', 'Dimmer', '0 to 100 %'],
      ['7', 'Zoom', '8 to 40°'],
    ]); // biome-ignore format: a table
  });

  it('says each cue in a line, with the safe look where it is another', () => {
    expect(SHEET.cues.map(({ label, safe }) => [label, safe.join('; ')])).toEqual([
      ['evening', ''],
      ['storm', 'window lit at 8 %; harbour lamp lit at 20 %, warm white'],
      ['dawn', 'window lit at 40 %'],
    ]);
  });

  it('is one page with all of it, that needs nothing from elsewhere', () => {
    const page = rigPage(SHOW, SHEET, '2026-11-30');
    for (const words of [
      ...[
        'The Salt Lantern: the rig',
        'head stage right',
        'upstage-left',
        'harbour',
        'stage right wing',
      ],
      ...['sACN universe 1', 'Art-Net Port-Address 2', 'salt-hazer', 'The Gull', '1 : 1'],
    ]) {
      expect(page).toContain(words);
    }
    expect(page).not.toMatch(/<script|https?:\/\/(?!www\.w3\.org)|url\(|NaN|undefined/);
  });
});

it('has a batten of cells as it is patched: one fixture with its own channels, and its cells below it', () => {
  const colours = ['R', 'G', 'B'].map(
    (one, i) =>
      `{ attribute: ColorAdd_${one}, slots: [${3 + i}], copies: [[${6 + i}], [${9 + i}]] }`,
  );
  const shared =
    '{ attribute: Dimmer, slots: [1] }, { attribute: Shutter1, slots: [2], values: { open: [10, 19] }, default: open }';
  const show = showOf(
    changed(
      'fixtures:\n',
      `profiles: { batten: { channels: [${shared}, ${colours.join(', ')}] } }
fixtures:
  bar: { label: The bar, profile: batten, universe: 1, address: 101, cells: { from: [1, 2, 4], to: [3, 2, 4] }, safe: { Dimmer: 10 } }
  row: { profile: batten, universe: 1, address: 201 }
`,
    ),
  );
  const sheet = rigSheet(show);
  const bar = sheet.fixtures.find(({ name }) => name === 'bar');
  expect(bar).toMatchObject({
    ...{ label: 'The bar', profile: 'batten', patch: '1/101', runs: [[101, 111]] },
    ...{ hangs: '1.0, 2.0, 4.0 to 3.0, 2.0, 4.0', safe: 'lit at 10 %, white' },
  });
  expect(bar?.cells.map(({ label, runs, safe }) => [label, runsText(runs), safe])).toEqual([
    ['The bar 1', '103 to 105', 'lit at 10 %, white'],
    ['The bar 2', '106 to 108', 'lit at 10 %, white'],
    ['The bar 3', '109 to 111', 'lit at 10 %, white'],
    ['The bar body', '102', 'Shutter1 open'],
    ['Dimmer of all cells', '101', 'held at full: each cell is dimmed for itself'],
  ]);
  expect(sheet.fixtures.find(({ name }) => name === 'row')?.cells).toEqual([]);
  const batten = sheet.profiles.find(({ name }) => name === 'batten');
  expect(batten).toMatchObject({ slots: 11, fixtures: ['The bar', 'row'] });
  expect(batten?.channels.map(({ attribute, slots }) => [attribute, slots])).toEqual([
    ['Dimmer', '1'], ['Shutter1', '2'], ['ColorAdd_R', '3, 6, 9'], ['ColorAdd_G', '4, 7, 10'], ['ColorAdd_B', '5, 8, 11'],
  ]); // biome-ignore format: a table
  const page = rigPage(show, sheet, '2026-11-30');
  expect(page).toContain('The bar 2 (bar-2)');
  expect(page).not.toContain('batten cell');
});

it('draws keep-outs beside the stage, and takes names for text', () => {
  const show = showOf(KEPT.replace('label: audience', 'label: "<i>audience</i>"'));
  const page = rigPage(show, rigSheet(show), '2026-11-30');
  expect(page).toContain('red: no lit beam enters');
  expect(page).not.toContain('<i>audience');
});

it('says how a head is turned and trimmed', () => {
  const hung = (more: string) => {
    const at = 'position: [3, 1, 5]';
    const show = showOf(changed(at, `${at}${more}`));
    return rigSheet(show).fixtures.find(({ name }) => name === 'head')?.hung;
  };
  expect(hung('')).toBe('hanging');
  expect(hung(', orientation: standing')).toBe('standing');
  expect(hung(', orientation: { x: 90, z: -45 }, trim: { tilt: 1.25 }')).toMatch(
    /^turned 90, 0, -45° about x, y, z; tilt trim 1\.[23]°$/,
  );
});

it('gives a fixture on a crowded plan its number of the patch, and all else letters', () => {
  const heads = Array.from(
    { length: 150 },
    (_, i) =>
      `  h${i}: { label: "house-lamp-${i}", profile: dimmer, universe: 1, address: ${400 - i}, position: [${(i % 15) * 0.4}, ${Math.floor(i / 15) * 0.4}, 5] }\n`,
  );
  const show = showOf(changed('fixtures:\n', `fixtures:\n${heads.join('')}`));
  const sheet = rigSheet(show);
  const page = rigPage(show, sheet, '2026-11-30');
  const listed = [...page.matchAll(/(\w+): house-lamp-(\d+), [\d.]+&nbsp;m up/g)];
  expect(listed.length).toBeGreaterThan(0);
  for (const [, number, i] of listed) {
    expect(sheet.fixtures.find(({ name }) => name === `h${i}`)?.number).toBe(Number(number));
  }
});

describe('the safe look in words', () => {
  const sentence = (show: typeof SHOW, name: string, cue = 0) =>
    safeLights(show, cue).find(one => one.name === name)?.sentence;

  it('says how bright, which colour, and where a head is parked', () => {
    expect(sentence(SHOW, 'stove-glow')).toBe('lit at 20 %');
    expect(sentence(SHOW, 'harbour-lamp', 1)).toBe('lit at 20 %, warm white');
    expect(sentence(SHOW, 'haze')).toBe('off');
    expect(sentence(SHOW, 'head-back')).toBe('dark, parked at centre stage');
    const head = safeLights(SHOW).find(({ name }) => name === 'head-right');
    // `safe: { aim: [5, 4, 0] }`
    expect(head?.lands?.x).toBeCloseTo(5, 3);
    expect(head?.lands?.y).toBeCloseTo(4, 3);
  });

  it('names the target and the colour of the palettes', () => {
    const low = showOf(configShow('low-water'));
    expect(sentence(low, 'front-1')).toBe('dark, parked at The pool');
  });
});

describe('a chart of slots', () => {
  it('has runs over the ends of rows, and numbers where there is room', () => {
    expect(runsOf([3, 1, 2, 9, 2])).toEqual([[1, 3], [9, 9]]); // biome-ignore format: short
    const svg = slotChart('slots', [
      { number: 1, label: 'A & B', runs: [[30, 40]] },
      { number: 123, label: 'one', runs: [[512, 512]] },
    ]);
    // 30 to 32 in the first row, 33 to 40 in the second; one slot has no room for three digits.
    expect([...svg.matchAll(/<rect [^>]*stroke-width="0.7"/g)]).toHaveLength(3);
    expect(svg).toContain('1: A &amp; B, slots 30 to 40');
    expect(svg).toContain('>1</text>');
    expect(svg).not.toContain('>123</text>');
  });
});
