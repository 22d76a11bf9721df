import { describe, expect, it } from 'vitest';
import { parseMarkers } from '../../src/calibration/markers.js';
import type { NetworkFacts } from '../../src/readiness/facts.js';
import { createFeedRecord, noteReport } from '../../src/readiness/feed.js';
import { checkFrame, checkRest } from '../../src/readiness/frame-checks.js';
import { checkMachine, type MachineFacts } from '../../src/readiness/machine-checks.js';
import { preflight } from '../../src/readiness/preflight.js';
import { preflightPage } from '../../src/readiness/preflight-page.js';
import { checkFixtures } from '../../src/readiness/show-checks.js';
import type { SourceBook } from '../../src/readiness/sources.js';
import { seededNormal } from '../../src/rehearsal/sensors/random.js';
import { showOf } from '../show/show-of.js';
import { changed, PAIR } from './shows.js';

const show = showOf(PAIR);
const MACHINE: MachineFacts = {
  node: '20.19.0',
  folder: '/show',
  freeBytes: 50e9,
  synchronised: true,
  clockGainS: 0.001,
  watchedS: 60,
  load: 0.3,
  cores: 2,
  freeMemoryBytes: 4e9,
};

/** Trackers that stand at places of the tracking frame, with 4 cm of noise. */
function heard(places: Readonly<Record<string, readonly [number, number, number]>>): NetworkFacts {
  const normal = seededNormal(2);
  const record = createFeedRecord();
  for (let i = 0; i < 300; i++) {
    for (const [tracker, [x, y, z]] of Object.entries(places)) {
      const noisy = (value: number) => value + 0.04 * normal();
      noteReport(record, {
        tracker,
        timeS: i / 30,
        x: noisy(x),
        y: noisy(y),
        z: noisy(z),
        quality: 1,
      });
    }
  }
  return {
    seconds: 10,
    interfaces: [
      { name: 'lo', address: '127.0.0.1', netmask: '255.0.0.0', loopback: true, carrier: true, multicast: false },
    ], // biome-ignore format: one line
    routes: [],
    sources: new Map(),
    nodes: [],
    polled: [],
    feeds: [{ input: 'tracking', problem: undefined, datagrams: 600, rejected: 0, record }],
    deaf: [],
  };
}

function markers(text: string) {
  const parsed = parseMarkers(text);
  if (!parsed.ok) throw new Error(parsed.faults.join('\n'));
  return parsed.value;
}

describe('the stage frame', () => {
  const MARKS = markers('name,x,y,z,use,tracker\ncheck,5,4,0.05,check,21\n');

  it.each([
    [[5, 4, 0.05], 'pass'],
    [[5.2, 4, 0.05], 'warn'],
    [[5.5, 4, 0.05], 'fail'],
  ] as const)('with the tracker of the check marker at %j: %s', (at, state) => {
    expect(checkFrame(show, heard({ 21: at }), MARKS)).toMatchObject([{ name: 'check', state }]);
  });

  it('takes the frame of the input into account', () => {
    const turned = showOf(changed('port: 9010,', 'port: 9010, origin: [10, 8, 0], turn: 180,'));
    expect(checkFrame(turned, heard({ 21: [5, 4, 0.05] }), MARKS)[0]?.state).toBe('pass');
    expect(checkFrame(turned, heard({ 21: [4, 3, 0.05] }), MARKS)[0]?.state).toBe('fail');
  });

  it('is a warning where nothing stands on a marker, and a fail where it is silent', () => {
    const facts = heard({ 1: [2, 2, 1] });
    expect(checkFrame(show, facts, undefined)[0]?.state).toBe('warn');
    expect(checkFrame(show, facts, markers('name,x,y,z\na,1,1,0\n'))[0]?.state).toBe('warn');
    expect(checkFrame(show, facts, MARKS)[0]).toMatchObject({ state: 'fail' });
  });
});

describe('trackers at rest', () => {
  it('are compared with what the show declares', () => {
    const facts = heard({ 1: [2, 2, 1.5], 2: [7, 5, 1.5] });
    expect(checkRest(show, facts).map(one => one.state)).toEqual(['pass', 'pass']);
    const clean = showOf(`${PAIR}tracking: { noise: 0.01 }\n`);
    expect(checkRest(clean, facts).map(one => one.state)).toEqual(['warn', 'warn']);
  });
});

