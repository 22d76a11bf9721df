import { describe, expect, test } from 'vitest';
import { CONDITIONS } from '../../src/safety/watchdog-table.js';
import { valuesText } from '../../src/sheets/cue-sheets.js';
import { safetyPage } from '../../src/sheets/safety-page.js';
import { type SafetySheet, safetySheet } from '../../src/sheets/safety-sheet.js';
import type { Show } from '../../src/show/model/model.js';
import { parseShow } from '../../src/show/parse.js';
import { KEPT } from '../engine/keep-out-show.js';
import { configShow, MINIMAL } from '../show/base.js';

function sheetOf(text: string) {
  const result = parseShow(text, 'a.show.yaml');
  if (!result.ok) throw new Error(result.problems.map(one => one.message).join('\n'));
  const sheet = safetySheet(result.show);
  shows.set(sheet, result.show);
  return sheet;
}

const shows = new WeakMap<SafetySheet, Show>();

function pageOf(sheet: SafetySheet, printed: string): string {
  // A figure doesn't leave its unit at the end of a line.
  return safetyPage(shows.get(sheet) as Show, sheet, printed).replaceAll('&nbsp;', ' ');
}

const LANTERN = sheetOf(configShow('salt-lantern'));

describe('the sheet for the venue', () => {
  test('has every condition, with when it acts and how fast', () => {
    expect(LANTERN.conditions.map(row => row.condition)).toEqual([...CONDITIONS]);
    for (const row of LANTERN.conditions) {
      const takesLight = row.scope !== 'nobody';
      expect(row.actsAfterS !== undefined, row.condition).toBe(takesLight);
      expect(row.fadeS !== undefined, row.condition).toBe(takesLight);
    }
    const of = (name: string) => LANTERN.conditions.find(row => row.condition === name);
    expect(of('tracker-silent')).toMatchObject({ actsAfterS: 0.5, fadeS: 2 });
    expect(of('engine-late')).toMatchObject({ actsAfterS: 0.25, fadeS: 2 });
  });

  test('has every fixture, with its way, its times and its safe values', () => {
    const of = (name: string) => LANTERN.fixtures.find(one => one.name === name);
    expect(of('stove-glow')).toMatchObject({
      patch: '1/1',
      hazard: 'ordinary',
      drivenBy: ['Ines', 'Tobias', 'The Gull'],
      way: 'crossfades',
      safe: [{ attribute: 'Dimmer', value: 20, unit: 'per cent', text: '20 %' }],
    });
    // 0.5 s until it acts, 2 s of fade; a head moves after that, in the dark.
    expect(of('stove-glow')?.safeWithinS['tracker-silent']).toBe(2.5);
    // From the other end of its pan, 323 degrees at 180 degrees a second and 540 a second squared:
    // d/v + v/a = 1.80 + 0.33 s, which is more than the second of `move`.
    expect(of('head-right')?.safeWithinS['tracker-silent']).toBeCloseTo(
      2.5 + 323.13 / 180 + 180 / 540,
      3,
    );
    // The supervisor eases: its fastest is 1.5 times the mean, so 1.5 d/v where that is the slower limit.
    expect(of('head-right')?.safeWithinS['engine-dead']).toBeCloseTo(2 + (1.5 * 323.13) / 180, 2);
    expect(of('haze')).toMatchObject({ hazard: 'atmospheric', drivenBy: [] });
    expect(of('haze')?.safeWithinS).toMatchObject({
      'engine-dead': 0,
      'operator-stop': 0,
      'feed-silent': 0.5,
    });
    expect(of('haze')?.safeWithinS['tracker-silent']).toBeUndefined();
  });

  test('says a safe value by its name or with its unit', () => {
    const sheet = sheetOf(
      configShow('salt-lantern')
        .replace(
          'profiles:\n',
          `profiles:
  scan:
    channels:
      - { attribute: Shutter1, values: { closed: [0, 31], open: [32, 63] }, default: open }
      - { attribute: Dimmer }
      - { attribute: CTO, unit: kelvin, range: [6500, 3200], default: 4000 }
`,
        )
        .replace(
          'fixtures:\n',
          `fixtures:
  side: { profile: scan, universe: 1, address: 200, safe: { Dimmer: 12.5 } }
`,
        ),
    );
    const side = sheet.fixtures.find(({ name }) => name === 'side');
    expect(side && valuesText(side.safe)).toBe('Shutter1 open, Dimmer 12.5 %, CTO 4000 K');
    expect(pageOf(sheet, '2026-11-30')).toContain('Shutter1 open, Dimmer 12.5 %');
  });

  test('lists what is not patched, in the text for the page too', () => {
    const sheet = sheetOf(
      configShow('salt-lantern').replace(
        'fixtures:\n',
        'fixtures:\n  spare-par: { label: Spare par, profile: placeholder, unpatched: true }\n',
      ),
    );
    expect(sheet.unpatched).toEqual([{ name: 'spare-par', label: 'Spare par' }]);
    expect(pageOf(sheet, '2026-11-30')).toContain('nothing is sent to it');
    expect(pageOf(sheet, '2026-11-30')).toContain('Spare par (spare-par)');
    expect(pageOf(LANTERN, '2026-11-30')).not.toContain('Not patched');
  });

  test('names hazardous outputs and those who decide on them', () => {
    expect(LANTERN.hazards.map(({ hazard, fixtures }) => [hazard, fixtures.length])).toEqual([
      ['ordinary', 7],
      ['atmospheric', 1],
    ]);
    expect(LANTERN.hazards[1]?.deferTo).toContain('fire officer');
    expect(LANTERN.whoDecides.join(' ')).toMatch(
      /safety staff.*E1\.5.*E1\.23.*E1\.29.*E1\.6-1.*E1\.43.*E1\.11/s,
    );
  });

  test('of a strobe channel in a lamp says that it needs its enable', () => {
    const sheet = sheetOf(
      MINIMAL.replace(
        'fixtures:',
        'profiles: { flick: { channels: [{ attribute: Dimmer }, { attribute: StrobeRate }] } }\nfixtures:',
      ).replace('glow: { profile: dimmer', 'glow: { profile: flick'),
    );
    expect(sheet.fixtures[0]).toMatchObject({
      hazard: 'ordinary',
      enabledChannels: ['StrobeRate'],
    });
    expect(sheet.orders).toBeUndefined();
  });
});

