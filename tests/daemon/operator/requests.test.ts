import { mkdtempSync, rmSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { ask } from '../../../src/daemon/asking/ask.js';
import { doneWithinS } from '../../../src/daemon/asking/request-words.js';
import type { Reloaded } from '../../../src/daemon/beats/supervisor-options.js';
import { monotonicS } from '../../../src/daemon/machine/clock.js';
import { OperatorKeeping } from '../../../src/daemon/memory/keeping.js';
import { Control } from '../../../src/daemon/operator/requests.js';
import type { Supervisor } from '../../../src/daemon/supervisor.js';
import type { OperatorAction } from '../../../src/engine/values/operator-action.js';
import type { PairPart, PairPartStatus, PairStatus } from '../../../src/live/pair-words.js';
import type { CueTarget } from '../../../src/protocols/osc/orders.js';
import { ownOutputs } from '../../../src/show/model/own-outputs.js';
import { Rig } from '../../engine/harness.js';
import { HOUSE } from '../../engine/shows.js';

let folder: string;
let control: Control;
let rig: Rig;
let kept: OperatorKeeping;
let engineRuns = true;
let leads = true;
let cueGone: { kind: 'cue-gone'; cue: string; on: string } | undefined;
let pair: PairStatus | undefined;
let unkept: string | undefined;
/** Names of its own outputs, where it shares the show with other machines. */
let outputs: readonly string[] | undefined;
let next: unknown[] = [];
let problems: Reloaded = [];

/** The engine itself, a tick later, in place of a process. */
const supervisor = {
  operate(actions: readonly OperatorAction[]) {
    if (!engineRuns) return false;
    // The rig has a clock of its own, and the machine may have started just now.
    const rigAheadS = rig.nowS - monotonicS();
    for (const { untilS, ...action } of actions) {
      rig.order({ ...action, ...(untilS !== undefined && { untilS: untilS + rigAheadS }) });
    }
    setImmediate(() => {
      const before = rig.events.length;
      rig.tick();
      for (const event of rig.events.slice(before)) control.hear({ kind: 'engine', event });
    });
    return true;
  },
  keeping: {
    stopNext(performer: string | undefined, stopped: boolean) {
      next.push([performer, stopped]);
      return performer !== 'nobody';
    },
    cueNext: (to: CueTarget, by: string | undefined) => kept.cueNext(to, by),
    unkept: async () => unkept,
  },
  get show() {
    const own = ownOutputs(rig.view.show, outputs);
    return own.ok ? own.show : rig.view.show;
  },
  get status() {
    return { pair };
  },
  get leads() {
    return leads;
  },
} as unknown as Supervisor;

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-requests-'));
  rig = new Rig(`${HOUSE}cues: { prologue: { label: Prologue }, storm: { fade: 2 }, dawn: {} }\n`);
  kept = new OperatorKeeping(rig.show, undefined, () => undefined);
  [engineRuns, leads, unkept, next, problems] = [true, true, undefined, [], []];
  outputs = undefined;
  const faults: (string | undefined)[] = [];
  control = new Control(folder, fault => faults.push(fault));
  await control.open(supervisor, async () => {
    if (cueGone !== undefined) control.hear(cueGone);
    return problems;
  });
  expect(faults).toEqual([]);
});
afterEach(() => {
  control.close();
  rmSync(folder, { recursive: true });
});

const tell = (...words: string[]) => ask(folder, words);

it('says of a machine that has not the light that the other one is to be told as well', async () => {
  leads = false;
  pair = { machine: 'main', shows: 'same', parts: [] };
  // It has just begun, and listens: there is no other.
  expect(await tell('cue', 'dawn')).toMatchObject({ text: 'Cue dawn comes on.' });
  const standby = (part: PairPart, other: PairPartStatus['other']): PairStatus => ({
    machine: 'standby',
    shows: 'same',
    parts: [{ interface: 'eth0', part, since: '2026-11-30T20:14:03.000Z', other }],
  });
  pair = standby('stands in', 'silent');
  expect(await tell('cue', 'prologue')).toMatchObject({ text: 'Cue Prologue comes on.' });
  pair = standby('stands in', 'comes back');
  expect(await tell('cue', 'dawn')).toMatchObject({
    text: 'Cue dawn comes on. The main machine is back, does not know of this, and has the light in a moment: tell that one too.',
  });
  pair = standby('waits', 'heard');
  const also = 'The other machine has the light just now: tell that one too.';
  expect(await tell('cue', 'storm')).toMatchObject({ text: `Cue storm comes on. ${also}` });
  expect(await tell('stop', 'ines')).toMatchObject({ text: expect.stringContaining(also) });
});

