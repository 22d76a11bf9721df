import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { describeStage } from '../../src/live/describe-stage.js';
import { EnginePicture } from '../../src/live/engine-part.js';
import { fixtureInWords, gatesInWords, lightInWords } from '../../src/live/light-words.js';
import type { LiveSnapshot } from '../../src/live/schema.js';
import { Rig } from '../engine/harness.js';
import { snapshotOf, type Told } from '../panel/support.js';

const TEXT = readFileSync('config/salt-lantern.show.yaml', 'utf8');
const AT = { 1: [8.4, 7, 1.58], 2: [2, 6, 1.7], 3: [5, 2, 1.6] } as const;
const rig = new Rig(TEXT).run(8, AT);
const stage = describeStage(rig.show, 1);
const live = new EnginePicture(rig.view).take();
rig.run(4, { 1: AT[1], 2: AT[2] });
const lost = new EnginePicture(rig.view).take();

const light = (told: Told) => lightInWords(stage, snapshotOf(rig.show, told));
const words = (name: string, told: Told) => {
  const index = stage.fixtures.findIndex(one => one.name === name);
  return fixtureInWords(stage, snapshotOf(rig.show, told), index).text;
};

it('says whom the light follows, and which head is dark for a keep-out', () => {
  expect(light({ engine: live })).toBe(
    '7 of 7 fixtures are lit; heads on Ines, Tobias and The Gull',
  );
  const fixtures = live.fixtures.map((one, i) =>
    stage.fixtures[i]?.name === 'head-back'
      ? { ...one, dark: 'keep-out' as const, darkFor: 'pit' }
      : one,
  );
  expect(light({ engine: { ...live, fixtures } })).toMatch(/; head upstage dark for keep-out pit$/);
});

it('says what the light does about a loss, and each lamp at safe says why', () => {
  expect(light({ engine: lost })).toBe(
    'at safe: lantern 30 %, harbour lamp 25 %; head upstage dark; the rest goes on',
  );
  expect(words('lantern-glow', { engine: lost })).toBe('at safe: The Gull is lost');
  expect(words('stove-glow', { engine: lost })).toBe('lit for others; The Gull is lost');
  expect(words('head-back', { engine: lost })).toBe('dark: The Gull is lost');
  expect(words('head-right', { engine: lost })).toBe('on Ines');
  expect(words('lantern-glow', { engine: live })).toBe('');
});

it('says of a fixture whose universe does not leave that it is not sent, and counts it nowhere', () => {
  const status = { notSent: ['stove-glow', 'head-back'] };
  expect(light({ engine: live, status })).toBe(
    'not sent: stove, head upstage; 5 of 7 fixtures are lit; heads on Ines and Tobias',
  );
  expect(light({ engine: lost, status })).toBe(
    'not sent: stove, head upstage; at safe: lantern 30 %, harbour lamp 25 %; the rest goes on',
  );
  expect(words('stove-glow', { engine: live, status })).toBe('not sent: its output sends nothing');
});

it('says who is behind it that a lamp with a master is at safe', () => {
  const nobodyThere = { ...AT, 1: [5, 2, 1.58] } as const;
  const mastered = new Rig(
    TEXT.replace('fixtures: [window-glow]', 'fixtures: [window-glow]\n    master: swell'),
  ).run(8, nobodyThere);
  const window = () => {
    const index = stage.fixtures.findIndex(({ name }) => name === 'window-glow');
    const engine = new EnginePicture(mastered.view).take();
    return fixtureInWords(stage, snapshotOf(mastered.show, { engine }), index).text;
  };
  expect(window()).toBe('');
  mastered.run(6, { 1: nobodyThere[1], 2: AT[2] });
  expect(window()).toMatch(/The Gull is lost$/);
  expect(window()).not.toContain('not known');
  mastered.order({ kind: 'stop', performer: undefined, cause: 'command' });
  mastered.run(6, nobodyThere);
  expect(window()).toBe('at safe: everybody is stopped');
});

