import { describe, expect, it } from 'vitest';
import {
  actionsOf,
  endsInWords,
  flashesInWords,
  heldIn,
  slownessInWords,
} from '../../../src/commands/files/supervisor-actions.js';
import type { LightingEvent } from '../../../src/daemon/lighting/events.js';
import { NAMES_AS_LABELS } from '../../../src/show/model/labels.js';

const at = (atS: number) => `20:${atS}`;

describe('the times when the machine was too slow', () => {
  it('are one line, with all that was late', () => {
    const slowSpells = [
      { atS: 10, ticks: 6, frames: 0 },
      { atS: 11, ticks: 0, frames: 1 },
      { atS: 40, ticks: 11, frames: 0 },
    ];
    const slow = {
      atS: 10,
      what: 'the machine was too slow or busy: 1 frame came late to the outputs or not at all, the last time at 20:40',
    };
    expect(slownessInWords(slowSpells, at)).toEqual([slow]);
    expect(slownessInWords([], at)).toEqual([]);
  });

  it('do not have in them what was late because a process stood still, or had just been started', () => {
    const still = { ticks: 0, because: 'daemon-stood-still' } as const;
    const spells = [
      { atS: 12, frames: 4, ...still },
      { atS: 30, frames: 2, ...still },
      { atS: 31, ticks: 0, frames: 3, because: 'engine-started' } as const,
      { atS: 32, ticks: 90, frames: 0, because: 'engine-stood-still' } as const,
    ];
    expect(slownessInWords(spells, at)).toEqual([
      {
        atS: 12,
        what: 'the daemon stood still: 6 frames came late to the outputs or not at all, the last time at 20:30',
      },
      {
        atS: 31,
        what: 'the engine had just been started: 3 frames came late to the outputs or not at all',
      },
    ]);
  });
});

describe('engines that ended when they should not have', () => {
  it('are told by how they ended, with the reason', () => {
    const hung = { how: 'hung', reason: 'no frame came for 1.1 s, so it was killed' } as const;
    const killed = { how: 'killed', reason: 'it was ended by SIGKILL' } as const;
    const unable = { how: 'did not start', reason: 'port 9010 is taken.' } as const;
    const slow = {
      how: 'slow to start',
      reason: 'it ran, but sent no frame for 10.2 s, so it was killed',
    } as const;
    const ends = [killed, hung, slow, ...Array.from({ length: 7 }, () => unable)];
    expect(
      endsInWords(
        ends.map((end, atS) => ({ ...end, atS })),
        atS => `${atS} s`,
      ),
    ).toEqual([
      'The engine was killed (SIGKILL) once (by hand, or because memory ran out) and was restarted.',
      'The engine hung once (no frame came for 1.1 s, so it was killed) and was restarted.',
      'The engine was slow to start once (it ran, but sent no frame for 10.2 s, so it was killed) and was restarted.',
      'The engine did not start 7 times before it ran, from 3 s to 9 s (port 9010 is taken).',
    ]);
  });
});

