import { styleText } from 'node:util';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { ViewInput } from '../../src/panel/live-view.js';
import { PHASES } from '../../src/safety/watchdog.js';
import { PERFORMER_CONDITIONS, titleOf } from '../../src/safety/watchdog-table.js';
import type { Show } from '../../src/show/model/model.js';
import { demand } from '../demand.js';
import { showOf } from '../show/show-of.js';
import { expectToFit, LANTERN, NEWS, type PerformerFields, plain, seen, view } from './support.js';

const ESCAPE = '\x1b';

/** More performers and fixtures than any screen has rows. */
function manyPerformers(count: number): Show {
  const each = (line: (i: number) => string) =>
    Array.from({ length: count }, (_, i) => `  ${line(i)}\n`).join('');
  return showOf(`
lampwright: 1
name: A house with a name that is longer than most terminals are
stage: { x: [-20, 20], y: [0, 9] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers:
${each(i => `p${i}: { label: "Performer number ${i}", trackers: [${i}] }`)}
zones:
${each(i => `z${i}: { label: "Zone number ${i}", circle: { centre: [${i % 9}, 4], radius: 1 } }`)}
fixtures:
${each(i => `f${i}: { label: "Fixture number ${i}", profile: dimmer, universe: 1, address: ${i + 1} }`)}
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`);
}
const MANY = manyPerformers(40);

/** Real codes, whatever the terminal of the test: each must be whole, and closed in its own line. */
const coloured: ViewInput['style'] = (style, text) =>
  styleText(style, text, { validateStream: false });
/** SGR (ECMA-48 8.3.117): 22 and 39 undo weight and colour. */
const CODES = new RegExp(`${ESCAPE}\\[(\\d+)m`, 'g');

describe('the live view', () => {
  it.each([
    [1, 1],
    [1, 50],
    [20, 5],
    [40, 12],
    [80, 24],
    [80, 60],
    [130, 10],
    [130, 50],
    [300, 100],
  ])('fits into %i columns and %i rows', (columns, rows) => {
    for (const style of [plain, coloured]) {
      expectToFit(view({ columns, rows, style }), columns, rows);
      expectToFit(view({ columns, rows, style, snapshot: undefined }), columns, rows);
      const full = { columns, rows, style, show: MANY, engine: seen(MANY) };
      expectToFit(view(full), columns, rows);
    }
  });

  it('fits into any room, with any names, and cuts no colour code', () => {
    const label = fc.string({ minLength: 1, maxLength: 30, unit: 'grapheme' });
    const performer = fc.record({
      phase: fc.constantFrom(...PHASES),
      x: fc.double({ min: -50, max: 50, noNaN: true }),
      y: fc.double({ min: -50, max: 50, noNaN: true }),
    });
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 200 }),
        fc.integer({ min: 1, max: 80 }),
        fc.array(label, { minLength: 3, maxLength: 3 }),
        fc.array(performer, { minLength: 3, maxLength: 3 }),
        (columns, rows, labels, performers) => {
          const show = {
            ...LANTERN,
            performers: LANTERN.performers.map((one, i) => ({ ...one, label: labels[i] ?? '' })),
          };
          const input = { columns, rows, show, news: labels };
          const engine = seen(LANTERN, performers);
          const lines = view({ ...input, engine, style: coloured });
          expectToFit(lines, columns, rows);
          expect(lines.map(line => line.replace(CODES, ''))).toEqual(view({ ...input, engine }));
          for (const line of lines) {
            const codes = [...line.matchAll(CODES)].map(([, code]) => Number(code));
            const undone = codes.filter(code => code === 22 || code === 39);
            demand(undone.length === codes.length / 2, () => JSON.stringify(line));
          }
        },
      ),
      { seed: 71, numRuns: 200 },
    );
  });

  it('has no colour code where there is no colour', () => {
    expect(view().join('')).not.toContain(ESCAPE);
    expect(view({ snapshot: undefined }).join('')).not.toContain(ESCAPE);
  });

  it('takes a terminal that does not know its size for one of 80 by 24', () => {
    expect(view({ columns: 0, rows: 0 })).toEqual(view({ columns: 80, rows: 24 }));
  });

  it('lets nothing in a name or a line of the engine steer the terminal', () => {
    const rude = `gull${ESCAPE}[2J\r\n\u202e`;
    const show = { ...LANTERN, name: rude, zones: [], performers: [] };
    const text = view({ show, engine: null, news: [rude] }).join('');
    expect(text).toContain('gull?[2J???');
    expect(text).not.toMatch(/[\p{Cc}\u202e]/u);
  });
});

/** Long names, names two cells wide, names with marks of their own. */
const NAMES = [
  'Ines of the Harbour Light',
  '灯台守のトビアス・海',
  'The Gu\u0308ll e\u0301\u0323',
] as const;