describe('fixtures', () => {
  it('that aim need a day of calibration', () => {
    expect(checkFixtures(show)[0]).toMatchObject({ state: 'warn' });
    const done = changed('position: [5, 1, 5]', 'position: [5, 1, 5], calibrated: 2026-11-20');
    expect(checkFixtures(showOf(done))[0]?.found).toContain('on 2026-11-20');
    const none = changed(
      '  - { follow: tobias, fixtures: [head], set: { Dimmer: 70 } }\n',
      '',
    ).replace(/\n {2}head: .*/, '');
    expect(checkFixtures(showOf(none))[0]?.state).toBe('pass');
  });
});

describe('this machine', () => {
  const stateOf = (name: string, more: Partial<MachineFacts>) =>
    checkMachine({ ...MACHINE, ...more }).find(one => one.name === name)?.state;

  it('passes when all is well', () => {
    expect(checkMachine(MACHINE).every(one => one.state === 'pass')).toBe(true);
  });

  it.each([
    ['disk', { freeBytes: 1e9 }, 'warn'],
    ['disk', { freeBytes: 1e8 }, 'fail'],
    ['disk', { freeBytes: undefined }, 'warn'],
    ['time of day', { synchronised: false }, 'warn'],
    ['time of day', { synchronised: undefined }, 'unknown'],
    ['clocks', { clockGainS: -3600 }, 'warn'],
    ['load', { load: 5 }, 'warn'],
    ['memory', { freeMemoryBytes: 1e8 }, 'warn'],
  ] as const)('%s with %j is %s', (name, more, state) => expect(stateOf(name, more)).toBe(state));
});

describe('the whole walk', () => {
  const source = {
    file: 'pair.show.yaml',
    networks: heard({ 1: [2, 2, 1.5], 2: [7, 5, 1.5] }),
    machine: MACHINE,
    our: {
      addresses: ['127.0.0.1'],
      name: 'us',
      standbyName: 'the standby',
      mayBeStandby: (name: string) => name.startsWith('the standby of'),
    },
    live: undefined,
    recorded: undefined,
    markers: undefined,
    surveys: undefined,
  };

  it('has a word on each thing, and says what to do about what is not well', () => {
    const checks = preflight(show, source);
    expect(new Set(checks.map(one => one.area))).toEqual(
      new Set([
        'show', 'networks', 'universes', 'sources', 'feed', 'frame', 'places', 'fixtures', 'watchdog', 'hazards',
        'machine',
      ]), // biome-ignore format: a list
    );
    for (const { act, state } of checks) {
      expect(act === '').toBe(state === 'pass' || state === 'unknown');
    }
  });

  it('finds the second machine also where its show has another name', () => {
    const sources: SourceBook = new Map();
    const onWire = show.outputs[0]?.universes[0]?.onWire ?? 0;
    const from = { protocol: 'sacn', identity: 'a', address: '10.2.0.9' } as const;
    const universes = new Map([[onWire, 99]]);
    const announced = new Set<number>();
    sources.set('a', { ...from, name: 'the standby of old', universes, announced });
    const networks = { ...source.networks, sources };
    const checks = preflight(show, { ...source, networks });
    const found = checks.find(({ area, name }) => area === 'machine' && name === 'standby')?.found;
    expect(found).toContain('sends from 10.2.0.9, as "the standby of old"');
  });

  it('makes a page that needs nothing else, and takes no markup from names', () => {
    const checks = preflight(show, source);
    const page = preflightPage('The <b>Salt</b> Lantern', '2026-11-25 18:30:00', checks);
    expect(page).toContain('The &lt;b&gt;Salt&lt;/b&gt; Lantern');
    expect(page).toContain('2026-11-25 18:30:00');
    expect(page).toContain('stage manager');
    expect(page).not.toMatch(/<script|<link|src=|href=/);
    for (const { found } of checks.slice(0, 3)) expect(page).toContain(found.slice(0, 20));
  });
});