describe('an engine that fails, and the fade that comes of it', () => {
  const ended = (how: 'crashed' | 'hung', reason: string) =>
    ({ kind: 'engine-ended', how, reason, again: 0.1 }) as const;
  const fade = (condition: 'engine-dead' | 'engine-late', cause: string) =>
    ({ kind: 'lights', from: 'live', to: 'losing', cause, condition }) as const;
  const returning = {
    kind: 'lights',
    from: 'rearming',
    to: 'returning',
    cause: 'the engine is well',
    condition: undefined,
  } as const;
  const told = (...acts: Parameters<typeof actionsOf>[0]) =>
    actionsOf(acts, atS => `${atS} s`).map(({ atS: when, what }) => `${when} ${what}`);

  it('are one line of an engine that cannot start, however often it is tried', () => {
    const unable = (reason: string) =>
      ({ kind: 'engine-ended', how: 'did not start', reason, again: 0.1 }) as const;
    const port = unable('port 9010 is taken');
    expect(
      told(
        { atS: 9.9, event: fade('engine-dead', 'the engine is gone') },
        { atS: 10, event: port },
        { atS: 11, event: port },
        { atS: 13, event: port },
        { atS: 14, event: unable('no memory') },
        { atS: 15, event: { kind: 'engine-started', pid: 9 } },
        { atS: 60, event: port },
      ),
    ).toEqual([
      '9.9 the engine did not start: port 9010 is taken, 3 times until 13 s; all light began to fade to its safe values',
      '14 the engine did not start: no memory',
      '15 engine started, process 9',
      '60 the engine did not start: port 9010 is taken',
    ]);
  });

  it('are one line of a crash', () => {
    expect(
      told(
        { atS: 10, event: ended('crashed', 'it was ended by SIGKILL') },
        { atS: 10.3, event: fade('engine-dead', 'the engine is gone') },
      ),
    ).toEqual([
      '10 the engine was killed (SIGKILL): by hand, or because memory ran out; all light began to fade to its safe values',
    ]);
  });

  it('holds all light for how that engine ended, and not for a crash', () => {
    const { held } = heldIn([
      { atS: 10, event: ended('crashed', 'it was ended by SIGKILL') },
      { atS: 10.3, event: fade('engine-dead', 'the engine is gone') },
      { atS: 15, event: returning },
    ]);
    expect(held).toEqual([
      { fromS: 10.3, untilS: 15, cause: 'engine-dead', why: 'the engine was killed (SIGKILL)' },
    ]);
  });

  it('holds all light for as long as what had changed in an outage of all outputs is on its way back', () => {
    const rejoins = { kind: 'light-rejoins', universes: [1, 2], forS: 6, fixtures: 5 } as const;
    const rejoined = { kind: 'light-rejoined', forS: 6.1 } as const;
    const back = { atS: 36.1, event: rejoined };
    const { held } = heldIn([{ atS: 30, event: { ...rejoins, all: true } }, back]);
    expect(held).toMatchObject([{ fromS: 30, untilS: 36.1, cause: 'output-down' }]);
    // Of one output the others went on.
    expect(heldIn([{ atS: 30, event: rejoins }, back]).held).toEqual([]);
  });

  it('holds all light for an engine that stood still, and not for one that was late, where it says so', () => {
    const late = fade('engine-late', 'the engine is late: no frame on time for 0.27 s');
    const stalled = {
      kind: 'engine',
      event: { kind: 'stalled', atS: 10.6, stalledS: 0.86 },
    } as const;
    const acts = [
      { atS: 10, event: late },
      { atS: 10.6, event: stalled },
      { atS: 12, event: returning },
      { atS: 30, event: late },
      { atS: 32, event: returning },
    ];
    expect(heldIn(acts).held.map(({ why }) => why)).toEqual([
      'the engine stood still for 0.86 s',
      'the engine was late: no frame on time for 0.27 s',
    ]);
    expect(told(...acts)).toEqual(told(...acts.filter(({ event }) => event !== stalled)));
  });

  it('calls what a restart holds again by its label', () => {
    const changes = [{ kind: 'cue', to: { name: 'rising' }, cause: 'restored' }] as const;
    const restored = { kind: 'state-restored', file: 's.json', entries: 1, changes } as const;
    const labels = { ...NAMES_AS_LABELS, cue: () => 'the water rises' };
    expect(actionsOf([{ atS: 1, event: restored }], String, labels)[0]?.what).toContain(
      '(go to cue the water rises)',
    );
  });

  it('are one line of a hang, whose fade comes first', () => {
    expect(
      told(
        { atS: 20, event: fade('engine-late', 'the engine is late: no frame on time for 0.30 s') },
        { atS: 20.8, event: ended('hung', 'no frame came for 1.1 s, so it was killed') },
        { atS: 24, event: returning },
      ),
    ).toEqual([
      '20 the engine hung: no frame came for 1.1 s, so it was killed; all light began to fade to its safe values',
      '24 the engine began to take over from the safe values',
    ]);
  });

  it('stay two where one has nothing to do with the other', () => {
    expect(
      told(
        { atS: 20, event: fade('engine-late', 'the engine is late: no frame on time for 0.30 s') },
        { atS: 22, event: returning },
        { atS: 23, event: ended('crashed', 'it was ended by SIGKILL') },
        { atS: 40, event: fade('engine-late', 'the engine is late: no frame on time for 0.30 s') },
      ),
    ).toHaveLength(4);
    expect(
      told(
        { atS: 5, event: { kind: 'stood-still', forS: 2.5 } },
        { atS: 5, event: fade('engine-late', 'the daemon stood still for 2.50 s') },
      ),
    ).toEqual(['5 all light began to fade to its safe values (the daemon stood still for 2.50 s)']);
  });
});