describe('the page', () => {
  const page = pageOf(LANTERN, '2026-02-01');

  test('is one file that fetches nothing, and says all that the sheet says', () => {
    expect(page).not.toMatch(/https?:|src=|href=|@import|url\(/);
    for (const { title, clears, inUse } of LANTERN.conditions) {
      expect(page).toContain(title);
      if (!inUse) continue;
      expect(page).toContain(clears.replaceAll('"', '&quot;'));
    }
    for (const { name } of LANTERN.fixtures) expect(page).toContain(name);
    expect(page).toContain('2026-02-01');
    expect(page).toContain('not a machine-safety system');
  });

  test('shows a name as it is, whatever is in it', () => {
    const sheet = sheetOf(MINIMAL.replace('name: One lamp', 'name: \'<b>"A & B"</b>\''));
    expect(pageOf(sheet, 'today')).toContain('&lt;b&gt;&quot;A &amp; B&quot;&lt;/b&gt;');
  });

  test('is well-formed: every element that opens closes', () => {
    const open: string[] = [];
    for (const [whole, slash, tag] of page.matchAll(/<(\/?)([a-z0-9]+)[^>]*>/g)) {
      if (tag === 'meta' || tag === undefined || whole.endsWith('/>')) continue;
      if (slash === '') open.push(tag);
      else expect(open.pop()).toBe(tag);
    }
    expect(open).toEqual([]);
  });
});

test('has the safe look of every cue, and the longest time of all of them', () => {
  const cues =
    'cues:\n  prologue: { mappings: [stove] }\n  storm: { fade: 6, base: { head: { Dimmer: 30 } }, safe: { glow: { Dimmer: 5 }, head: { aim: [1, 1, 0], Dimmer: 40 } } }\n';
  const named = MINIMAL.replace('- zone: stove', '- name: stove\n    zone: stove');
  const [without, withCues] = [sheetOf(named), sheetOf(`${named}${cues}`)];
  expect(withCues.cues).toMatchObject([
    { name: 'prologue', fadeS: 3, mappings: [{ name: 'stove', level: 1 }], safe: [] },
    {
      name: 'storm',
      fadeS: 6,
      mappings: [],
      safe: [
        { fixture: 'glow', values: [{ attribute: 'Dimmer', text: '5 %' }] },
        { fixture: 'head' },
      ],
    },
  ]);
  // In the storm nobody drives the glow: it stays as the cue has it, whoever is lost.
  expect(withCues.cues.map(one => one.lossLeavesAlone.map(({ fixture }) => fixture))).toEqual([
    expect.not.arrayContaining(['glow']),
    expect.arrayContaining(['glow']),
  ]);
  const head = (sheet: typeof without) => sheet.fixtures.find(one => one.name === 'head');
  // Its safe look is lit in the storm: up to it is a fade of its own, of two seconds.
  const [dark, lit] = [head(without)?.atMostS ?? 0, head(withCues)?.atMostS ?? 0];
  expect(lit).toBeGreaterThanOrEqual(dark + 2);
  const page = pageOf(withCues, '2026-11-30');
  expect(page).toContain('a loss leaves alone: ');
  expect(page).toContain('even if everybody is lost');
  expect(page).toContain('Each cue, and its safe look');
  expect(page).toContain('glow lit at 5 %');
  expect(page).toContain('Dimmer 5 %');
  expect(pageOf(without, '2026-11-30')).not.toContain('Each cue');
});

test('names the exits, and says what they do and do not', () => {
  const exits =
    'exits:\n  door: { label: Stage door, polygon: [[-2, 0], [0.5, 0], [0.5, 2], [-2, 2]] }\n';
  const [without, withExits] = [sheetOf(MINIMAL), sheetOf(`${MINIMAL}${exits}`)];
  expect(withExits.exits).toEqual([{ name: 'door', label: 'Stage door' }]);
  const page = pageOf(withExits, '2026-11-30');
  expect(page).toContain('Exit: Stage door (door). A performer who was last heard well inside it');
  expect(page).toContain('Off stage is not lost');
  expect(pageOf(without, '2026-11-30')).toContain('This show has no exits');
});

test('what no lit beam may touch is on the sheet, with the heads that are kept out of it', () => {
  const sheet = sheetOf(KEPT);
  expect(sheet.keepOuts).toEqual([
    {
      name: 'audience',
      label: 'audience',
      where: 'x -3 to 13, y -9 to -0.5 m, -1 to 1.4 m high',
      heads: ['back', 'side', 'zoned'],
    },
    {
      name: 'camera',
      label: 'camera',
      where: '0.5 m round (9.5, 3, 1.5)',
      heads: ['back', 'side', 'zoned'],
    },
  ]);
  const page = pageOf(sheet, '');
  expect(page).toContain('Where no lit beam goes');
  expect(page).toContain('audience: x -3 to 13, y -9 to -0.5 m');
  expect(pageOf(sheetOf(KEPT.replace(/keepOut:\n.*\n.*\n/, '')), '')).not.toContain(
    'Where no lit beam goes',
  );
});

test('whoever has the token of the panel is among those who can stop the light, with orders by OSC and without', () => {
  for (const show of [configShow('salt-lantern'), MINIMAL]) {
    const stops = pageOf(sheetOf(show), '').split('Who can stop the light')[1];
    expect(stops).toMatch(/the panel, unless .* any browser with its token can stop/);
  }
});

test('a safe look in a colour of the palette says its name', () => {
  const parsed = parseShow(
    `lampwright: 1
name: Colours
stage: { x: [0, 6], y: [0, 4] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] } }
palettes: { colours: { amber: { label: Amber of the stove, srgb: [255, 120, 40] } } }
fixtures:
  cyc: { profile: rgb, universe: 1, address: 1, safe: { Dimmer: 20, colour: amber } }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`,
    'a.show.yaml',
  );
  if (!parsed.ok) throw new Error(parsed.problems.map(({ message }) => message).join());
  const [cyc] = safetySheet(parsed.show).fixtures;
  expect(cyc && valuesText(cyc.safe)).toBe(
    'Dimmer 20 %, colour Amber of the stove (ColorAdd_R 100 %, ColorAdd_G 18.8 %, ColorAdd_B 2 %)',
  );
});