it('says of a main machine whose light may be the standby on some network, or on all, what the standby hears of it', async () => {
  const part = (name: string, is: PairPart, other: PairPartStatus['other']): PairPartStatus => {
    return { interface: name, part: is, since: '2026-11-30T20:14:03.000Z', other };
  };
  const main = (...parts: PairPartStatus[]): PairStatus => ({
    machine: 'main',
    shows: 'same',
    parts,
  });
  const text = async (...words: string[]) => (await tell(...words)).text;
  leads = false;
  pair = main(part('eth0', 'leads', 'heard'), part('eth1', 'listens', 'never heard'));
  expect(await text('stop', 'ines')).toBe(
    'ines stopped. The standby may have the light on eth1 just now: tell that one too.',
  );
  pair = main(part('eth0', 'listens', 'never heard'));
  expect(await text('cue', 'dawn')).toBe(
    'Cue dawn comes on. The standby may have the light just now: tell that one too.',
  );
  pair = main(part('eth0', 'comes back', 'heard'));
  expect(await text('resume', 'ines')).toContain('The other machine has the light just now');
  leads = true;
  pair = main(part('eth0', 'leads', 'silent'));
  expect(await text('stop', 'ines')).toBe(
    'ines stopped. The standby is not heard: if it still runs, stop there too.',
  );
  expect(await text('resume', 'ines')).not.toContain('The standby');

  // With its address it is told.
  rig = new Rig(`${HOUSE}operator: { port: 9011, standby: 10.0.0.12 }\ncues: { prologue: {} }\n`);
  leads = false;
  pair = main(part('eth0', 'listens', 'never heard'));
  const told =
    'The standby may have the light just now: it is told of this, but check there that it holds.';
  expect(await text('stop', 'ines')).toBe(`ines stopped. ${told}`);
  expect(await text('cue', 'prologue')).toContain('tell that one too');
});

it('names the outputs of other machines whose light an order leaves as it is', async () => {
  rig = new Rig(
    HOUSE.replace(
      'universes: [1, 2] }',
      'universes: [1] }\n  upstage: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [2] }',
    )
      // Tobias lights nothing upstage.
      .replace('{ follow: tobias, fixtures: [lit-head]', '{ follow: ines, fixtures: [lit-head]')
      .replace(
        '- { zone: stove, fixtures: [zone-head]',
        '- { zone: stove, performers: [ines], fixtures: [zone-head]',
      )
      .replace(
        '- { zone: window, fixtures: [zone-head]',
        '- { zone: window, performers: [ines], fixtures: [zone-head]',
      )
      .replace('performers: [tobias], fixtures: [head]', 'performers: [ines], fixtures: [head]'),
  );
  const said = async (...words: string[]) => (await tell(...words)).text;
  expect(await said('stop', 'ines')).toBe('ines stopped.');
  await said('resume', 'ines');
  outputs = ['lamps'];
  const upstage = 'on output "upstage" is sent by another machine:';
  expect(await said('stop', 'ines')).toBe(
    `ines stopped here. The light of ines ${upstage} stop ines there too.`,
  );
  expect(await said('stop', 'ines')).toBe(
    `ines is already stopped here. The light of ines ${upstage} stop ines there too.`,
  );
  expect(await said('resume', 'ines')).toBe(
    `ines resumed here. Not back yet: ines (tracker silent). The light of ines ${upstage} resume ines there too.`,
  );
  expect((await tell('stop', 'ines')).elsewhere).toEqual(['upstage']);
  await said('resume', 'ines');
  expect((await tell('stop', 'tobias')).elsewhere).toBeUndefined();
  expect(await said('off', 'ines')).toContain(`The light of ines ${upstage} tell that one too.`);
  expect(await said('stop', 'everybody')).toBe(
    `Everybody stopped here. Light ${upstage} stop everybody there too.`,
  );
  const whole = 'Output "upstage" is sent by another machine: tell that one too.';
  expect(await said('mapping', 'off', 'stove')).toBe(`Mapping stove goes off. ${whole}`);
  // The other one has the first output: it says of the rest what this one says of its own.
  outputs = ['upstage'];
  expect(await said('resume', 'tobias')).toContain('"lamps" is sent by another machine');
  expect(await said('assign', '1', 'tobias')).toContain(whole.replace('upstage', 'lamps'));
  // An engine that is gone reaches the other machine no more than one that is there.
  engineRuns = false;
  expect(await said('stop', 'tobias')).toBe(
    'tobias stopped. No engine is running: it holds when one is started. The light of tobias on output "lamps" is sent by another machine: stop tobias there too.',
  );
});