it('says of a lamp that is brighter than its safe value why it is', () => {
  const { performers } = snapshotOf(rig.show, { engine: lost }).status;
  const gull = performers.find(({ label }) => label === 'The Gull')?.name;
  const all = (state: 'live' | 'lost', phase: 'losing' | 'safe') =>
    performers.map(one => (one.name === gull ? { ...one, phase } : { ...one, state }));
  const stove = (state: 'live' | 'lost', phase: 'losing' | 'safe') =>
    words('stove-glow', { engine: lost, status: { performers: all(state, phase) } });
  expect(stove('live', 'losing')).toBe('on the way to safe: The Gull is lost');
  expect(stove('live', 'safe')).toBe('lit for others; The Gull is lost');
  const fixtures = lost.fixtures.map((one, i) =>
    stage.fixtures[i]?.name === 'head-right' ? { ...one, safeFor: [gull ?? ''] } : one,
  );
  expect(words('head-right', { engine: { ...lost, fixtures } })).toBe('on Ines; The Gull is lost');
  // By a signal that needs nobody, or in a fade of its own.
  expect(stove('lost', 'safe')).toBe('not at safe: The Gull is lost');
});

it('says of light that comes back that it leaves its safe values, up or down, and of heads that they turn', () => {
  const back = new Rig(TEXT).run(8, AT);
  back.order({ kind: 'stop', performer: undefined, cause: 'command' });
  back.run(6, AT);
  back.order({ kind: 'resume', performer: undefined, cause: 'command' });
  const told = new Set<string>();
  for (let i = 0; i < 30; i++) {
    back.run(0.1, AT);
    const engine = new EnginePicture(back.view).take();
    if (engine.performers.some(({ phase }) => phase !== 'returning')) continue;
    const snapshot = snapshotOf(back.show, { engine });
    stage.fixtures.forEach((_, index) => {
      told.add(fixtureInWords(stage, snapshot, index).text);
    });
  }
  expect([...told].sort()).toEqual([
    '',
    'dark: turning to Ines',
    'dark: turning to The Gull',
    'dark: turning to Tobias',
    'on Ines; Ines is coming back',
    'on The Gull; The Gull is coming back',
    'on Tobias; Tobias is coming back',
    'on the way back from safe: Ines and The Gull are coming back',
    'on the way back from safe: everybody is coming back',
  ]);
});

it('says the safe look where all light is held there, and where everybody is stopped', () => {
  const look =
    'at safe: stove 20 %, window 15 %, lantern 30 %, harbour lamp 25 %; head stage right, head stage left and head upstage dark';
  expect(light({ engine: null, phase: 'safe' })).toBe(look);
  expect(words('stove-glow', { engine: null, phase: 'safe' })).toBe('at safe, as all light is');
  expect(light({ engine: live, phase: 'losing' })).toBe('fades to safe');
  const stops = { everybody: true, performers: [], performerLabels: [] };
  const { performers } = snapshotOf(rig.show, { engine: live }).status;
  const stopped = (phase: 'losing' | 'safe') =>
    performers.map(one => ({ ...one, phase, state: 'stopped' as const }));
  expect(light({ engine: live, status: { stops, performers: stopped('losing') } })).toBe(
    'fades to safe',
  );
  const outputs: LiveSnapshot['status']['outputs'] = [
    { name: 'a', protocol: 'sacn', interface: 'lo', universes: [1], trouble: 'no carrier' },
  ];
  expect(light({ engine: live, status: { outputs } })).toMatch(/^none of it leaves; /);
});

it('names everybody at once', () => {
  const fresh = new EnginePicture(new Rig(TEXT).run(1, {}).view).take();
  expect(words('stove-glow', { engine: fresh })).toBe('at safe: nobody is heard yet');
});

