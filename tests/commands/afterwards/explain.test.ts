import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { main } from '../../../src/commands/cli.js';
import { clock } from '../../../src/commands/terminal/times.js';
import { encodeJson } from '../../../src/recording/encode.js';
import { HEAD_BYTES, MAGIC } from '../../../src/recording/layout.js';
import type { MomentExplanation } from '../../../src/sheets/explain-moment.js';
import { recordSession, START_S, TICK_HZ, UNIX_OFFSET_S } from '../../recording/sessions.js';
import { captured } from '../captured.js';

const SHOW = 'config/salt-lantern.show.yaml';
const folder = mkdtempSync(join(tmpdir(), 'lampwright-explain-'));
const said = captured();

afterAll(() => rmSync(folder, { recursive: true }));

async function explained(...args: string[]): Promise<MomentExplanation> {
  said.clear();
  expect(await main(['explain', ...args, '--json'])).toBe(0);
  return JSON.parse(said.out) as MomentExplanation;
}

function rowsOf({ attributes }: MomentExplanation, fixture: string, attribute: string) {
  const found = attributes.find(one => one.fixture === fixture && one.attribute === attribute);
  return found?.rows ?? [];
}

test('says who wants what, who wins, and what is sent', async () => {
  expect(await main(['explain', SHOW, '--at', 'ines stove'])).toBe(0);
  expect(said.out).toMatch(/stove Dimmer, per cent +level +trust +asks +is/);
  expect(said.out).toMatch(/> stove: Ines +1 +1 +85 +85 {2}the highest/);
  expect(said.out).toMatch(/> sent +85 +85 {2}1\/1 at 217/);
  const moment = await explained(SHOW, '--at', 'ines stove', '--at', 'tobias 8.4 7');
  expect(moment.performers.map(({ phase }) => phase)).toEqual(['live', 'live', 'waiting']);
  expect(rowsOf(moment, 'window-glow', 'Dimmer').at(-1)).toMatchObject({
    who: 'sent',
    value: 70,
    slots: [{ universe: 1, address: 2, level: 179 }],
  });
});

test('says what a loss does, and what another cue does', async () => {
  const lost = await explained(SHOW, '--at', 'ines stove, tobias window', '--lost', 'tobias');
  const rows = rowsOf(lost, 'window-glow', 'Dimmer');
  expect(rows.find(({ won }) => won)).toMatchObject({ who: 'window: Tobias', trust: 0 });
  expect(rows.find(({ won }) => won)?.why).toContain('Tobias is lost (tracker silent)');
  expect(rows.at(-1)?.value).toBeCloseTo(15, 6);

  const storm = await explained(SHOW, '--at', 'ines 5 4', '--cue', 'storm');
  expect(storm.cue).toBe('storm');
  expect(storm.signals[0]).toMatchObject({ name: 'ines-to-lantern', value: 1 });
  const lantern = rowsOf(storm, 'lantern-glow', 'Dimmer');
  expect(lantern.find(({ won }) => won)).toMatchObject({ who: 'wick', asks: 90 });
  expect(lantern.find(({ who }) => who === 'lantern')?.why).toBe('off in cue storm');

  const off = await explained(SHOW, '--at', 'ines 5 4', '--off', 'ines', '--cue', 'storm');
  expect(off.performers[0]?.phase).toBe('off');

  // Of whom --at says nothing: from the middle of the stage.
  const both = await explained(SHOW, '--at', 'ines 2.1 3.4 1.6', '--lost', 'tobias');
  expect(both.performers.map(({ phase }) => phase)).toEqual(['live', 'safe', 'waiting']);
  expect(both.performers[1]).toMatchObject({ at: [5, 4, 1.7] });
  expect(rowsOf(off, 'lantern-glow', 'Dimmer').at(-1)?.value).toBe(10);
});