it('says that a hold is refused under which nothing comes on, again and again', async () => {
  const hazer = `profiles:
  hazer: { hazard: atmospheric, channels: [{ attribute: Haze1 }] }
`;
  rig = new Rig(
    `${HOUSE.replace('profiles:\n', hazer).replace(
      'fixtures:\n',
      `fixtures:
  haze: { profile: hazer, universe: 1, address: 300, base: { Haze1: 12 }, safe: { Haze1: 0 } }
`,
    )}operator: { port: 9011 }\n`,
  );
  rig.run(2, { 1: [2, 6] });
  expect(await tell('hold', 'atmospheric')).toMatchObject({ outcome: 'done' });
  expect(await tell('release', 'atmospheric')).toMatchObject({ outcome: 'done' });
  expect(await tell('hold', 'atmospheric')).toMatchObject({ outcome: 'done', ok: true });
  expect(await tell('release', 'atmospheric')).toMatchObject({ outcome: 'done' });
  expect(await tell('stop', 'everybody')).toMatchObject({ outcome: 'done' });
  for (let i = 0; i < 3; i++) {
    expect(await tell('hold', 'atmospheric')).toEqual({
      outcome: 'refused',
      ok: false,
      text: 'Refused: everybody is stopped. Release, and press again once everybody has been resumed.',
    });
  }
  expect(await tell('release', 'atmospheric')).toMatchObject({ outcome: 'done', ok: true });
});

it('takes cues by name, label, next and back; what is so already is no fault', async () => {
  expect(await tell('cue', 'next')).toMatchObject({ outcome: 'done', text: 'Cue storm comes on.' });
  expect(await tell('cue', 'next', 'Prologue')).toMatchObject({
    outcome: 'refused',
    text: expect.stringMatching(
      /^Refused: this was asked in cue "prologue", and cue "storm" is on/i,
    ),
  });
  expect(await tell('cue', 'Storm')).toMatchObject({
    outcome: 'already so',
    text: 'Cue storm is on already.',
  });
  expect(await tell('cue', 'Prologue')).toMatchObject({ text: 'Cue Prologue comes on.' });
  expect(await tell('cue', 'back')).toMatchObject({
    outcome: 'already so',
    text: 'Cue Prologue is on already; it is the first.',
  });
  expect(await tell('cue', 'strom')).toMatchObject({
    outcome: 'refused',
    text: 'Refused: the show has no cue "strom". Did you mean "storm"? The show has prologue, storm and dawn.',
  });
  engineRuns = false;
  expect(await tell('cue', 'dawn')).toMatchObject({
    outcome: 'done',
    text: 'Cue dawn is next. No engine is running: the light is at its safe look until one is started.',
  });
  expect(await tell('cue', 'next')).toMatchObject({ outcome: 'already so' });
  expect(kept.cue).toBe(2);
});

it('a request that is asked for again, for its connection broke, is not carried out again', async () => {
  const line = `${JSON.stringify({ words: ['cue', 'next'], id: 'a-1' })}\n`;
  const say = () =>
    new Promise<string>(resolve => {
      const socket = connect(join(folder, 'control.sock'), () => socket.write(line));
      socket.setEncoding('utf8').on('data', (text: string) => resolve(text));
    });
  expect(await say()).toContain('Cue storm comes on.');
  expect(await say()).toContain('Cue storm comes on.');
  expect(rig.view.cue?.name).toBe('storm');
});

