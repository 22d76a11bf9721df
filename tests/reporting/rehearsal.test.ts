import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { parseScene, type RehearsalScene } from '../../src/rehearsal/scenes/scene-file.js';
import { rehearsalPage } from '../../src/reporting/pages/rehearsal-page.js';
import { late, rehearsalText } from '../../src/reporting/pages/rehearsal-text.js';
import { reportRehearsal } from '../../src/reporting/rehearsal.js';
import type { Show } from '../../src/show/model/model.js';
import { showOf } from '../show/show-of.js';

const TEXT = readFileSync('config/salt-lantern.show.yaml', 'utf8');
const CLOCK = { startS: 0, unixOffsetS: 1_764_000_000, tickHz: 40, rounds: 1 };
const VERSION = { version: '0.1.0', node: 'v20' };
const at = (atS: number) => atS.toFixed(1);

const SHOW = showOf(TEXT);

function sceneOf(text: string, show = SHOW): RehearsalScene {
  const result = parseScene(text, 'a.scene.yaml', show, path => ({
    ok: true,
    text: readFileSync(path, 'utf8'),
  }));
  if (!result.ok) throw new Error(result.problems[0]?.message);
  return result.scene;
}

/** By show and by what is played to it: several tests look at one rehearsal. */
const played = new Map<Show, Map<string, ReturnType<typeof reportRehearsal>>>();

function rehearsed(scene: RehearsalScene, show = SHOW, clock = CLOCK) {
  const ofShow = played.get(show) ?? new Map<string, ReturnType<typeof reportRehearsal>>();
  played.set(show, ofShow);
  const key = JSON.stringify([scene, clock]);
  const result = ofShow.get(key) ?? reportRehearsal(show, scene, clock, VERSION, at);
  ofShow.set(key, result);
  return result;
}

const PERFECT =
  'sensor: { noise: 0, outliers: 0, shadow: 0, jitter: 0, rate: 100, latency: LATENCY }';

/** To and fro across the stage, through the lantern, at up to 1.5 m/s. */
function walk(sensor: string, more = ''): string {
  const marks = Array.from(
    { length: 9 },
    (_, i) => `      - { at: ${i * 5}, place: [${i % 2 === 0 ? 2 : 7}, ${i % 2 === 0 ? 3 : 4.5}] }`,
  );
  return `lampwright: 1\nscene: to and fro\nlength: 40\n${sensor}\nperformers:\n  ines:\n    height: 1.5\n    path:\n${marks.join('\n')}\n${more}`;
}

describe('whom a scene leaves out', () => {
  it('is nothing to fix, and said to be out of it', () => {
    const result = rehearsed(sceneOf(walk(PERFECT.replace('LATENCY', '0'))));
    expect(result.report.recommendations.map(({ what }) => what).join()).not.toContain(
      'never heard',
    );
    const text = rehearsalText(result, at, one => one).join('\n');
    expect(text).not.toContain('never heard');
  });
});

describe('a loss that lasts to the end of a scene', () => {
  const result = rehearsed(
    sceneOf(walk(PERFECT.replace('LATENCY', '0'), '    losses: [{ from: 30, to: 40 }]\n')),
  );
  const { report } = result;

  it('counts in full: a scene has no time after the show', () => {
    expect(report.losses).toMatchObject([{ performer: 'ines', untilS: undefined }]);
    expect(report.losses[0]?.forS).toBeGreaterThan(9);
    expect(report.performers[0]?.availability).toBeLessThan(0.8);
    expect(report.notes).toEqual([]);
    expect(report.recommendations[0]?.what).toMatch(
      /^All trackers fell silent together once; all light went to its safe values, and was away for 9\.\d s at most\.$/,
    );
    expect(rehearsalText(result, at, one => one).join('\n')).toMatch(/for +9\.\d s to the end {2}/);
  });

  it('notes are printed', () => {
    const noted = { ...result, report: { ...report, notes: ['Take care.'] } };
    expect(rehearsalText(noted, at, one => one)).toContain('  note: Take care.');
    expect(rehearsalPage(noted, SHOW, at)).toContain('Take care.');
  });
});

