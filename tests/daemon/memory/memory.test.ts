import { expect, it } from 'vitest';
import { OperatorMemory, readOperatorState } from '../../../src/daemon/memory/memory.js';
import { StopNote } from '../../../src/daemon/status/stop-note.js';
import type { EngineEvent } from '../../../src/engine/events/events.js';
import type { OperatorAction } from '../../../src/engine/values/operator-action.js';
import { parseShow } from '../../../src/show/parse.js';
import { Rig } from '../../engine/harness.js';
import { MINIMAL } from '../../show/base.js';

const parsed = parseShow(
  MINIMAL.replace('performers:', 'spares: [7, 8]\nperformers:\n  gull: { trackers: [3] }'),
  'a.show.yaml',
);
if (!parsed.ok) throw new Error(parsed.problems.map(problem => problem.message).join());
const { show } = parsed;

const NOBODY = { everybody: false, performers: [] };
const told = (
  tracker: string,
  performer: string,
  change: 'assigned' | 'unassigned',
): EngineEvent => ({
  kind: 'tracker',
  tracker,
  performer,
  change,
  cause: 'command',
});

it('keeps what differs from the show, and forgets what is as it says again', () => {
  const memory = new OperatorMemory(show, undefined);
  expect(memory.state).toEqual({ trackers: {}, stopped: NOBODY });
  expect(memory.hear(told('7', 'ines', 'assigned'))).toBe(true);
  expect(memory.hear(told('1', 'ines', 'unassigned'))).toBe(true);
  expect(memory.hear(told('1', 'ines', 'unassigned'))).toBe(false);
  expect(memory.state).toEqual({ trackers: { 7: 'ines', 1: null }, stopped: NOBODY });
  expect(memory.hear(told('1', 'ines', 'assigned'))).toBe(true);
  expect(memory.hear(told('7', 'ines', 'unassigned'))).toBe(true);
  expect(memory.state).toEqual({ trackers: {}, stopped: NOBODY });
});

it('has a new engine take off first, then put on', () => {
  const memory = new OperatorMemory(show, {
    trackers: { 7: 'ines', 1: 'gull', 3: null },
    stopped: NOBODY,
  });
  expect(memory.restored()).toEqual([
    { kind: 'unassign', tracker: '3', cause: 'restored' },
    { kind: 'assign', tracker: '1', performer: 'gull', cause: 'restored' },
    { kind: 'assign', tracker: '7', performer: 'ines', cause: 'restored' },
  ]);
  // What an older show changed, and this one has itself, is nothing to do.
  expect(
    new OperatorMemory(show, { trackers: { 3: 'gull', 8: null }, stopped: NOBODY }).restored(),
  ).toEqual([]);
});

it('keeps stops: of some, of everybody, and of everybody but those let go', () => {
  const memory = new OperatorMemory(show, undefined);
  const cause = 'command';
  const told = (everybody: boolean, stillStopped: string[]) =>
    ({ everybody, stopOfEverybody: everybody, stillStopped, cause }) as const;
  expect(memory.hear({ kind: 'stopped', performers: ['gull'], ...told(false, ['gull']) })).toBe(
    true,
  );
  expect(memory.restored()).toEqual([{ kind: 'stop', performer: 'gull', cause: 'restored' }]);
  memory.hear({ kind: 'stopped', performers: ['ines'], ...told(true, ['gull', 'ines']) });
  expect(memory.state.stopped).toEqual({ everybody: true, performers: ['gull', 'ines'] });
  memory.hear({ kind: 'resumed', performers: ['gull'], ...told(true, ['ines']), everybody: false });
  expect(new OperatorMemory(show, memory.state).restored()).toEqual([
    { kind: 'stop', performer: undefined, cause: 'restored' },
    { kind: 'resume', performer: 'gull', cause: 'restored' },
  ]);
  memory.hear({ kind: 'resumed', performers: ['ines'], ...told(false, []), everybody: true });
  expect(memory.restored()).toEqual([]);
});

it.each([
  [
    { trackers: { 7: 'ines', 1: null }, stopped: NOBODY },
    { trackers: { 7: 'ines', 1: null }, stopped: NOBODY },
  ],
  [{ trackers: {} }, /"stopped" is not an object/],
  [{ trackers: {}, stopped: { everybody: 1, performers: [] } }, /neither true nor false/],
  [{ trackers: {}, stopped: { everybody: true, performers: [1] } }, /not a list of names/],
  [[], /not an object/],
  [null, /not an object/],
  [{}, /"trackers" is not an object/],
  [{ trackers: [] }, /"trackers" is not an object/],
  [{ trackers: { 7: 3 } }, /the wearer of tracker "7"/],
])('reads %j', (value, expected) => {
  const read = readOperatorState(value);
  if (expected instanceof RegExp) expect(read).toMatch(expected);
  else expect(read).toEqual(expected);
});