function longNamed(): Show {
  return {
    ...LANTERN,
    performers: LANTERN.performers.map((one, i) => ({ ...one, label: NAMES[i] ?? one.label })),
  };
}

/** What the engine would say of heads and lamps that one performer is lost for. */
function lostFor(
  show: Show,
  cause: NonNullable<PerformerFields['cause']>,
): ReturnType<typeof seen> {
  const [ines, , gull] = show.performers;
  const engine = seen(show, [
    { phase: 'live', x: 5, y: 4 },
    { phase: 'safe', cause: 'operator-stop', x: 2, y: 6 },
    { phase: 'safe', cause, x: 8.6, y: 6.8 },
  ]);
  const fixtures = engine.fixtures.map((one, i) => {
    const { dark: _dark, darkFor: _for, safeFor: _safe, ...rest } = one;
    const name = gull?.name ?? '';
    if (i < 4) return { ...rest, safeFor: [name] };
    if (i === 5) return { ...rest, dark: 'lost' as const, darkFor: name, safeFor: [name] };
    return i > 5 ? { ...rest, follows: ines?.name ?? '', beam: { x: 5.1, y: 4.2, z: 0 } } : rest;
  });
  return { ...engine, fixtures };
}

describe('what matters is whole', () => {
  const sizes = [
    [80, 24],
    [100, 30],
    [120, 40],
    [200, 50],
  ] as const;
  const whole = (columns: number, rows: number, show: Show, engine: ReturnType<typeof seen>) => {
    const lines = view({ show, engine, columns, rows });
    expectToFit(lines, columns, rows);
    return {
      lines,
      text: lines
        .join('\n')
        .replace(/\n {4,}/g, ' ')
        .replace(/ {2,}/g, ' '),
    };
  };

  it.each(sizes)('in %i columns and %i rows, with any names', (columns, rows) => {
    for (const show of [LANTERN, longNamed()]) {
      const [ines = '', tobias = '', gull = ''] = show.performers.map(({ label }) => label);
      const { lines, text } = whole(columns, rows, show, lostFor(show, 'tracker-silent'));
      expect(text).not.toContain('…');
      expect(lines[0]).toContain(`${gull} is lost`);
      // Who, since when, why; and where heads point, and why they are dark.
      expect(text).toContain(`${gull} lost 0:12 tracker silent`);
      expect(text).toContain(`${tobias} stopped 0:12 by an operator`);
      expect(text).toContain(`dark: ${gull} is lost`);
      expect(text).toContain(`at safe: ${gull} is lost`);
      expect(text).toMatch(new RegExp(`on ${ines} beam at \\d\\.\\d \\d\\.\\d m`));
      expect(text).toContain('head stage right dark; the rest goes on');
      for (const { label } of show.fixtures) expect(text).toContain(label);
    }
  });

  it.each(sizes)('whatever the reason, in %i columns and %i rows', (columns, rows) => {
    for (const cause of PERFORMER_CONDITIONS.filter(one => one !== 'operator-stop')) {
      const show = longNamed();
      const { text } = whole(columns, rows, show, lostFor(show, cause));
      expect(text).toContain(`${NAMES[2]} lost 0:12 ${titleOf(cause)}`);
    }
  });

  it('says how sure only of whom somebody is to be sure', () => {
    for (const [columns, rows] of sizes) {
      const { lines } = whole(columns, rows, LANTERN, lostFor(LANTERN, 'tracker-silent'));
      expect(lines.find(line => /Ines +live/.test(line))).toContain('% sure');
      expect(lines.find(line => /Tobias +stopped/.test(line))).not.toContain('sure');
    }
  });

  it('gives a trouble the lines that it takes', () => {
    const troubles = [
      {
        what: 'the clock of this machine was stepped by an hour and more, so that times in the log are of two clocks',
        since: new Date().toISOString(),
      },
      {
        what: 'the panel: its token was removed, so nobody can act from a page: make another',
        since: new Date().toISOString(),
      },
    ] as never;
    const lines = view({ columns: 80, rows: 24, status: { troubles } });
    const text = lines.join('\n').replace(/\n {4,}/g, ' ');
    expect(text).toContain('times in the log are of two clocks');
    expect(text).toContain('so nobody can act from a page: make another');
    expectToFit(lines, 80, 24);
  });

  it('tells that tracking is silent once', () => {
    const since = new Date().toISOString();
    const feed = { silent: true, since, positionsPerS: 0, datagramsPerS: 0, droppedPerS: 0 };
    const performers = LANTERN.performers.map(
      () => ({ phase: 'safe', cause: 'feed-silent' }) as const,
    );
    const lines = view({
      engine: seen(LANTERN, performers),
      status: { feed },
      columns: 80,
      rows: 24,
    });
    expect(lines[0]).toContain('Tracking is silent: nobody is heard');
    expect(lines.filter(line => /^\d+ positions\/s/.test(line))).toHaveLength(1);
    expect(lines.filter(line => line.startsWith('tracking silent'))).toEqual([]);
    expect(lines.filter(line => /lost +0:12 {2}tracking silent/.test(line))).toHaveLength(3);
  });
});