describe('a tracker that hangs in the middle of a run', () => {
  const { report, heads } = rehearsed(
    sceneOf(readFileSync('config/scenes/storm.scene.yaml', 'utf8')),
  );

  it('is seen, told, and taken for a loss; who stands still is none', () => {
    expect(report.actions.map(({ what }) => what)).toEqual([
      'Ines: tracker 1 was frozen (it repeated the same position)',
      'Ines: light began to fade to its safe values (the tracker was frozen)',
      'Ines: tracker 1 moved again',
      'Ines: light began to return',
    ]);
    expect(report.losses).toMatchObject([{ performer: 'ines', cause: 'frozen' }]);
    const [loss] = report.losses;
    // It hangs at 10 s: within a second and a half the light has begun to go.
    expect(loss?.atS).toBeGreaterThan(10);
    expect(loss?.atS).toBeLessThan(11.5);
    expect(loss?.untilS).toBeGreaterThan(13);
    expect(report.recommendations[0]?.what).toMatch(
      /^Ines was lost once, .* \(the tracker was frozen\)\.$/,
    );
    expect(report.recommendations[0]?.act).toContain('tracker 1');
  });

  it('does not hold the light where she was', () => {
    const following = heads.filter(({ performer }) => performer === 'Ines');
    expect(following.length).toBeGreaterThan(0);
    for (const { worstM, p95M } of following) {
      expect(worstM).toBeLessThan(1);
      expect(p95M).toBeLessThan(0.3);
    }
  });
});

describe('a performer with a pair of trackers', () => {
  const show = showOf(TEXT.replace('trackers: [1]', 'trackers: [1, 11]'));
  const losing = (which: string) =>
    rehearsed(
      sceneOf(
        walk(PERFECT.replace('LATENCY', '0'), `    losses: [{ from: 10, to: 30, ${which} }]\n`),
        show,
      ),
      show,
    ).report;

  it('wears both, and is lost only when both are silent', () => {
    const one = losing('tracker: 11').performers[0];
    expect(one?.losses).toBe(0);
    expect(one?.trackers.map(({ id }) => id)).toEqual(['1', '11']);
    const [front, back] = one?.trackers ?? [];
    expect((back?.reports ?? 0) / (front?.reports ?? 1)).toBeCloseTo(0.5, 2);
    expect(losing('as: silent').performers[0]?.losses).toBe(1);
  });

  it('has one that falls silent alone named, with its times, and first among what to fix', () => {
    const report = losing('tracker: 11');
    expect(report.trackerSilences).toMatchObject([{ performer: 'ines', tracker: '11' }]);
    const [silence] = report.trackerSilences;
    expect(silence?.fromS).toBeCloseTo(10, 0);
    // To its first report, and not to when it is told.
    expect(silence?.untilS).toBeCloseTo(30, 1);
    expect(report.recommendations[0]?.what).toMatch(
      /^Tracker 11 of Ines was silent once, 2\d\.\d s in all/,
    );
    expect(report.actions.map(({ what }) => what)).toEqual(
      expect.arrayContaining([
        'Ines: tracker 11 was not heard any more; the light followed tracker 1',
        'Ines: tracker 11 was heard again',
      ]),
    );
    // With all of them silent the performer is lost, and that is told instead.
    expect(losing('as: silent').trackerSilences).toEqual([]);
  });
});

