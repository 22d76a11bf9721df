import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import type { LiveSnapshot } from '../../src/live/schema.js';
import { verdictOf } from '../../src/live/verdict.js';
import { seen, snapshotOf } from '../panel/support.js';
import { showOf } from '../show/show-of.js';

const SHOW = showOf(readFileSync('config/salt-lantern.show.yaml', 'utf8'));
const LIVE = { phase: 'live', x: 1, y: 1 } as const;
const ALL_LIVE = seen(SHOW, [LIVE, LIVE, LIVE]);
const lost = seen(SHOW, [LIVE, LIVE, { ...LIVE, phase: 'losing', cause: 'tracker-silent' }]);
const since = new Date(1e3 * (snapshotOf(SHOW).atS - 5)).toISOString();
const output = (trouble?: string): LiveSnapshot['status']['outputs'][number] => ({
  ...{ name: 'heads', protocol: 'sacn', interface: 'lo', universes: [1] },
  ...(trouble === undefined ? {} : { trouble, since }),
});
const line = (told: Parameters<typeof snapshotOf>[1]) => {
  const { level, line: said } = verdictOf(snapshotOf(SHOW, { engine: ALL_LIVE, ...told }));
  return `${level}: ${said}`;
};

it('says whether everything is all right, the worst first', () => {
  expect(line({})).toBe('well: All is well');
  expect(line({ engine: lost })).toBe('act: The Gull is lost');
  expect(line({ engine: seen(SHOW) })).toBe('look: Ines, Tobias and The Gull not tracked yet');
  expect(line({ phase: 'losing' })).toMatch(/^act: All light fades to the safe look/);
  expect(line({ engine: null })).toBe('look: The engine is not heard from at the moment');
  expect(line({ status: { outputs: [output('no carrier')] } })).toBe(
    'act: No light leaves this machine',
  );
  expect(line({ status: { outputs: [output('no carrier'), output()] } })).toBe(
    'act: No output by heads',
  );
  expect(line({ engine: lost, status: { outputs: [output('no carrier'), output()] } })).toBe(
    'act: The Gull is lost · no output by heads',
  );
  const stops = { everybody: true, performers: [], performerLabels: [] };
  expect(line({ status: { stops, outputs: [output('no carrier'), output()] } })).toBe(
    'act: Everybody is stopped · no output by heads',
  );
  expect(line({ status: { stops, outputs: [output('no carrier')] } })).toBe(
    'act: Everybody is stopped · no light leaves this machine',
  );
  expect(line({ engine: lost, status: { outputs: [output('no carrier')] } })).toBe(
    'act: The Gull is lost · no light leaves this machine',
  );
  expect(line({ engine: lost, status: { desk: [desk({ state: 'gone' })] } })).toBe(
    'act: The Gull is lost · desk house is gone',
  );
  expect(line({ status: { troubles: [{ what: 'mapping stove is off', since }] } })).toBe(
    'look: Mapping stove is off',
  );
  const two = ['mapping stove is off', 'signal train is no longer heard'];
  expect(line({ status: { troubles: two.map(what => ({ what, since })) } })).toBe(
    'look: 2 things need a look',
  );
});

it('says once that the state folder is gone, whatever comes of it', () => {
  const troubles = [
    { what: "the show can't be saved, the folder is gone. A restart would fail", since },
    { what: 'changes made by people would be lost in a restart: the folder is gone', since },
  ];
  expect(line({ status: { troubles } })).toBe(
    'look: The state folder is gone: the light goes on, but changes are not kept',
  );
  expect(verdictOf(snapshotOf(SHOW, { engine: ALL_LIVE, status: { troubles } })).others).toEqual([
    'the state folder is gone: the light goes on, but changes are not kept',
  ]);
});

type Desk = LiveSnapshot['status']['desk'][number];
const desk = (more: Partial<Desk> = {}): Desk => ({
  ...{ name: 'house', protocol: 'sacn', universe: 20, interface: 'lo', state: 'not heard' },
  ...{ since: new Date(1_764_000_000_000).toISOString(), sources: [] },
  slots: [{ slot: 1, fine: null, kind: 'signal', does: 'signal master', gone: 'hold' }],
  ...more,
});