describe('light that the flash limit held back', () => {
  it('is one line, with how often and how late', () => {
    const flashes = [
      { atS: 10, fixtures: ['Head B'], times: 1, longestS: 0.31 },
      { atS: 40, fixtures: ['Head B', 'Cyc'], times: 4, longestS: 0.12 },
    ];
    expect(flashesInWords(flashes)).toEqual({
      atS: 10,
      what: 'flash limit: light came up late 5 times, by 0.31 s at most (Head B and Cyc)',
    });
    expect(flashesInWords([])).toBeUndefined();
  });
});

describe('light that the supervisor took from the engine', () => {
  const lights = (atS: number, to: 'losing' | 'safe' | 'returning', rest: object = {}) => ({
    atS,
    event: { kind: 'lights', from: 'live', to, cause: 'the engine is well', ...rest } as const,
  });

  it('is held until it begins to come up again, with its cause', () => {
    const { held } = heldIn([
      lights(10, 'losing', {
        cause: 'the engine is late: no frame on time for 0.29 s',
        condition: 'engine-late',
      }),
      lights(13, 'safe', { cause: 'the engine is starting', condition: 'engine-late' }),
      lights(16, 'returning'),
      lights(20, 'losing', {
        cause: 'the daemon stood still for 0.29 s',
        condition: 'engine-late',
      }),
      lights(23, 'returning'),
      lights(30, 'losing', { cause: 'stopping', condition: 'shutdown' }),
    ]);
    expect(held).toEqual([
      {
        fromS: 10,
        untilS: 16,
        cause: 'engine-late',
        why: 'the engine was late: no frame on time for 0.29 s',
      },
      { fromS: 20, untilS: 23, cause: 'engine-late', why: 'the daemon stood still for 0.29 s' },
      {
        fromS: 30,
        untilS: Number.POSITIVE_INFINITY,
        cause: 'shutdown',
        why: 'the daemon was stopped',
      },
    ]);
  });

  it('is away from when this process stood still, which is no silence of a desk that is heard right after', () => {
    const desk = (atS: number, kind: 'desk-silent' | 'desk-heard') =>
      ({ atS, event: { kind: 'desk', event: { kind, input: 'control', sources: [] } } }) as never;
    const acts = [
      desk(5, 'desk-silent'),
      { atS: 26, event: { kind: 'stood-still', forS: 6 } } as const,
      lights(26, 'losing', {
        cause: 'the daemon stood still for 6.00 s',
        condition: 'engine-late',
      }),
      { atS: 26.1, event: { kind: 'engine', event: { kind: 'stalled', stalledS: 5.9 } } } as never,
      lights(29, 'returning'),
    ];
    expect(heldIn(acts)).toMatchObject({
      held: [{ fromS: 20, untilS: 29, why: 'the daemon stood still for 6.00 s' }],
      deskSilences: [{ fromS: 5 }],
    });
    const after = [...acts.slice(1), desk(26.2, 'desk-silent'), desk(27.1, 'desk-heard')];
    expect(heldIn(after).deskSilences).toEqual([]);
    const long = [...acts.slice(1), desk(26.2, 'desk-silent'), desk(32, 'desk-heard')];
    expect(heldIn(long).deskSilences).toMatchObject([{ fromS: 26.2, untilS: 32 }]);
  });

  it('is not sent while an interface is lost', () => {
    const lighting = (atS: number, event: LightingEvent) => ({
      atS,
      event: { kind: 'lighting', event } as const,
    });
    const { outages } = heldIn([
      lighting(10, { kind: 'interface-lost', interface: 'eth1', reason: 'it is gone' }),
      lighting(18, { kind: 'interface-back', interface: 'eth1', address: '10.2.0.5' }),
      lighting(40, { kind: 'interface-lost', interface: 'eth2', reason: 'it is gone' }),
    ]);
    const cause = 'interface lost';
    expect(outages).toEqual([
      { interface: 'eth1', cause, fromS: 10, untilS: 18 },
      { interface: 'eth2', cause, fromS: 40, untilS: Number.POSITIVE_INFINITY },
    ]);
  });

  it('is not sent while a cable is out, which is told once, or while the system refuses it', () => {
    const lighting = (atS: number, event: LightingEvent) => ({
      atS,
      event: { kind: 'lighting', event } as const,
    });
    const eth1 = { interface: 'eth1' } as const;
    const fails = { ...eth1, kind: 'send-failed', output: 'heads', reason: 'x', count: 9 } as const;
    const again = { ...eth1, kind: 'sent-again', output: 'heads', count: 90, forS: 5 } as const;
    const { outages } = heldIn([
      lighting(9.5, { ...fails, sent: 0 }),
      lighting(10, { ...eth1, kind: 'carrier-lost' }),
      lighting(11, { ...eth1, kind: 'interface-lost', reason: 'it has no address' }),
      lighting(20, { ...eth1, kind: 'carrier-back' }),
      lighting(21, { ...eth1, kind: 'interface-back', address: '10.2.0.5' }),
      lighting(21.5, again),
      // Some leave: nothing is wrong with the output as a whole.
      lighting(30, { ...fails, sent: 40 }),
      lighting(50, { ...fails, sent: 0 }),
      lighting(56, again),
    ]);
    expect(outages).toEqual([
      { ...eth1, cause: 'no carrier', fromS: 10, untilS: 21 },
      { ...eth1, output: 'heads', cause: 'sends failed', fromS: 50, untilS: 55 },
    ]);
  });
});