test('takes numbers as they are written elsewhere', async () => {
  const plain = await explained(SHOW, '--at', 'ines 2.1 3.4 1.6');
  for (const written of ['21e-1 +3.4 .16E1', '2.10 34e-1 1.6e+0']) {
    expect(await explained(SHOW, '--at', `ines ${written}`)).toEqual(plain);
  }
  expect(await main(['explain', SHOW, '--at', 'ines 2.1.3 3 1'])).toBe(2);
  expect(said.err).toContain('"ines 2.1.3 3 1" has something in it that is not a number');
});

test('marks all that count, and says of a head and of a colour what became of those who are gone', async () => {
  const off = await explained(SHOW, '--at', 'ines 5 4', '--off', 'ines');
  const rowOf = (attribute: string, whose: string) =>
    rowsOf(off, 'head-right', attribute).find(({ who }) => who === whose)?.why;
  expect(rowOf('Dimmer', 'follows Ines')).toBe('Ines is off stage');
  expect(rowOf('Zoom', 'safety')).toBe('the safe value: in its safe look; Ines is off stage');
  const lost = await explained(SHOW, '--at', 'ines 1 1', '--lost', 'ines');
  const blue = rowsOf(lost, 'harbour-lamp', 'ColorAdd_B').find(
    ({ who }) => who === 'harbour: Ines',
  );
  expect(blue?.why).toBe('it goes to the safe value; Ines is lost (tracking silent)');

  const file = join(folder, 'scaled.show.yaml');
  const text = readFileSync(SHOW, 'utf8').replaceAll('../', `${process.cwd()}/`);
  const scaled =
    '  - { name: half, by: swell, fixtures: [stove-glow], from: { Dimmer: 50 }, set: { Dimmer: 50 }, mix: scale }\n';
  writeFileSync(
    file,
    text
      .replace('  - follow: ines\n', `${scaled}  - follow: ines\n`)
      .replace('[stove, window, lantern', '[half, stove, window, lantern'),
  );
  const rows = rowsOf(await explained(file, '--at', 'ines stove'), 'stove-glow', 'Dimmer');
  expect(rows.filter(({ won }) => won).map(({ who }) => who)).toEqual([
    'stove: Ines',
    'half',
    'sent',
  ]);
  expect(rows.at(-1)?.value).toBeCloseTo(42.5, 6);
});

test.each([
  [[SHOW, '--at', 'inse 1 1'], 'there is no performer "inse". Did you mean "ines"?'],
  [[SHOW, '--at', 'ines'], 'should be NAME X Y Z, in metres, or NAME and a zone: stove, window'],
  [[SHOW, '--at', 'ines 1 1', '--cue', 'strom'], 'there is no cue "strom". Did you mean "storm"?'],
  [[SHOW, '--fixture', 'stove-glwo'], 'Did you mean "stove-glow"?'],
  [[SHOW, '--for', 'long'], '--for is a number from 0.1 to 600, not "long".'],
  [['config'], 'config is a recording: say which moment of it, such as --time 19:42:10.5.'],
  [['config', '--time', 'late'], '--time is a time of day such as 19:42:10.5, not "late".'],
  [['config', '--time', '19:00', '--at', 'ines 1 1'], '--at is for a show'],
])('%j', async (args, says) => {
  expect(await main(['explain', ...args])).toBe(2);
  expect(said.err).toContain(says);
});