it('never says that all is well while a desk is not heard, and names what waits for it', () => {
  expect(line({ status: { desk: [desk({ state: 'heard' })] } })).toBe('well: All is well');
  expect(line({ status: { desk: [desk()] } })).toBe('look: Desk house not heard yet');
  expect(line({ status: { desk: [desk({ state: 'gone' })] } })).toBe('act: Desk house is gone');
  const trouble = 'no such interface';
  expect(line({ status: { desk: [desk({ trouble })] } })).toBe("act: Desk house can't be heard");
  const { details } = verdictOf(snapshotOf(SHOW, { engine: ALL_LIVE, status: { desk: [desk()] } }));
  expect(details).toEqual(['desk house: not heard for 0:12, so not known: signal master']);
});

it('names all that status calls a trouble', () => {
  const status: Partial<LiveSnapshot['status']> = {
    apartTrackers: [
      { performer: 'ines', performerLabel: 'Ines', trackers: ['1', '4'], apartM: 2.04, since },
    ],
    positions: [
      {
        ...{ name: 'sound', protocol: 'osc', receiver: 'sound', to: '10.0.0.5:9050' },
        ...{ rateHz: 30, aheadS: 0, trouble: 'network unreachable' },
      },
    ],
  };
  const { level, details } = verdictOf(snapshotOf(SHOW, { engine: ALL_LIVE, status }));
  expect(level).toBe('look');
  expect(details).toEqual([
    'trackers 1 and 4 of Ines are 2.0 m apart',
    'positions to sound: network unreachable',
  ]);
});

it('has a line for each kind of trouble, and one for many of a kind', () => {
  const trackers = ['Ines', 'Tobias', 'The Gull'].map((performerLabel, index) => {
    return { tracker: `${index + 1}`, performer: performerLabel, performerLabel, since };
  });
  const down = ['heads', 'wash', 'floor'].map(name => ({ ...output('no carrier'), name }));
  const { performers } = snapshotOf(SHOW, { engine: ALL_LIVE }).status;
  const silent = { state: 'lost', phase: 'losing', cause: 'tracker-silent' } as const;
  const told = verdictOf(
    snapshotOf(SHOW, {
      engine: ALL_LIVE,
      status: {
        performers: performers.map(one => ({ ...one, ...silent })),
        silentTrackers: trackers,
        lowBatteries: trackers.map(one => ({ ...one, charge: 0.125 })),
        frozenTrackers: trackers.slice(0, 2),
        outputs: [...down, output()],
        troubles: [
          { what: 'mapping stove is off', since },
          { what: 'recording stopped: the disk is full', since },
        ],
      },
    }),
  );
  expect(told.details).toEqual([
    'outputs heads, wash and floor: no carrier (for 0:05)',
    'Ines, Tobias and The Gull: lost for 0:12, tracker silent',
    'mapping stove is off',
    'recording stopped: the disk is full',
    '3 batteries are low: trackers 1 (Ines) 13 %, 2 (Tobias) 13 % and 3 (The Gull) 13 %',
    '3 trackers are silent: 1 (Ines), 2 (Tobias) and 3 (The Gull)',
    'tracker 1 of Ines repeats itself',
    'tracker 2 of Tobias repeats itself',
  ]);
});

it('says of a stop of everybody one line, so that what else is wrong is seen', () => {
  const stoppedAll = seen(
    SHOW,
    [0, 1, 2].map(() => ({ ...LIVE, phase: 'losing' as const, cause: 'operator-stop' as const })),
  );
  const { status: usual } = snapshotOf(SHOW, { engine: stoppedAll });
  const performers = usual.performers.map(one => ({ ...one, state: 'stopped' as const }));
  const stops = { everybody: true, performers: [], performerLabels: [] };
  const told = snapshotOf(SHOW, {
    engine: stoppedAll,
    status: {
      performers,
      stops,
      desk: [
        desk({ state: 'gone', gone: 'its last levels are held' }),
        desk({ name: 'stage', state: 'gone' }),
      ],
    },
  });
  const { line: headline, details } = verdictOf(told);
  expect(headline).toBe('Everybody is stopped');
  expect(details[0]).toMatch(/^stopped for \d+:\d\d: resume when all is clear$/);
  expect(details[1]).toMatch(/^desk house: gone for 0:12, its last levels are held$/);
  expect(details).toHaveLength(3);
  const running = { performers: usual.performers.map(one => ({ ...one, state: 'live' as const })) };
  const twoGone = [desk({ state: 'gone' }), desk({ name: 'stage', state: 'gone' })];
  expect(line({ status: { ...running, desk: twoGone } })).toBe('act: Desks house, stage are gone');
});