it('a desk is silent from when it goes, or never came, until it is heard', () => {
  const desk = (atS: number, event: object) =>
    ({ atS, event: { kind: 'desk', event } }) as unknown as Parameters<typeof heldIn>[0][number];
  const { deskSilences } = heldIn([
    desk(1, { kind: 'desk-silent', input: 'stage' }),
    desk(2, { kind: 'desk-heard', input: 'faders', sources: [] }),
    desk(5, { kind: 'desk-heard', input: 'stage', sources: [] }),
    desk(9, { kind: 'desk-gone', input: 'faders' }),
  ]);
  expect(deskSilences).toEqual([
    { input: 'stage', fromS: 1, untilS: 5 },
    { input: 'faders', fromS: 9, untilS: Number.POSITIVE_INFINITY },
  ]);
});

it('tells of a desk that goes and comes back; that it is there at the start is a detail', () => {
  const source = { name: 'main', address: '10.0.0.9', priority: 100, leads: true };
  const gone = { kind: 'desk-gone', input: 'stage', last: source, ended: false, gone: 'hold' };
  const heard = { kind: 'desk-heard', input: 'stage', sources: [source] };
  const acts = [heard, gone, { ...heard, afterS: 12 }].map((event, atS) => {
    return { atS, event: { kind: 'desk', event } } as Parameters<typeof actionsOf>[0][number];
  });
  expect(actionsOf(acts, String)).toEqual([
    {
      atS: 0,
      what: 'desk "stage" is heard: "main" at 10.0.0.9, priority 100',
      minor: true,
    },
    {
      atS: 1,
      what: 'desk "stage" ("main" at 10.0.0.9, priority 100) is silent: its last levels are held',
    },
    { atS: 2, what: 'desk "stage" is heard again, after 12 s: "main" at 10.0.0.9, priority 100' },
  ]);
});