test('explains a moment of a recording: what it sent then', async () => {
  const recording = join(folder, 'rec');
  const scene = 'config/scenes/storm.scene.yaml';
  expect(await main(['rehearse', SHOW, scene, '--record', recording])).toBe(0);
  said.clear();
  // What is recorded is of now by this machine's clock: neither an hour ago nor in six hours.
  for (const hoursOn of [-1, 6]) {
    said.err = '';
    const then = new Date(Date.now() + hoursOn * 3_600_000);
    expect(await main(['explain', recording, '--time', `${then.getHours()}:00`])).toBe(2);
    expect(said.err).toContain('the recording goes from');
  }
  const [, hours = '', minutes = '', seconds = ''] =
    /from \S+ (\d+):(\d+):(\d+) to/.exec(said.err) ?? [];
  // The middle of the hang of her tracker.
  const at = new Date(2026, 0, 1, Number(hours), Number(minutes), Number(seconds) + 13);
  const time = [at.getHours(), at.getMinutes(), at.getSeconds()]
    .join(':')
    .replace(/\b\d\b/g, '0$&');
  const moment = await explained(recording, '--time', `${time}.5`);
  expect(moment.performers[0]).toMatchObject({ name: 'ines', cause: 'frozen' });
  for (const { rows } of moment.attributes) expect(rows.at(-1)?.who).toBe('sent');
  said.clear();
  expect(await main(['explain', recording, '--time', time, '--fixture', 'head-right'])).toBe(0);
  expect(said.out).toContain('head stage right Dimmer, per cent');
  // The first tick from then on, and no earlier one.
  expect(said.out).toContain(` ${time}.0`);
});

test('says of a moment of a recording who has a mapping off, and since when, also over a restart', async () => {
  const text = readFileSync(SHOW, 'utf8');
  const off = { kind: 'mapping', mapping: 'lantern', off: true } as const;
  const by = 'control socket (user anna)';
  const first = recordSession(text, 4, {
    orders: tick => (tick === 2 * TICK_HZ ? [{ ...off, cause: 'command', by }] : []),
  });
  const restored = (tick: number) => (tick === 0 ? [{ ...off, cause: 'restored' } as const] : []);
  const second = (fromS: number) =>
    recordSession(text, 4, { run: 'run-2', fromS, orders: restored });
  const at = (sinceS: number) => clock(START_S + UNIX_OFFSET_S + sinceS);
  const whyAt = async (name: string, records: readonly Buffer[], sinceS: number) => {
    const file = join(folder, `${name}.lwrec`);
    writeFileSync(file, Buffer.concat([MAGIC, ...records]));
    const moment = await explained(file, '--time', at(sinceS));
    return rowsOf(moment, 'lantern-glow', 'Dimmer').find(({ who }) => who === 'lantern')?.why;
  };
  const anna = `switched off by anna, since ${at(2)}`;
  expect(await whyAt('on', first, 1)).not.toContain('off');
  expect(await whyAt('off', first, 3)).toContain(anna);
  expect(await whyAt('restarted', [...first, ...second(10)], 12)).toContain(anna);
  expect(await whyAt('only-restarted', second(0), 2)).toContain(
    `switched off by an operator, since before ${at(0)}`,
  );
});

test('numbers by OSC are given, or were never heard; what is none of the show is refused', async () => {
  const text = readFileSync(SHOW, 'utf8')
    .replace(
      'signals:\n',
      'signals:\n  storm: { osc: { address: /sound/level, argument: 2 }, range: [0, 10] }\n',
    )
    .replace(
      'mappings:\n',
      'mappings:\n  - { always: true, by: storm, fixtures: [window-glow], set: { Dimmer: 80 } }\n',
    );
  const show = join(folder, 'numbers.show.yaml');
  writeFileSync(show, text);
  const heard = await explained(show, '--at', 'ines 5 4', '--number', 'storm 50e-1');
  expect(heard.signals[0]).toMatchObject({ name: 'storm', value: 0.5 });
  expect(rowsOf(heard, 'window-glow', 'Dimmer').at(-1)?.value).toBeCloseTo(40, 6);
  const unheard = await explained(show, '--at', 'ines 5 4');
  expect(unheard.signals[0]).toMatchObject({ name: 'storm', value: null });
  said.clear();
  expect(await main(['explain', show, '--number', 'strom 1, storm loud'])).toBe(2);
  expect(said.err).toContain('there is no signal by OSC "strom". Did you mean "storm"?');
  expect(said.err).toContain('"storm loud"');
  expect(await main(['explain', SHOW, '--number', 'storm 1'])).toBe(2);
  expect(said.err).toContain('--number: the show has no signal by OSC.');
});