describe('what is seen', () => {
  it('has everybody, everything and the last news in a large terminal', () => {
    const lines = view();
    const text = lines.join('\n');
    for (const { label } of [...LANTERN.performers, ...LANTERN.zones, ...LANTERN.fixtures]) {
      expect(text).toContain(label);
    }
    expect(lines[0]).toBe('ACT: The Gull is lost   The Salt Lantern');
    expect(lines[1]).toMatch(/^light /);
    expect(lines).toContain('60 positions/s   all outputs send');
    expect(lines.at(-1)).toBe('Ctrl-C leaves');
    expect(lines.at(-2)).toBe(NEWS.at(-1));
    expect(lines).toHaveLength(49);
  });

  it('says what a machine of a pair leaves to the other one', () => {
    const nodes = { name: 'nodes', protocol: 'artnet' as const, interface: 'eth0', universes: [1] };
    const waits = { interface: 'eth0', part: 'waits' as const, since: '2026-11-30T20:14:03Z' };
    const lines = view({
      status: {
        outputs: [{ ...nodes, heldBack: true }],
        pair: { machine: 'standby', shows: 'same', parts: [{ ...waits, other: 'heard' }] },
      },
    });
    expect(lines).toContain(
      '60 positions/s   nodes left to the other machine   standby, waits: the main machine has the light',
    );
  });

  it('has performers, map, zones, lamps and news in 80 columns and 24 rows', () => {
    const lines = view({ columns: 80, rows: 24 });
    const text = lines.join('\n');
    for (const { label } of [...LANTERN.performers, ...LANTERN.zones, ...LANTERN.fixtures]) {
      expect(text).toContain(label);
    }
    expect(text).toContain('upstage');
    expect(text).toContain('tracker silent');
    expect(lines.at(-2)).toBe(NEWS.at(-1));
  });

  it.each([
    [130, 50],
    [80, 24],
    [60, 16],
  ])('tells who is lost, and why, in %i columns and %i rows', (columns, rows) => {
    const gull = view({ columns, rows }).filter(line => /The Gull +lost/.test(line));
    expect(gull).toHaveLength(1);
    expect(gull[0]).toMatch(/The Gull +lost +0:12 {2}tracker silent/);
  });

  it('shows places whole or not at all: part of a number is another number', () => {
    for (let columns = 1; columns < 140; columns++) {
      const gull = view({ columns }).filter(line => /The Gull .*lost/.test(line));
      for (const line of gull) expect(line).toMatch(/8\.6 {3}6\.8 m$|^[^.]*$/);
    }
    expect(view({ columns: 130 }).join('\n')).toContain('8.6   6.8 m');
  });

  it('tells who is lost and how the lights are before all else where there is hardly room', () => {
    const performers = MANY.performers.map((_, i): PerformerFields => {
      return i === 37 ? { phase: 'safe', cause: 'jumped' } : { phase: 'live', cause: undefined };
    });
    const lines = view({
      show: MANY,
      engine: seen(MANY, performers),
      phase: 'losing',
      columns: 30,
      rows: 5,
    });
    expect(lines[0]).toMatch(/^ACT: All light fades/);
    expect(lines[1]).toMatch(/^Performer n… lost/);
    expect(lines.at(-1)).toBe('and 38 more');
  });

  it('tells how many more there are of each', () => {
    const lines = view({ show: MANY, engine: seen(MANY), columns: 130, rows: 60 });
    expect(lines.filter(line => line.includes('Performer number'))).toHaveLength(40);
    expect(lines.join('\n')).toMatch(/and \d+ more/);
  });

  it('says that the engine is gone and that the feed is silent', () => {
    const since = new Date().toISOString();
    const feed = { silent: true, since, positionsPerS: 0, datagramsPerS: 0, droppedPerS: 0 };
    const [head, light, second] = view({ pid: undefined, phase: 'losing', status: { feed } });
    expect(head).toMatch(/^ACT: All light fades to the safe look/);
    expect(light).toBe('light fades to safe');
    expect(second).toBe('tracking silent   all outputs send   engine gone');
  });

  it('says what it waits for while there is no engine', () => {
    expect(view({ snapshot: undefined }).join('\n')).toContain('waiting for the daemon');
  });

  it('says that its picture is old before all else, and goes on showing it', () => {
    const lines = view({ notice: 'THIS PICTURE IS 7 s OLD.', columns: 80, rows: 24 });
    expect(lines[0]).toBe('THIS PICTURE IS 7 s OLD.');
    expect(lines.join('\n')).toContain('The Gull');
  });
});