it('answers each request with what is so now, also where it was so already', async () => {
  expect(await tell('stop', 'everybody')).toMatchObject({
    outcome: 'done',
    text: 'Everybody stopped.',
    stops: { everybody: true, performers: ['ines', 'tobias'] },
  });
  expect(await tell('stop', 'everybody')).toMatchObject({
    outcome: 'already so',
    ok: true,
    text: 'Everybody is already stopped.',
  });
  expect(await tell('resume', 'ines')).toMatchObject({
    outcome: 'done',
    text: 'ines resumed. Not back yet: ines (tracker silent). Still stopped: tobias. Hazardous outputs stay off until everybody is resumed.',
  });
  expect(await tell('resume', 'everybody')).toMatchObject({
    text: 'Everybody resumed. Not back yet: ines and tobias (tracker silent).',
  });
  expect(await tell('resume', 'ines')).toMatchObject({
    outcome: 'already so',
    ok: true,
    text: 'ines is not stopped. Not back yet: ines (tracker silent).',
  });
  expect(await tell('assign', '2', 'ines')).toMatchObject({
    text: 'Tracker 2 taken from tobias and given to ines, but nothing has come from it in the last 5 s.',
    takenFrom: 'tobias',
  });
  expect(await tell('assign', '2', 'ines')).toMatchObject({
    outcome: 'already so',
    text: 'ines is already wearing tracker 2.',
  });
  expect(await tell('unassign', '2')).toMatchObject({
    text: 'Tracker 2 taken from ines. Nobody is wearing it now.',
  });
  expect(await tell('unassign', '2')).toMatchObject({
    outcome: 'already so',
    text: 'Nobody is wearing tracker 2.',
  });
  expect(await tell('stop', 'gull')).toMatchObject({
    outcome: 'refused',
    ok: false,
    text: 'Refused: the show has no performer "gull". The show has ines and tobias.',
  });
});

it('gives each of many at once the answer to what it asked', async () => {
  const names = ['ines', 'tobias', 'ines', 'tobias'];
  const answers = await Promise.all(names.map(name => tell('stop', name)));
  answers.forEach(({ text }, i) => {
    expect(text).toMatch(new RegExp(`^${names[i]} (stopped|is already stopped)\\.`));
  });
  expect(answers.filter(({ outcome }) => outcome === 'already so')).toHaveLength(2);
});

it('says that a stop holds but would be lost by a restart', async () => {
  unkept = 'ENOSPC: no space left on device';
  expect(await tell('stop', 'ines')).toMatchObject({
    outcome: 'not kept',
    ok: false,
    text: expect.stringMatching(/^ines stopped\. It holds now, but could not be saved: .*ENOSPC/),
  });
});

it('takes a stop while no engine runs: the next one begins with it', async () => {
  engineRuns = false;
  expect(await tell('stop', 'ines')).toMatchObject({ outcome: 'done', ok: true });
  expect(next).toContainEqual(['ines', true]);
  expect(await tell('assign', '2', 'ines')).toMatchObject({ outcome: 'failed' });
  expect(await tell('stop', 'nobody')).toMatchObject({ outcome: 'refused' });
});

it('prints what is wrong with a show that was not loaded', async () => {
  problems = ['my.show.yaml:3:1 one', 'my.show.yaml:4:1 two'];
  expect(await tell('reload')).toMatchObject({ outcome: 'refused', ok: false, problems });
  expect((await tell('reload')).text).toMatch(/^Not loaded\. The running show carries on\.\n/);
  expect((await tell('reload')).text.split('\n').slice(1)).toEqual(problems);
  problems = 'already so';
  expect(await tell('reload')).toEqual({
    outcome: 'already so',
    ok: true,
    text: 'The show already runs as its file says: nothing to load.',
  });
  problems = { because: 'the engine was just restarting' };
  expect(await tell('reload')).toEqual({
    outcome: 'done',
    ok: true,
    text: 'The show is reloaded: all light goes to the safe look first, because the engine was just restarting; then the new show takes over.',
  });
  problems = [];
  expect(await tell('reload')).toMatchObject({ outcome: 'done', ok: true });
});