test('a head that is pinned says so; a pin that changes nothing in the cue is refused', async () => {
  const dance = 'config/low-water.show.yaml';
  const moment = await explained(
    dance,
    '--at',
    'mara 3 3, ilja 10 4',
    '--pin',
    'Left 2 Mara',
    '--for',
    '8',
  );
  const left = moment.heads.find((one: { fixture: string }) => one.fixture === 'left-2');
  expect(left).toMatchObject({ performer: 'mara', why: expect.stringMatching(/^pinned; cost /) });
  expect(left).toMatchObject({ pinnedTo: 'mara' });
  said.clear();
  expect(await main(['explain', dance, '--pin', 'left-2 marra'])).toBe(2);
  expect(said.err).toContain('there is no "left-2 marra". Did you mean "left-2 mara"?');
  expect(await main(['explain', SHOW, '--pin', 'left-2 mara'])).toBe(2);
  expect(said.err).toContain('--pin: no head of the show chooses whom it follows');
  const file = join(folder, 'order.show.yaml');
  writeFileSync(file, `${HEADS_IN_CUES}`);
  said.clear();
  expect(await main(['explain', file, '--at', 'ines 5 4', '--pin', 'left tobias'])).toBe(2);
  expect(said.err).toContain(
    '--pin: "left tobias": in cue "first" it follows by the mapping "one-each", and a pin to tobias changes nothing.',
  );
  const free = [
    '--cue',
    'second',
    '--at',
    'ines 5 4',
    '--at',
    'tobias 6 4',
    '--pin',
    'left tobias',
  ];
  const [head] = (await explained(file, ...free)).heads;
  expect(head).toMatchObject({ performer: 'tobias', why: 'pinned' });
});

/** In one cue each head has its performer, in the other the heads choose. */
const HEADS_IN_CUES = `lampwright: 1
name: Heads in cues
stage: { x: [0, 10], y: [0, 8] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] } }
groups: { front: [left, right], company: [ines, tobias] }
profiles:
  wheel: { channels: [{ attribute: Pan, bits: 16, range: [-270, 270] }, { attribute: Tilt, bits: 16, range: [-135, 135] }, { attribute: Dimmer }, { attribute: Color1, values: { open: [0, 9], red: [10, 19] }, default: open }] }
fixtures:
  left: { profile: wheel, universe: 1, address: 1, position: [2, -3, 6] }
  right: { profile: wheel, universe: 1, address: 21, position: [8, -3, 6] }
  lamp: { profile: dimmer, universe: 1, address: 61, position: [9, 7, 1], base: { Dimmer: 10 } }
mappings:
  - { name: one-each, follow: { order: company }, fixtures: [front], set: { Dimmer: 80, Color1: red } }
  - { name: near, follow: { nearest: company, to: lamp }, fixtures: [front], set: { Dimmer: 80 } }
cues: { first: { mappings: [one-each] }, second: { mappings: [near] } }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
`;

test('a group is all its members; what the profile names is called so', async () => {
  const file = join(folder, 'group.show.yaml');
  writeFileSync(file, HEADS_IN_CUES);
  const front = await explained(file, '--at', 'ines 5 4', '--fixture', 'front');
  expect(new Set(front.attributes.map(({ fixture }) => fixture))).toEqual(
    new Set(['left', 'right']),
  );
  const sent = rowsOf(front, 'left', 'Color1').at(-1);
  expect(sent).toMatchObject({ valueName: 'red' });
  said.clear();
  expect(await main(['explain', file, '--at', 'ines 5 4', '--fixture', 'Front'])).toBe(0);
  expect(said.out).toMatch(/^left Color1 +level/m);
  expect(said.out).toMatch(/^> sent +red +red {2}1\/6 at 14$/m);
  expect(await main(['explain', file, '--fixture', 'fornt'])).toBe(2);
  expect(said.err).toContain('Did you mean "front"? The show has left, right');
});