describe('a rehearsal', () => {
  const ines = (latencyS: number, show = SHOW) => {
    const result = rehearsed(sceneOf(walk(PERFECT.replace('LATENCY', String(latencyS)))), show);
    const head = result.heads.find(({ performer }) => performer === 'Ines');
    const zone = result.zones.find(({ zone: name }) => name === 'lantern');
    if (head === undefined || zone === undefined) throw new Error('nothing');
    return { head, zone };
  };
  const prompt = ines(0);

  it('lists a zone for those only whom a mapping asks for there', () => {
    const others = showOf(TEXT.replace('performers: [ines, gull]', 'performers: [gull]'));
    const { zones } = rehearsed(sceneOf(walk(PERFECT.replace('LATENCY', '0'))), others);
    expect(
      zones.filter(({ zone, performer }) => zone === 'lantern' && performer === 'Ines'),
    ).toEqual([]);
  });

  it('says of a negative delay that it is early', () => {
    expect([late(0.5), late(-0.5), late(-0.001), late(Number.NaN)]).toEqual([
      '0.50 s late',
      '0.50 s early',
      '0.00 s',
      '-',
    ]);
  });

  it('with a perfect sensor has a head that holds its performer', () => {
    expect(prompt.head.litS).toBeGreaterThan(35);
    expect(prompt.head.p95M).toBeLessThan(0.2);
    expect(Math.abs(prompt.head.trailsS)).toBeLessThan(0.1);
    expect(prompt.zone).toMatchObject({ visits: 8, missed: 0, falseEntries: 0, duringLoss: 0 });
    expect(Math.abs(prompt.zone.meanS)).toBeLessThan(0.15);
  });

  it('is later by as much as the reports, where their age is not declared', () => {
    const late = ines(0.4);
    expect(late.head.trailsS - prompt.head.trailsS).toBeCloseTo(0.4, 1);
    expect(late.zone.meanS - prompt.zone.meanS).toBeCloseTo(0.4, 1);
    // At the walk's fastest, 1.5 times 1.04 m/s on average: 0.4 s are 0.6 m.
    expect(late.head.worstM).toBeGreaterThan(0.4);
    expect(late.head.offS).toBeGreaterThan(prompt.head.offS);
  });

  it('makes up for an age that is declared', () => {
    const declared = showOf(TEXT.replace('\nzones:', '\ntracking: { sensorLatency: 0.2 }\nzones:'));
    const undeclared = ines(0.2);
    expect(ines(0.2, declared).head.trailsS).toBeLessThan(undeclared.head.trailsS - 0.05);
  });

  it('reaches the stage through the frame, unit and axes of the show', () => {
    const turned = showOf(
      TEXT.replace(
        '        arguments: [x, y, z, quality?]',
        '        arguments: [x, y, z, quality?]\n        unit: cm\n        axes: [z, -x, y]\n    origin: [3, -2, 0.5]\n    turn: 35',
      ),
    );
    const straight = rehearsed(sceneOf(walk(PERFECT.replace('LATENCY', '0'))));
    const bent = rehearsed(sceneOf(walk(PERFECT.replace('LATENCY', '0')), turned), turned);
    // Floats of 32 bits round otherwise in centimetres.
    expect(bent.heads[0]?.meanM).toBeCloseTo(straight.heads[0]?.meanM ?? 0, 4);
    expect(bent.zones.map(({ visits }) => visits)).toEqual(
      straight.zones.map(({ visits }) => visits),
    );
  });

  it('is the same for a seed, and another for another', () => {
    const scene = sceneOf(walk('sensor: { noise: 0.1 }'));
    const first = JSON.stringify(rehearsed(scene));
    expect(JSON.stringify(reportRehearsal(SHOW, scene, CLOCK, VERSION, at))).toBe(first);
    expect(JSON.stringify(rehearsed({ ...scene, seed: 2 }))).not.toBe(first);
  });

  it('does not count as late what a loss made late', () => {
    const clean = sceneOf(walk(PERFECT.replace('LATENCY', '0')));
    const went = rehearsed(clean).zones.find(({ zone }) => zone === 'lantern');
    expect(went).toMatchObject({ visits: 8, missed: 0, duringLoss: 0 });
    // Silent over two visits: back long after the first began.
    const scene = sceneOf(
      walk(PERFECT.replace('LATENCY', '0'), '    losses: [{ from: 10, to: 18 }]\n'),
    );
    const result = rehearsed(scene);
    const lost = result.zones.find(({ zone }) => zone === 'lantern');
    expect(lost?.visits).toBe(8);
    expect(lost?.duringLoss).toBeGreaterThanOrEqual(1);
    expect(lost?.missed).toBe(0);
    expect(Math.abs(lost?.worstS ?? 9)).toBeLessThan(0.3);
    expect(rehearsalText(result, at, one => one).join('\n')).toMatch(
      /lantern .*(once|twice) while the watchdog had their light, not counted/,
    );
  });

  it('says where the watchdog acted, and why', () => {
    const losses = [
      '    losses:',
      '      - { from: 8, to: 12 }',
      '      - { from: 20, to: 23, as: elsewhere, by: [-1, 3] }',
    ];
    const { report } = rehearsed(
      sceneOf(walk('losses: [{ from: 30, to: 33 }]', losses.join('\n'))),
    );
    const told = report.losses.map(({ atS, cause }) => `${Math.floor(atS)} ${cause}`);
    // Nobody else is tracked: her silence is that of the feed.
    expect(told[0]).toBe('8 feed-silent');
    expect(told.at(-1)).toBe('30 feed-silent');
    expect(told.slice(1, -1).join()).toMatch(/2[0-4] (jumped|confidence-low)/);
    expect(report.losses[0]?.forS).toBeGreaterThan(4);
  });

  it('counts what each light did', () => {
    const { lights } = rehearsed(sceneOf(walk(PERFECT.replace('LATENCY', '0'))));
    const lantern = lights.find(({ fixture }) => fixture === 'lantern');
    // Through the lantern eight times; its fade out of 4 s outlasts the way back.
    expect(lantern?.highest).toBeCloseTo(100, 0);
    expect(lantern?.rises).toBeGreaterThanOrEqual(4);
    expect(lantern?.rises).toBeLessThanOrEqual(9);
    const window = lights.find(({ fixture }) => fixture === 'window');
    // Nobody goes there: from its safe 15 down to its base 5 and no more.
    expect(window?.rises).toBe(0);
    expect(window?.highest).toBeLessThanOrEqual(15);
    expect(window?.trace.length).toBeGreaterThan(100);
  });

  it('plays several evenings, one after the other', () => {
    const scene = sceneOf(walk('sensor: { noise: 0.1 }'));
    const { report, rounds, zones } = rehearsed(scene, SHOW, { ...CLOCK, rounds: 3 });
    expect(rounds).toBe(3);
    expect(report.toS).toBeCloseTo(120, 0);
    const once = rehearsed(scene).zones.find(({ zone }) => zone === 'lantern');
    expect(zones.find(({ zone }) => zone === 'lantern')?.visits).toBe(3 * (once?.visits ?? 0));
  });

  it('takes measured positions as they are, noise and all', () => {
    const file = 'tests/fixtures/data/tracking/uwb_trolley_fast_8anchor_cal.csv';
    const wide = showOf(
      TEXT.replace(
        '  x: [0, 10]\n  y: [0, 8]\n  z: [-0.5, 3]',
        '  x: [-20, 20]\n  y: [-20, 20]\n  z: [-3, 6]',
      ),
    );
    const scene = sceneOf(
      `lampwright: 1\nscene: trolley\nlength: 60\nperformers:\n  ines: { motion: ${file} }\n`,
      wide,
    );
    const { heads, report } = rehearsed(scene, wide);
    expect(report.performers[0]?.reports).toBeGreaterThan(300);
    expect(report.performers[0]?.availability).toBeGreaterThan(0.5);
    expect(heads[0]?.meanM).toBeLessThan(1);
  });

  it('is a page that needs nothing else, and text', () => {
    const result = rehearsed(sceneOf(readFileSync('config/scenes/lantern.scene.yaml', 'utf8')));
    const html = rehearsalPage(result, SHOW, at);
    expect(html).not.toMatch(/<script|src=|href=|@import|url\((?!#)/);
    // A strip a light and a performer, the rig twice, the places, and a path each.
    const strips = SHOW.fixtures.length - 1 + SHOW.performers.length;
    expect(html.match(/<svg /g)).toHaveLength(strips + 3 + SHOW.performers.length);
    // The losses have their numbers in the list and on the strips.
    expect(html).toMatch(/<b[^>]*title="[^"]*the tracker was not heard">▼\d/);
    expect(html).toContain('>▼1</td>');
    expect(html.indexOf('Fix first')).toBeLessThan(html.indexOf('What each light did'));
    expect(html).toContain('Paths walked');
    const text = rehearsalText(result, at, one => one).join('\n');
    expect(text).toMatch(
      /12\.5 +The Gull +for +\d\.\d s {2}the tracker was not heard; upstage left/,
    );
    expect(text).toContain('nobody was heard');
  });
});

describe('a head that follows another performer in another cue', () => {
  // head-left is on Tobias, and in the storm on Ines.
  const text = TEXT.replace(
    '  - follow: tobias\n    always: true',
    '  - name: on-tobias\n    follow: tobias',
  )
    .replace(
      '  - follow: gull\n    always: true',
      '  - name: on-ines\n    follow: ines\n    fixtures: [head-left]\n    set: { Dimmer: 65 }\n  - follow: gull\n    always: true',
    )
    .replace('evening: { mappings: [', 'evening: { mappings: [on-tobias, ')
    .replace('mappings: [stove, wick', 'mappings: [on-ines, stove, wick');
  const show = showOf(text);
  const scene = `lampwright: 1
scene: two cues
length: 30
${PERFECT.replace('LATENCY', '0')}
cues: [{ at: 12, cue: storm }]
performers:
  ines: { path: [{ at: 0, place: [2, 3] }, { at: 30, place: [2, 3] }] }
  tobias: { path: [{ at: 0, place: [7, 4.5] }, { at: 30, place: [7, 4.5] }] }
`;
  const result = rehearsed(sceneOf(scene, show), show);
  const left = show.fixtures.find(({ name }) => name === 'head-left')?.label;

  it('has a row for each of them, with the cues, and is off neither', () => {
    const rows = result.heads.filter(({ fixture }) => fixture === left);
    // On Tobias it is still lit while the storm comes on: that is the end of the evening.
    expect(rows.map(({ performer, cues }) => [performer, cues])).toEqual([
      ['Tobias', ['evening']],
      ['Ines', ['storm']],
    ]);
    for (const { litS, p95M } of rows) {
      expect(litS).toBeGreaterThan(8);
      expect(p95M).toBeLessThan(0.3);
    }
    const lines = rehearsalText(result, at, one => one).filter(line => line.includes(`${left} `));
    expect(lines.join('\n')).toMatch(/Tobias .* in evening[\s\S]*Ines .* in storm/);
  });
});

describe('a zone that moves with somebody', () => {
  const show = showOf(
    TEXT.replace(
      '\nzones:',
      '\nzones:\n  beside-ines: { circle: { around: ines, radius: 1.5 }, feather: 0.3 }',
    ).replace(
      'mappings:\n',
      'mappings:\n  - { name: beside, always: true, zone: beside-ines, performers: [tobias], fixtures: [window-glow], set: { Dimmer: 60 } }\n',
    ),
  );
  // Ines goes by Tobias, who stands, twice; he is never near the corner of the stage.
  const scene = `lampwright: 1
scene: passing by
length: 40
${PERFECT.replace('LATENCY', '0')}
performers:
  tobias: { height: 1.5, path: [{ at: 0, place: [5, 4] }] }
  ines: { height: 1.5, path: [{ at: 0, place: [1, 4.5] }, { at: 15, place: [9, 4.5] }, { at: 35, place: [1, 4.5] }] }
`;
  const inZone = (text: string) =>
    rehearsed(sceneOf(text, show), show).zones.filter(({ zone }) => zone === 'beside-ines');

  it('has the visits of those to whom it comes, and none of who it is around', () => {
    const zones = inZone(scene);
    expect(zones).toMatchObject([
      { performer: 'Tobias', visits: 2, missed: 0, falseEntries: 0, duringLoss: 0 },
    ]);
    expect(Math.abs(zones[0]?.worstS ?? 9)).toBeLessThan(0.2);
  });

  it('blames the loss of who it is around for a visit that nobody noticed', () => {
    const lost = inZone(`${scene.trimEnd().slice(0, -2)}, losses: [{ from: 3, to: 12 }] }\n`);
    expect(lost).toMatchObject([{ visits: 2, missed: 0, falseEntries: 0, duringLoss: 1 }]);
  });
});

describe('signals, conditions, numbers by OSC and messages', () => {
  const show = showOf(
    TEXT.replace(
      'signals:\n',
      'signals:\n  storm: { osc: { address: /sound/level }, range: [0, 10] }\n  apart: { distance: [ines, tobias] }\n  unheard: { osc: { address: /sound/other }, range: [0, 1] }\n',
    )
      .replace(
        'mappings:\n',
        `conditions:
  loud: { signal: storm, on: 0.6, off: 0.4 }
  far: { signal: unheard, on: 0.5 }
receivers: { sound: { address: 127.0.0.1, port: 9050 } }
actions:
  - { condition: loud, send: sound, address: /loud, arguments: [1] }
  - { cue: storm, send: sound, address: /storm }
mappings:
  - { name: thunder, always: true, by: storm, fixtures: [window-glow], set: { Dimmer: 90 }, fade: { in: 0, out: 0 } }
  - { name: never, when: far, by: apart, fixtures: [window-glow], set: { Dimmer: 90 } }
`,
      )
      .replace(
        'apart: { distance: [ines, tobias] }',
        'apart: { distance: [ines, tobias], range: [0, 8] }',
      )
      .replace('fade: 4', 'fire: loud\n    fade: 4'),
  );
  const scene = `lampwright: 1
scene: a storm
length: 30
${PERFECT.replace('LATENCY', '0')}
numbers:
  storm: [{ at: 2, value: 1 }, { at: 10, value: 8 }, { at: 20, value: 2 }, { at: 25, value: silent }]
performers:
  ines: { path: [{ at: 0, place: [2, 3] }] }
  tobias: { path: [{ at: 0, place: [6, 3] }] }
`;
  const result = rehearsed(sceneOf(scene, show), show);

  it('are told: what they were, for how long, and what was sent', () => {
    const deeds = Object.fromEntries(result.signals.map(one => [one.signal, one]));
    expect(deeds.storm).toMatchObject({ least: 0.1, greatest: 0.8 });
    // Until it is first heard, and from 2 s after it falls silent (its timeout).
    expect(deeds.storm?.unknownS).toBeCloseTo(2 + 3, 0);
    expect(deeds.apart?.least).toBeCloseTo(0.5, 1);
    expect(deeds.unheard).toMatchObject({ least: null, greatest: null });
    const [loud, far] = result.conditions;
    expect(loud).toMatchObject({ condition: 'loud', times: 1 });
    expect(loud?.yesS).toBeCloseTo(10, 0);
    expect(far).toMatchObject({ condition: 'far', times: 0, yesS: 0 });
    expect(result.messages).toMatchObject([
      { receiver: 'sound', address: '/loud', args: [1], times: 1 },
      { receiver: 'sound', address: '/storm', times: 1 },
    ]);
    expect(result.report.cues.map(({ cue, by }) => [cue, by])).toEqual([
      ['evening', undefined],
      ['storm', 'condition loud'],
    ]);
  });

  it('stand in the text', () => {
    const text = rehearsalText(result, at, one => one).join('\n');
    expect(text).toMatch(/^ {2}storm +0\.1 to 0\.8 +unknown for 5\.\d s$/m);
    expect(text).toMatch(/^ {2}unheard +never known +unknown for 30\.0 s$/m);
    expect(text).toMatch(/^ {2}loud +10\.\d s, once +unknown for 5\.\d s$/m);
    expect(text).toMatch(/^ {2}\/loud 1 to sound +once, at 10\.\d$/m);
    expect(text).toMatch(
      /^ {2}10\.\d +storm +for +\d\d\.\d s +by condition loud; nobody was lost$/m,
    );
  });

  it('stand on the page', () => {
    const html = rehearsalPage(result, show, at);
    for (const cell of ['unheard', 'never known', 'loud', '/loud 1 to sound', 'by condition loud'])
      expect(html).toContain(cell);
  });

  it('of which the show has none are refused, with those that it has', () => {
    const wrong = scene.replace('  storm: [{ at: 2, value: 1 }', '  strom: [{ at: 22, value: 1 }');
    const read = parseScene(wrong, 'a.scene.yaml', show, () => ({ ok: false, why: '' }));
    expect(!read.ok && read.problems.map(({ message }) => message)).toEqual([
      'the show has no number by OSC "strom". Did you mean "storm"? It has "storm" or "unheard".',
      'times must rise: this one must be at least 22.',
    ]);
  });
});