it('who is off stage stays so over a restart, as far away as they were', () => {
  const memory = new OperatorMemory(show, undefined);
  const tell = (performers: string[], state: 'on' | 'leaving' | 'away') =>
    memory.hear({ kind: 'off-stage', performers, state });
  expect(tell(['ines', 'gull', 'dov'], 'away')).toBe(true);
  expect(tell(['dov'], 'on')).toBe(true);
  expect(tell(['gull'], 'leaving')).toBe(true);
  const kept = readOperatorState(JSON.parse(JSON.stringify(memory.state)));
  expect(kept).toEqual(memory.state);
  expect(new OperatorMemory(show, memory.state).restored()).toEqual([
    { kind: 'off', performer: 'ines', cause: 'restored', away: true },
    { kind: 'off', performer: 'gull', cause: 'restored' },
  ]);
  expect(readOperatorState({ ...memory.state, offStage: { away: [1], leaving: [] } })).toBe(
    '"offStage.away" is not a list of names',
  );
});

it('keeps since when they are stopped, and by whom; a stop that is asked for again began with the first', () => {
  const memory = new OperatorMemory(show, undefined);
  const told = (stillStopped: string[]) =>
    ({ everybody: false, cause: 'command', stillStopped, stopOfEverybody: false }) as const;
  memory.hear({ kind: 'stopped', performers: ['gull'], ...told(['gull']) }, 1000);
  const anna = { performers: ['gull', 'ines'], by: 'control socket (user anna)' } as const;
  memory.hear({ kind: 'stopped', ...told(['gull', 'ines']), ...anna }, 2000);
  const kept = readOperatorState(JSON.parse(JSON.stringify(memory.state)));
  if (typeof kept === 'string') throw new Error(kept);
  const after = new OperatorMemory(show, kept);
  expect(after.state.stopped.since).toEqual({ gull: 1000, ines: 2000 });
  expect(after.state.stopped.by).toEqual({ ines: anna.by });
  after.hear({ kind: 'resumed', performers: ['gull'], ...told(['ines']) }, 3000);
  expect(after.state.stopped.since).toEqual({ ines: 2000 });
  const wrong = { since: { gull: 'noon', nobody: 4 }, by: { gull: 7, nobody: 'anna' } };
  const spoilt = { ...kept, stopped: { ...kept.stopped, ...wrong } };
  expect(readOperatorState(spoilt)).toMatchObject({
    stopped: { everybody: false, performers: ['gull', 'ines'] },
  });
});

it('keeps who stopped everybody until everybody is resumed', () => {
  const memory = new OperatorMemory(show, undefined);
  const told = { performers: ['gull', 'ines'], everybody: true, cause: 'command' } as const;
  const stop = { kind: 'stopped', ...told, stillStopped: [], stopOfEverybody: true } as const;
  memory.hear({ ...stop, by: 'panel at 10.0.0.5' });
  memory.hear({ ...stop, performers: [], by: 'desk lx' });
  const kept = readOperatorState(JSON.parse(JSON.stringify(memory.state)));
  expect(kept).toMatchObject({ stopped: { everybodyBy: 'panel at 10.0.0.5' } });
  memory.hear({ ...stop, kind: 'resumed', stopOfEverybody: false });
  expect(memory.state.stopped).toEqual({ everybody: false, performers: [] });
});

it('keeps what was entered and is to be told of when it is left, where the show still has that', () => {
  const text = `${MINIMAL}signals:
  close: { distance: [ines, [1, 1]], range: [3, 1] }
conditions:
  near: { signal: close, on: 0.5 }
receivers: { sound: { address: 127.0.0.1, port: 9050 } }
actions:
  - { condition: near, on: leave, send: sound, address: /off }
`;
  const told = parseShow(text, 'a.show.yaml');
  if (!told.ok) throw new Error(told.problems[0]?.message);
  const memory = new OperatorMemory(told.show, undefined);
  expect(memory.hear({ kind: 'entered', condition: 'near', entered: true })).toBe(true);
  const { state } = memory;
  expect(state).toEqual({ trackers: {}, stopped: NOBODY, entered: ['near'] });
  expect(readOperatorState(JSON.parse(JSON.stringify(state)))).toEqual(state);
  expect(new OperatorMemory(told.show, state).restored()).toEqual([
    { kind: 'entered', condition: 'near', cause: 'restored' },
  ]);
  expect(new OperatorMemory(show, state).restored()).toEqual([]);
  memory.hear({ kind: 'entered', condition: 'near', entered: false });
  expect(memory.state).toEqual({ trackers: {}, stopped: NOBODY });
  expect(readOperatorState({ trackers: {}, stopped: NOBODY, entered: [1] })).toBe(
    '"entered" is not a list of names',
  );
});