test("what of it is the desk's is said beside what is sent", async () => {
  const show = join(folder, 'ground.show.yaml');
  const text = readFileSync(SHOW, 'utf8').replace(
    'window-glow: {',
    'window-glow: { ground: scale, ',
  );
  const universe = /window-glow: .*universe: (\d+)/.exec(text)?.[1];
  const desk = `desk: { stage: { protocol: sacn, universe: 201, interface: eth1, ground: ${universe} } }\n`;
  const sent = async () =>
    rowsOf(await explained(show, '--at', 'ines window'), 'window-glow', 'Dimmer').at(-1)?.why;
  writeFileSync(show, text + desk);
  expect(await sent()).toContain("; what goes out is this share of the desk's level");
  writeFileSync(show, text.replace('ground: scale', 'ground: [Dimmer]') + desk);
  expect(await sent()).toContain("; the desk's: what goes out is its level, not this");
});

test('slots of the desk are given; what the show does not hear is refused', async () => {
  const text = readFileSync(SHOW, 'utf8')
    .replace('signals:\n', 'signals:\n  sea: { slot: [control, 4] }\n')
    .replace(
      'mappings:\n',
      'mappings:\n  - { always: true, by: sea, fixtures: [window-glow], set: { Dimmer: 80 } }\n',
    );
  const show = join(folder, 'desk.show.yaml');
  const desk = 'desk: { control: { protocol: sacn, universe: 201, interface: eth1 } }\n';
  const orders = 'orders: [{ slot: [control, 9], stop: everybody, held: true }]\n';
  writeFileSync(show, `${text}${desk}${orders}`);
  const heard = await explained(show, '--at', 'ines 5 4', '--desk', 'control 4 204');
  expect(heard.signals[0]).toMatchObject({ name: 'sea', value: 0.8 });
  expect(rowsOf(heard, 'window-glow', 'Dimmer').at(-1)?.value).toBeCloseTo(64, 0);
  // A master is named with what it takes down.
  const mastered = text.replace(
    'mappings:\n',
    'mappings:\n  - { name: plain, always: true, master: sea, fixtures: [window-glow], set: { Dimmer: 60 } }\n',
  );
  writeFileSync(show, `${mastered}${desk}${orders}`);
  const under = await explained(show, '--at', 'ines 5 4', '--desk', 'control 4 51');
  const reasons = rowsOf(under, 'window-glow', 'Dimmer').map(({ why }) => why);
  expect(reasons).toContainEqual(expect.stringContaining('master sea at 20 %'));
  const stopped = await explained(show, '--at', 'ines 5 4', '--desk', 'control 9 255');
  expect(stopped.performers[0]).toMatchObject({ name: 'ines', phase: 'safe' });
  said.clear();
  expect(await main(['explain', show, '--desk', 'contrl 4 255, control 513 1'])).toBe(2);
  expect(said.err).toContain('there is no universe of the desk "contrl". Did you mean "control"?');
  expect(said.err).toContain('"control 513 1" should be a name, a slot from 1 to 512');
});