it('says once that without an engine nobody is known', () => {
  const { details } = verdictOf(snapshotOf(SHOW, { engine: null, phase: 'safe' }));
  expect(details).toEqual(['no engine runs, so nobody knows where people are']);
});

it('says who is lost, since when and why', () => {
  const { details } = verdictOf(snapshotOf(SHOW, { engine: lost }));
  expect(details).toEqual(['The Gull: lost for 0:12, tracker silent']);
});

it('says during a stop who will not come back when it ends', () => {
  const stop = { ...LIVE, phase: 'safe', cause: 'operator-stop' } as const;
  const worn = (tracker: string, performer: string, performerLabel: string) => {
    return { tracker, performer, performerLabel, since };
  };
  const engine = seen(SHOW, [stop, stop, stop]);
  const of = (status: Partial<LiveSnapshot['status']>) =>
    verdictOf(
      snapshotOf(SHOW, {
        engine: {
          ...engine,
          performers: engine.performers.map(one =>
            one.name === 'tobias' ? { ...one, trackers: ['2', '5'] } : one,
          ),
        },
        status: { stops: { everybody: true, performers: [], performerLabels: [] }, ...status },
      }),
    ).details.slice(1);
  expect(
    of({ silentTrackers: [worn('1', 'ines', 'Ines'), worn('2', 'tobias', 'Tobias')] }),
  ).toEqual([
    'tracker 1 of Ines is silent: Ines will not come back on Resume',
    'tracker 2 of Tobias is silent',
  ]);
  const { feed } = snapshotOf(SHOW).status;
  expect(of({ feed: { ...feed, silent: true } })).toEqual([
    'tracking is silent: nobody will come back on Resume',
  ]);
});

it('names who was lost while no engine runs', () => {
  const { performers } = snapshotOf(SHOW, { engine: lost }).status;
  const { line: said, details } = verdictOf(
    snapshotOf(SHOW, { engine: null, phase: 'safe', status: { performers } }),
  );
  expect(said).toMatch(/^All light is at the safe look/);
  expect(details[0]).toMatch(/^The Gull: lost for .*, tracker silent$/);
  expect(details[1]).toBe('no engine runs, so nobody knows where people are');
});

it('names who is not tracked yet before whose light is coming back', () => {
  const rearming = { ...LIVE, phase: 'rearming' } as const;
  expect(line({ engine: seen(SHOW, [LIVE, LIVE, rearming]) })).toBe(
    'look: The Gull: light coming back',
  );
  expect(line({ engine: seen(SHOW, [LIVE, { phase: 'waiting' }, rearming]) })).toBe(
    'look: Tobias not tracked yet',
  );
});

it('says what somebody waits for whose reports were far off, and are well again', () => {
  const low = { ...LIVE, phase: 'safe', cause: 'confidence-low' } as const;
  const snapshot = snapshotOf(SHOW, { engine: seen(SHOW, [LIVE, LIVE, low]) });
  const performers = snapshot.status.performers.map(one =>
    one.state === 'lost' ? { ...one, doubt: 'gate' as const } : one,
  );
  const { details } = verdictOf({ ...snapshot, status: { ...snapshot.status, performers } });
  expect(details).toEqual([
    'The Gull: lost for 0:12, confidence low: too many recent reports were far off',
  ]);
});

it('changes no headline for positions that are shut out while everybody is heard, and lists them', () => {
  const what = '25 a second refused: 10.0.0.9 is not in allow';
  const troubles = [{ what, since: new Date().toISOString() }];
  const told = { engine: ALL_LIVE, status: { troubles } };
  expect(verdictOf(snapshotOf(SHOW, told))).toMatchObject({
    ...{ level: 'well', line: 'All is well' },
    details: [what],
  });
  const other = {
    what: 'the show file was refused at the last reload',
    since: troubles[0]?.since ?? '',
  };
  expect(line({ ...told, status: { troubles: [...troubles, other] } })).toBe(
    'look: The show file was refused at the last reload',
  );
});