it('keeps whom heads are pinned to, and has a new engine pin those that it may', () => {
  const share = parseShow(
    MINIMAL.replace(
      'performers:',
      'groups: { company: [ines, gull] }\nperformers:\n  gull: { trackers: [3] }',
    ).replace('follow: ines', 'follow: { share: company }'),
    'a.show.yaml',
  );
  if (!share.ok) throw new Error('not a show');
  const memory = new OperatorMemory(share.show, undefined);
  const pin = (fixture: string, performer: string | undefined): EngineEvent => ({
    kind: 'pin',
    fixture,
    performer,
    cause: 'command',
  });
  expect(memory.hear(pin('head', 'gull'))).toBe(true);
  expect(memory.hear(pin('gone', 'gull'))).toBe(true);
  const pins = { gone: 'gull', head: 'gull' };
  expect(memory.state).toEqual({ trackers: {}, stopped: NOBODY, pins });
  const read = readOperatorState(JSON.parse(JSON.stringify(memory.state)));
  if (typeof read === 'string') throw new Error(read);
  expect(new OperatorMemory(share.show, read).restored()).toEqual([
    { kind: 'pin', fixture: 'head', performer: 'gull', cause: 'restored' },
  ]);
  // In a show in which the head follows ines alone.
  expect(new OperatorMemory(show, read).restored()).toEqual([]);
  memory.hear(pin('gone', undefined));
  memory.hear(pin('head', undefined));
  expect(memory.state).toEqual({ trackers: {}, stopped: NOBODY });
  expect(readOperatorState({ trackers: {}, stopped: NOBODY, pins: ['gull', 3] })).toBe(
    '"pins" is not a list of heads with names',
  );
});

it('keeps whose stop it was: one that the main machine has told of is told of so to the next engine', () => {
  const stop = (name: string | undefined, more: Partial<OperatorAction> = {}): OperatorAction => {
    return { kind: 'stop', performer: name, cause: 'restored', ...more } as OperatorAction;
  };
  const told = { toldByMain: true } as const;
  const cases: readonly (readonly OperatorAction[])[] = [
    [stop('gull', told), stop('ines')],
    [stop(undefined, told), { kind: 'resume', performer: 'gull', cause: 'restored' }],
    [stop(undefined), stop('ines', told)],
    [stop(undefined, told), stop('ines')],
  ];
  for (const actions of cases) {
    // Through the engine, the file and back.
    const memory = new OperatorMemory(show, undefined);
    const rig = new Rig(show);
    for (const action of actions) rig.order(action);
    rig.tick();
    for (const event of rig.events) memory.hear(event);
    const state = readOperatorState(JSON.parse(JSON.stringify(memory.state)));
    if (typeof state === 'string') throw new Error(state);
    const next = new OperatorMemory(show, state).restored();
    expect(next).toHaveLength(actions.length);
    expect(next).toEqual(expect.arrayContaining([...actions]));
  }
  expect(
    readOperatorState({ trackers: {}, stopped: { ...NOBODY, toldByMain: { everybody: 1 } } }),
  ).toMatch(/toldByMain/);
});

it('its own stops are those that did not come from the other machine', () => {
  const memory = new OperatorMemory(show, undefined);
  const stop = {
    kind: 'stopped',
    everybody: false,
    cause: 'command',
    stillStopped: [],
    stopOfEverybody: false,
  } as const;
  memory.hear({
    ...stop,
    performers: ['gull', 'ines'],
    toldByMain: { everybody: false, performers: ['gull'] },
  });
  memory.hear({ kind: 'off-stage', performers: ['ines'], state: 'leaving', cause: 'command' });
  const byName = new Map(memory.ownStopsOf(show).map(one => [one.name, one]));
  expect(byName.get('gull')).toEqual({ name: 'gull', stopped: false, stage: 'unsaid' });
  expect(byName.get('ines')).toEqual({ name: 'ines', stopped: true, stage: 'unsaid' });
});

it('has a new engine told who had asked for each stop, where no engine had been asked', () => {
  const anna = 'control socket (user anna)';
  const told = { everybody: false, cause: 'command', stillStopped: [], stopOfEverybody: false };
  const memory = new OperatorMemory(show, undefined);
  memory.hear({ kind: 'stopped', ...told, cause: 'command', performers: ['gull'], by: anna });
  memory.hear({ kind: 'stopped', ...told, cause: 'command', performers: ['ines'], by: '10.0.0.5' });
  const rig = new Rig(
    MINIMAL.replace('performers:', 'spares: [7, 8]\nperformers:\n  gull: { trackers: [3] }'),
  );
  for (const action of memory.restored()) rig.order(action);
  rig.tick();
  const event = rig.eventsOf('stopped').at(-1);
  expect(event).toMatchObject({
    cause: 'restored',
    performers: ['gull', 'ines'],
    byOf: { gull: anna, ines: '10.0.0.5' },
  });
  expect(event).not.toHaveProperty('by');
  const note = new StopNote();
  if (event !== undefined) note.hear(event, 5);
  expect([note.of('gull')?.by, note.of('ines')?.by]).toEqual(['anna', '10.0.0.5']);
  // Later stops are no longer theirs.
  rig.order({ kind: 'resume', performer: undefined, cause: 'command' });
  rig.tick();
  rig.order({ kind: 'stop', performer: 'ines', cause: 'restored' });
  rig.tick();
  expect(rig.eventsOf('stopped').at(-1)).not.toHaveProperty('byOf');
});