it.each([
  [['stop'], 'Stop whom? The show has ines and tobias; or everybody.'],
  [['resume'], 'Resume whom? The show has ines and tobias; or everybody.'],
  [['off'], 'Who is off stage? The show has ines and tobias; or everybody.'],
  [['assign', '2'], 'To whom is tracker 2 to be given? The show has ines and tobias.'],
  [['assign', 'ines'], 'Which tracker is to be given to ines? The show has 1 and 2.'],
  [['assign'], 'Which tracker, and to whom? The show has 1 and 2; ines and tobias.'],
  [['unassign'], 'Which tracker? The show has 1 and 2.'],
  [['cue'], 'Which cue? The show has prologue, storm and dawn; or next, or back.'],
])('asks for what was left out: %j', async (words, text) => {
  expect(await tell(...words)).toEqual({ outcome: 'incomplete', ok: false, text });
});

it.each([
  [['stop', 'Tobias'], 'tobias stopped.'],
  [
    ['assign', '1', 'TOBIAS'],
    'Tracker 1 taken from ines and given to tobias, but nothing has come from it in the last 5 s.',
  ],
])('takes a label, or other letters: %j', async (words, text) => {
  expect(await tell(...words)).toMatchObject({ outcome: 'done', text });
});

it.each([
  [
    ['stop', 'tobais'],
    'Refused: the show has no performer "tobais". Did you mean "tobias"? The show has ines and tobias.',
  ],
  [
    ['assign', '1', 'nobody'],
    'Refused: the show has no performer "nobody". The show has ines and tobias.',
  ],
  [
    ['assign', 'ines', '1'],
    expect.stringMatching(/^Refused: .* The tracker comes first: assign 1 ines\.$/),
  ],
  [
    ['unassign', '77'],
    expect.stringMatching(/^Refused: the show has no tracker "77".* The show has 1 and 2\.$/),
  ],
])('a refusal says what would be right: %j', async (words, text) => {
  expect(await tell(...words)).toMatchObject({ outcome: 'refused', ok: false, text });
});

it('gives the engine 3 s for all that is asked by what is seen, a hold 1 s, and a stop or a release any time', async () => {
  const given: (number | undefined)[] = [];
  const nowS = monotonicS();
  const engine = supervisor as { operate(actions: readonly OperatorAction[]): boolean };
  const { operate } = engine;
  engine.operate = actions => {
    given.push(...actions.map(({ untilS }) => untilS));
    return operate(actions);
  };
  for (const words of ['cue storm', 'resume ines', 'stop ines']) await tell(...words.split(' '));
  // Whoever waits for less gets less.
  await ask(folder, ['cue', 'storm'], { untilS: nowS + 2 });
  engine.operate = operate;
  const within = given.map(untilS => untilS && Math.floor(untilS - nowS));
  expect(within).toEqual([3, 3, undefined, 2]);
  expect(['hold', 'release', 'status', 'reload'].map(doneWithinS)).toEqual([
    1,
    undefined,
    undefined,
    3,
  ]);
});

it('says that an order came too late to an engine that stood still, and does not do it', async () => {
  const engine = supervisor as { operate(actions: readonly OperatorAction[]): boolean };
  const { operate } = engine;
  // Its clock is past what whoever asked waits for.
  engine.operate = actions =>
    operate(actions.map(one => ({ ...one, ...(one.untilS && { untilS: monotonicS() - 1 }) })));
  expect(await tell('cue', 'storm')).toMatchObject({
    outcome: 'refused',
    ok: false,
    text: expect.stringMatching(/^Refused: it reached the engine 1\.\d s too late/),
  });
  expect(await tell('stop', 'everybody')).toMatchObject({ outcome: 'done' });
  engine.operate = operate;
  expect(await tell('cue', 'next')).toMatchObject({ text: 'Cue storm comes on.' });
});

it('a reload names the cue that was on and is not in the new show, and once', async () => {
  cueGone = { kind: 'cue-gone', cue: 'storm', on: 'prologue' };
  expect(await tell('reload')).toMatchObject({
    outcome: 'done',
    text: expect.stringMatching(/ Cue storm, which was on, is not in it: cue prologue is on\.$/),
  });
  cueGone = undefined;
  expect((await tell('reload')).text).not.toContain('storm');
});