test('where nothing is said of it, people stand in the middle of the stage, as high as their tracker is worn', async () => {
  const show = join(folder, 'small.show.yaml');
  writeFileSync(
    show,
    `lampwright: 1
name: Small
stage: { x: [2, 10], y: [-6, 0] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1], wornAt: 1.3 }, tobias: { trackers: [2], wornAt: 1.2 } }
fixtures:
  left: { profile: moving-head, universe: 1, address: 1, position: [2, 0, 5], base: { aim: [5, -4, 0] }, safe: { aim: [5, -4, 0] } }
  right: { profile: moving-head, universe: 1, address: 101, position: [9, 0, 5], base: { aim: [5, -4, 0] }, safe: { aim: [5, -4, 0] } }
signals: { one: { slot: [control, 1] }, two: { slot: [control, 2] } }
desk: { control: { protocol: sacn, universe: 201, interface: eth1 } }
operator: { port: 9011 }
outputs: { lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] } }
mappings:
  - { follow: { nearest: [ines, tobias], to: [5, -4, 1] }, fixtures: [left], set: { Dimmer: 80 } }
  - { follow: { nearest: [ines, tobias], to: [5, -4, 1] }, fixtures: [right], set: { Dimmer: 80 } }
`,
  );
  const moment = await explained(
    ...[show, '--at', 'ines 3 -2', '--lost', 'ines', '--off', 'tobias'],
    ...['--desk', 'control 1 51, control 2 204', '--fixture', 'right'],
  );
  const [ines, tobias] = moment.performers;
  // The middle of 2 to 10, and of -6 to 0; Ines stays where she is said to have been.
  expect(tobias?.at).toEqual([6, -3, 1.2]);
  expect(ines?.at).toEqual([3, -2, 1.3]);
  expect(moment.signals.map(({ value }) => value)).toEqual([0.2, 0.8]);
  expect(moment.heads.map(({ fixture }) => fixture)).toEqual(['right']);
  expect(new Set(moment.attributes.map(({ fixture }) => fixture))).toEqual(new Set(['right']));
});

test('says of a moment when the supervisor had the light that this is not what was sent, and which ticks are missing', async () => {
  const text = readFileSync(SHOW, 'utf8');
  const rec = join(folder, 'supervised');
  mkdirSync(rec);
  // An engine for 4 s, none for 2 s, and another one.
  const records = [
    ...recordSession(text, 4),
    ...recordSession(text, 6, { run: 'run-2', fromS: 6 }),
  ];
  const told = (sinceS: number, event: object) =>
    encodeJson('supervisor', { atS: START_S + sinceS, event });
  const lights = (sinceS: number, from: string, to: string, more = {}) =>
    told(sinceS, { kind: 'lights', from, to, cause: 'of the test', ...more });
  const start = JSON.parse((records[0] as Buffer).toString('utf8', HEAD_BYTES));
  const supervisor = [
    encodeJson('start', { ...start, by: 'supervisor' }),
    lights(0.5, 'safe', 'returning'),
    lights(1, 'returning', 'live'),
    told(4, { kind: 'engine-ended', how: 'killed', reason: 'SIGKILL' }),
    lights(4.1, 'live', 'losing', { condition: 'engine-dead' }),
    lights(7, 'safe', 'returning'),
    lights(8, 'returning', 'live'),
  ];
  writeFileSync(join(rec, 'engine-0001.lwrec'), Buffer.concat([MAGIC, ...records]));
  writeFileSync(join(rec, 'supervisor-0001.lwrec'), Buffer.concat([MAGIC, ...supervisor]));
  const at = (sinceS: number) =>
    `${clock(START_S + UNIX_OFFSET_S + sinceS)}.${Math.floor(((START_S + sinceS) % 1) * 10)}`;
  const explainedAt = async (sinceS: number) => {
    const moment = await explained(rec, '--time', at(sinceS));
    const { time } = moment as MomentExplanation & {
      time: { notes: string[]; supervisor: { why: string } | null };
    };
    return { ...time, last: rowsOf(moment, 'stove-glow', 'Dimmer').at(-1)?.who };
  };
  expect(await explainedAt(2)).toMatchObject({ notes: [], supervisor: null, last: 'sent' });
  expect((await explainedAt(0.2)).supervisor?.why).toBe('the daemon had just started');
  const gap = await explainedAt(5);
  expect(gap.last).toBe('asked by the engine');
  expect(gap.notes[0]).toMatch(/^No tick of an engine is recorded from /);
  expect(gap.notes[1]).toMatch(/^The supervisor had all light from .* \(the engine was killed/);
  const returning = await explainedAt(7.5);
  expect(returning.notes).toHaveLength(2);
  expect(returning.last).toBe('asked by the engine');
  expect(await explainedAt(9)).toMatchObject({ notes: [], supervisor: null, last: 'sent' });
});