it('says what a stop of everybody leaves as it is, and never fades for ever', () => {
  const stops = { everybody: true, performers: [], performerLabels: [] };
  const { status } = snapshotOf(rig.show, { engine: live });
  const performers = status.performers.map(one => ({
    ...{ ...one, phase: 'safe' as const, state: 'stopped' as const },
  }));
  const fixtures = live.fixtures.map((one, i) => {
    const { name, channels } = stage.fixtures[i] as (typeof stage.fixtures)[number];
    return name === 'window-glow' ? one : { ...one, values: channels.map(of => of.safe[0] ?? 0) };
  });
  const window = stage.fixtures.find(({ name }) => name === 'window-glow')?.label ?? '';
  const engine = { ...live, fixtures };
  const told = (leftAlone: string[]) => light({ engine, status: { stops, performers, leftAlone } });
  expect(told([window])).toMatch(
    /^at safe: stove 20 %, lantern 30 %, harbour lamp 25 %; head stage right, head stage left and head upstage dark; left as it is: window \d+ %$/,
  );
  expect(told([])).toMatch(/; not at safe: window \d+ %$/);
});

it('names an output whose enable is held', () => {
  const [fixture = ''] = stage.fixtures.map(({ name }) => name);
  const heldBy = [
    'control socket (user panel at ::1)',
    'control socket (user panel at ::1)',
    'desk main',
  ];
  const hazards = [{ fixture, hazard: 'atmospheric', gate: 'on' as const, heldBy }];
  expect(light({ engine: { ...live, hazards } })).toMatch(
    /^.+ on, held by panel at ::1 \(2 hands\) and desk main; 7 of 7 fixtures are lit; /,
  );
});

it('names what is off in a fixture of which another part needs no enable', () => {
  const hazards = [{ fixture: 'mist', hazard: 'atmospheric', gate: 'off' as const, heldBy: [] }];
  const off = (own: readonly (string | undefined)[]) => {
    const channels = ['Haze1', 'Fan1'].map((attribute, i) => ({
      ...{ attribute, safe: [0] },
      ...(own[i] === undefined ? {} : { hazard: own[i] }),
    }));
    const fixture = { ...(stage.fixtures[0] as (typeof stage.fixtures)[number]), name: 'mist' };
    const mixed = { ...stage, fixtures: [{ ...fixture, channels }] };
    return gatesInWords(mixed, snapshotOf(rig.show, { engine: { ...live, hazards } }), 0);
  };
  expect(off(['atmospheric', 'atmospheric'])).toBe('off, enable not held');
  expect(off(['atmospheric', undefined])).toBe('Haze1 off, enable not held');
});

it('says of light that comes back that it does, as it may fall from the safe look', () => {
  expect(light({ engine: lost, phase: 'returning' })).toMatch(/; the rest comes back$/);
});

it('does not say at safe while the supervisor still fades there', () => {
  for (const engine of [null, live]) {
    const told = { engine, phase: 'losing' } as const;
    expect(light(told)).toBe('fades to safe');
    expect(words('lantern-glow', told)).toBe('fades to safe');
  }
  expect(light({ engine: null, phase: 'safe' })).toMatch(/^at safe: /);
});

it('says of a dark head that is on its way to somebody that it turns to them', () => {
  const turned = (more: object) => ({
    engine: {
      ...live,
      fixtures: live.fixtures.map((one, i) =>
        stage.fixtures[i]?.name === 'head-right' ? { ...one, ...more } : one,
      ),
    },
  });
  expect(words('head-right', turned({ dark: 'not asked for', behindDeg: 40 }))).toBe(
    'dark: turning to Ines',
  );
  expect(words('head-right', turned({ dark: 'turns', darkFor: 'tobias' }))).toBe(
    'dark: turning to Tobias',
  );
  expect(words('head-right', turned({ dark: 'not asked for', behindDeg: 0.1 }))).toBe(
    'dark: nothing asks for it',
  );
});
