import { describe, expect, it } from 'vitest';
import { createDataPacket } from '../../src/protocols/sacn/data-packet.js';
import { decodeSacn } from '../../src/protocols/sacn/decode.js';
import { encodeDiscovery } from '../../src/protocols/sacn/discovery.js';
import type { Check } from '../../src/readiness/check.js';
import type { InterfaceFact, NetworkFacts } from '../../src/readiness/facts.js';
import { createFeedRecord, noteName, noteReport, noteSystem } from '../../src/readiness/feed.js';
import { checkNetworks } from '../../src/readiness/networks.js';
import { numberTaker } from '../../src/readiness/numbers.js';
import { noteArtDmx, noteSacn, type SourceBook } from '../../src/readiness/sources.js';
import { showOf } from '../show/show-of.js';

const SHOW = `lampwright: 1
name: Two cables
stage: { x: [0, 6], y: [0, 4] }
inputs:
  tracking: { listen: 10.1.0.5, port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] }
performers:
  ines: { label: Ines, trackers: [1] }
fixtures:
  glow: { profile: dimmer, universe: 1, address: 1 }
outputs:
  lamps: { protocol: sacn, interface: eth1, universes: [1, 2], priority: 100 }
  heads: { protocol: artnet, interface: 10.2.0.5, to: [10.2.0.50], universes: [1], offset: 3 }
`;

const LO: InterfaceFact = {
  name: 'lo',
  address: '127.0.0.1',
  netmask: '255.0.0.0',
  loopback: true,
  carrier: undefined,
  multicast: undefined,
};
const eth = (name: string, address: string, more: Partial<InterfaceFact> = {}): InterfaceFact => ({
  name,
  address,
  netmask: '255.255.0.0',
  loopback: false,
  carrier: true,
  multicast: true,
  ...more,
});
const TWO = [LO, eth('eth0', '10.1.0.5'), eth('eth1', '10.2.0.5')];
const OUR = {
  addresses: ['10.1.0.5', '10.2.0.5'],
  name: 'us',
  standbyName: 'the standby',
  mayBeStandby: (name: string) => name.startsWith('the standby of'),
};

function facts(more: Partial<NetworkFacts> = {}): NetworkFacts {
  const record = createFeedRecord();
  for (let i = 0; i < 300; i++) {
    noteReport(record, { tracker: '1', timeS: i / 30, x: 1, y: 1, z: 1, quality: 1 });
  }
  return {
    seconds: 10,
    interfaces: TWO,
    routes: undefined,
    sources: new Map(),
    nodes: [{ ip: '10.2.0.50', name: 'node', outputs: [4] }],
    polled: ['10.2.0.5'],
    feeds: [{ input: 'tracking', problem: undefined, datagrams: 300, rejected: 0, record }],
    deaf: [],
    ...more,
  };
}

function checksOf(more: Partial<NetworkFacts> = {}, text = SHOW): readonly Check[] {
  return checkNetworks(showOf(text), facts(more), OUR);
}

/** State and words of the check of that name. */
function one(checks: readonly Check[], name: string): string {
  const found = checks.find(check => check.name === name);
  return found === undefined ? 'none' : `${found.state}: ${found.found}`;
}

describe('two networks as they should be', () => {
  it('pass, but for the universe that has no fixture', () => {
    const checks = checksOf();
    expect(checks.filter(check => check.state !== 'pass').map(check => check.name)).toEqual([
      'output lamps',
    ]);
    expect(one(checks, 'two networks')).toMatch(/^pass/);
    for (const check of checks) {
      expect(check.found.length).toBeGreaterThan(0);
      expect(check.act === '').toBe(check.state === 'pass');
    }
  });
});

describe('a feed', () => {
  /** 30 a second for 10 s; every twentieth is missing, and it ends `silentS` before the end. */
  function gappy(silentS: number) {
    const record = createFeedRecord();
    for (let i = 0; i < 300; i++) {
      if (i % 20 !== 10)
        noteReport(record, { tracker: '1', timeS: i / 30, x: 1, y: 1, z: 1, quality: 1 });
    }
    record.endedS = 10 + silentS;
    return [{ input: 'tracking', problem: undefined, datagrams: 285, rejected: 0, record }];
  }
  const [performer] = showOf(SHOW).performers;
  const name = `${performer?.label}, tracker 1`;

  it('that is simulated on this machine says nothing of the network of the venue', () => {
    expect(one(checksOf({ feeds: gappy(0) }), name)).toMatch(/^warn: .* 5\.\d % lost/);
    const simulated = one(checksOf({ feeds: gappy(0), simulated: true }), name);
    expect(simulated).toMatch(
      /^pass: simulated, 30\.0 a second, 5\.\d % of its reports left out, as the simulated radio does: nothing of the venue's network\.$/,
    );
  });

  it('of somebody who has left the stage by an exit is no fault', () => {
    expect(one(checksOf({ feeds: gappy(8) }), name)).toMatch(/^fail: silent for the last 8 s/);
    const offStage = [performer?.name ?? ''];
    expect(one(checksOf({ feeds: gappy(8), offStage }), name)).toBe(
      'pass: off stage: silent for 8 s, after the exit.',
    );
  });
});

describe('interfaces', () => {
  it('that are missing fail, with those that are there', () => {
    const text = one(checksOf({ interfaces: TWO.slice(0, 2) }), 'output heads');
    expect(text).toContain('fail: this machine has no interface 10.2.0.5; it has lo (127.0.0.1)');
  });

  it('without a link fail', () => {
    const interfaces = [LO, TWO[1] ?? LO, eth('eth1', '10.2.0.5', { carrier: false })];
    expect(one(checksOf({ interfaces }), 'output heads')).toMatch(/^fail: .*no link/);
  });

  it('in ranges that overlap fail; where the show uses only one of them it is a warning', () => {
    const wide = { netmask: '255.0.0.0' };
    const both = [LO, eth('eth0', '10.1.0.5', wide), eth('eth1', '10.2.0.5', wide)];
    expect(one(checksOf({ interfaces: both }), 'address ranges')).toMatch(/^fail: overlap: eth0/);
    const third = [...TWO, eth('wlan0', '10.2.0.9')];
    expect(one(checksOf({ interfaces: third }), 'address ranges')).toMatch(/^warn/);
  });

  it('shared by tracking and light are a warning, and so is listening to all', () => {
    const shared = SHOW.replace('listen: 10.1.0.5', 'listen: 10.2.0.5');
    expect(one(checksOf({}, shared), 'two networks')).toBe('warn: tracking and light share eth1.');
    const desk = `${SHOW}operator: { listen: 10.2.0.5, port: 9011, allow: [10.2.0.9] }\n`;
    expect(one(checksOf({}, desk), 'two networks')).toMatch(/^pass/);
    const any = SHOW.replace('listen: 10.1.0.5', 'listen: 0.0.0.0');
    expect(one(checksOf({}, any), 'input tracking')).toMatch(/^warn: listens on every interface/);
    expect(one(checksOf({}, any), 'two networks')).toMatch(/^unknown: .*from anybody/);
  });

  it('of a show that listens to all of them are no warning where it says who may send', () => {
    const listening = (allow: string, more = '') =>
      SHOW.replace('listen: 10.1.0.5', `listen: 0.0.0.0, allow: [${allow}]`) + more;
    // As the guide for two machines has it.
    const pair = `operator: { listen: 0.0.0.0, port: 9011, allow: [10.1.0.5, 10.1.0.6], standby: 10.1.0.6, main: 10.1.0.5 }\n`;
    const checks = checksOf({}, listening('10.1.0.9', pair));
    expect(one(checks, 'input tracking')).toBe(
      'pass: listens on every interface, and takes only what comes from 10.1.0.9.',
    );
    expect(one(checks, 'input operator')).toMatch(/^pass: .*from 10.1.0.5 and 10.1.0.6\.$/);
    // By who may send it is known by which interface positions come.
    expect(one(checks, 'two networks')).toMatch(/^pass/);
    expect(one(checksOf({}, listening('10.2.0.9')), 'two networks')).toBe(
      'warn: tracking and light share eth1.',
    );
    expect(one(checksOf({}, listening('0.0.0.0/0')), 'input tracking')).toMatch(/^warn/);
  });

  it('of a pair are not to be named by the address of one machine', () => {
    const any = SHOW.replace('listen: 10.1.0.5', 'listen: 0.0.0.0');
    const actOf = (text: string) =>
      checksOf({}, text).find(({ name }) => name === 'input tracking')?.act;
    expect(actOf(any)).toMatch(/^Set `allow` .*, `listen` to the address/);
    const pair = `${any}operator: { listen: 0.0.0.0, port: 9011, allow: [10.1.0.6], standby: 10.1.0.6 }\n`;
    expect(actOf(pair)).toMatch(/^Set `allow` .*`listen` stays as it is\.$/);
  });

  it('that do not reach the receivers are a warning', () => {
    const text = SHOW.replace('to: [10.2.0.50]', 'to: [10.3.0.50]');
    expect(one(checksOf({}, text), 'output heads to')).toMatch(/^warn: 10.3.0.50 is not on/);
  });

  it('that are there, but down, are called so', () => {
    const facts = { interfaces: TWO.slice(0, 2), down: ['10.2.0.5'] };
    expect(one(checksOf(facts), 'output heads')).toContain(
      'fail: interface 10.2.0.5 is there, but down.',
    );
  });

  it('carry multicast or not, and the routes of other programs are told', () => {
    const without = [LO, TWO[1] ?? LO, eth('eth1', '10.2.0.5', { multicast: false })];
    expect(one(checksOf({ interfaces: without }), 'output lamps multicast')).toMatch(/^warn/);
    const routes = [{ interface: 'eth0', address: 0, mask: 0, gateway: 1, metric: 0 }];
    expect(one(checksOf({ routes }), 'output lamps multicast')).toContain('by eth0');
    expect(one(checksOf({ routes: [] }), 'output lamps multicast')).toContain(
      'no interface at all',
    );
  });
});

describe('other senders', () => {
  function book(
    priority: number,
    name = 'desk',
    cid = 7,
    universe = 1,
    from = '10.2.0.7',
  ): SourceBook {
    const sources: SourceBook = new Map();
    const packet = createDataPacket({
      cid: new Uint8Array(16).fill(cid),
      sourceName: name,
      universe,
      priority,
    });
    const decoded = decodeSacn(packet.buffer);
    if (decoded.kind !== 'data') throw new Error('no data packet');
    noteSacn(sources, decoded, from);
    return sources;
  }

  it.each([
    [150, 'fail: sends universe 1 from 10.2.0.7 at priority 150, we at 100: receivers take it'],
    [100, 'warn: sends universe 1 from 10.2.0.7 at priority 100, we at 100: most receivers merge'],
    [50, 'pass: sends universe 1 from 10.2.0.7 at priority 50, we at 100: it is heard only when'],
  ])('at priority %d', (priority, says) => {
    expect(one(checksOf({ sources: book(priority) }), 'desk')).toContain(says);
  });

  it('are known as ourselves, and as our standby', () => {
    const us = book(100, 'us', 7, 1, '10.2.0.5');
    expect(one(checksOf({ sources: us }), 'us')).toMatch(/^pass: this show/);
    // Another machine with a show of that name is another source.
    expect(one(checksOf({ sources: book(100, 'us') }), 'us')).toMatch(/^warn: sends universe 1/);
    expect(one(checksOf({ sources: book(99, 'the standby') }), 'the standby')).toMatch(/^pass/);
    expect(one(checksOf({ sources: book(100, 'the standby') }), 'the standby')).toMatch(
      /^fail: .* which is not below our 100/,
    );
    // Its show was renamed, or ours: it is the standby all the same, and the shows differ.
    const renamed = 'the standby of old';
    expect(one(checksOf({ sources: book(99, renamed) }), renamed)).toMatch(
      /^warn: the standby at .* runs a show of another name/,
    );
    expect(one(checksOf({ sources: book(100, renamed) }), renamed)).toMatch(/^fail/);
  });

  it('on other universes are told of, and do no harm', () => {
    const text = one(checksOf({ sources: book(150, 'desk', 7, 9) }), 'our universes');
    expect(text).toMatch(/^pass: nobody else .* On other universes: desk \(10.2.0.7\)/);
  });

  it('that only say that they send are a warning', () => {
    const sources: SourceBook = new Map();
    const source = { cid: new Uint8Array(16).fill(8), sourceName: 'visitor' };
    const [page] = encodeDiscovery(source, [2]);
    const packet = decodeSacn(page ?? Buffer.alloc(0));
    if (packet.kind !== 'discovery') throw new Error('no discovery');
    noteSacn(sources, packet, '10.2.0.8');
    expect(one(checksOf({ sources }), 'visitor')).toMatch(/^warn: says that it sends universe 2/);
  });

  it('of Art-Net fail, unless it is this machine or the other one of a pair', () => {
    const sent = (from: string) => {
      const sources: SourceBook = new Map();
      noteArtDmx(sources, 4, from);
      return one(checksOf({ sources }), from);
    };
    expect(sent('10.2.0.9')).toMatch(/^fail: sends Art-Net universe 4/);
    expect(sent('10.2.0.5')).toMatch(/^warn: this machine itself/);
    expect(sent('10.2.0.50')).toMatch(/^pass: the other machine of the pair, at /);
  });
});

describe('nodes', () => {
  it('that do not answer, or put out something else, are a warning', () => {
    expect(one(checksOf({ nodes: [] }), 'node 10.2.0.50')).toMatch(/^warn: does not answer/);
    const nodes = [
      { ip: '10.2.0.50', name: 'node', outputs: [0, 1] },
      { ip: '10.2.0.51', name: 'stranger', outputs: [] },
      { ip: '10.2.0.52', name: 'spare', outputs: [3, 4] },
    ];
    const checks = checksOf({ nodes });
    expect(one(checks, 'node 10.2.0.50')).toMatch(
      /^warn: node does not put out Port-Address 4, .* it puts out 0 and 1/,
    );
    expect(one(checks, 'others')).toBe(
      'pass: stranger (10.2.0.51) answers too, outputs none of our universes, and gets nothing from us; spare (10.2.0.52) answers too, and gets Port-Address 4 from us, as it puts that out.',
    );
  });
});

describe('the feed', () => {
  const feed = (more: Partial<NetworkFacts['feeds'][number]>) => ({
    feeds: [
      {
        input: 'tracking',
        problem: undefined,
        datagrams: 0,
        rejected: 0,
        record: createFeedRecord(),
        ...more,
      },
    ],
  });
  const recordOf = (timesS: readonly number[], tracker = '1') => {
    const record = createFeedRecord();
    for (const timeS of timesS) {
      noteReport(record, { tracker, timeS, x: 0, y: 0, z: 0, quality: undefined });
    }
    return record;
  };
  const beats = (count: number, everyS: number) =>
    Array.from({ length: count }, (_, i) => i * everyS);

  it('that is not there fails, and says what to look at', () => {
    expect(one(checksOf(feed({})), 'input tracking')).toMatch(/^pass/); // its interface
    const checks = checksOf(feed({})).filter(check => check.area === 'feed');
    expect(one(checks, 'input tracking')).toMatch(/^fail: nothing at all arrived/);
    expect(one(checks, 'Ines, tracker 1')).toMatch(/^fail: not heard/);
  });

  it('tells the charge of a tracker where the feed does', () => {
    const record = recordOf(beats(60, 0.05));
    const name = 'Ines, tracker 1';
    const charge = (battery: number) => {
      noteReport(record, { tracker: '1', timeS: 3, x: 0, y: 0, z: 0, quality: 1, battery });
      return checksOf(feed({ datagrams: 61, record })).findLast(check => check.name === name);
    };
    expect(charge(0.29)).toMatchObject({ state: 'warn', found: '29 % of its charge left.' });
    expect(charge(0.31)).toMatchObject({ state: 'pass', found: '31 % of its charge left.' });
  });

  it('tells of a charge that is none, and does not take it for one', () => {
    const record = recordOf(beats(60, 0.05));
    const report = { tracker: '1', timeS: 3, x: 0, y: 0, z: 0, quality: 1 };
    noteReport(record, { ...report, battery: 1 });
    noteReport(record, { ...report, batteryOutside: 95 });
    const found = checksOf(feed({ datagrams: 61, record })).findLast(
      check => check.name === 'Ines, tracker 1',
    );
    expect(found).toMatchObject({
      state: 'warn',
      found: 'battery 95 is outside 0 to 1: is it per cent?',
    });
  });

  it('says of each spare whether it is heard, and what charge it has', () => {
    const record = recordOf(beats(60, 0.05));
    noteReport(record, { tracker: '9', timeS: 3, x: 0, y: 0, z: 0, quality: 1, battery: 0.05 });
    noteReport(record, { tracker: '8', timeS: 3, x: 0, y: 0, z: 0, quality: 1, battery: 0.9 });
    noteReport(record, { tracker: '7', timeS: 3, x: 0, y: 0, z: 0, quality: 1 });
    const withSpares = SHOW.replace('fixtures:', 'spares: [6, 7, 8, 9]\nfixtures:');
    const checks = checksOf(feed({ datagrams: 64, record }), withSpares);
    expect(one(checks, 'spare 9')).toBe('warn: heard, 5 % of its charge left.');
    expect(one(checks, 'spare 8')).toBe('pass: heard, 90 % of its charge left.');
    expect(one(checks, 'spare 7')).toBe('pass: heard.');
    expect(one(checks, 'spare 6')).toBe('warn: not heard in 10 s.');
  });

  it('has numbers of signals, which are no strangers: heard, not heard, silent for too long, of another kind', () => {
    const text = `${SHOW}signals:
  all: { greatest: [wind, rain, gust] }
  wind: { osc: { address: /wind, argument: 2 }, range: [0, 1] }
  rain: { osc: { address: /rain }, range: [0, 1] }
  gust: { osc: { address: /gust, timeout: never }, range: [0, 1] }
mappings:
  - { by: all, fixtures: [glow], set: { Dimmer: 50 } }
`;
    const show = showOf(text);
    const record = recordOf(beats(300, 1 / 30));
    const input = show.inputs.findIndex(({ name }) => name === 'tracking');
    const take = numberTaker(show, input, record);
    const arg = (value: number) => ({ type: 'f' as const, value });
    for (let i = 0; i < 50; i++) expect(take('/wind', [arg(0), arg(i / 100)], i / 5)).toBe(true);
    expect(take('/gust', [{ type: 'T', value: true }], 1)).toBe(true);
    expect(take('/tracker/1/position', [arg(1)], 1)).toBe(false);
    record.endedS = 10;
    const found = (name: string) =>
      one(checksOf(feed({ datagrams: 350, record }), text), `signal ${name}`);
    expect(found('wind')).toBe('pass: 5 a second, 0.49 at the end.');
    expect(found('rain')).toMatch(/^warn: nothing came at \/rain in 10 s: until it does,/);
    expect(found('gust')).toBe('pass: heard once, 1 at the end.');
    record.endedS = 13;
    expect(found('wind')).toMatch(/It was silent for 3\.2 s, longer than its `timeout` \(2 s\)/);
    take('/rain', [{ type: 's', value: 'much' }], 3);
    expect(found('rain')).toBe('warn: 1 of 1 messages at /rain had no number as argument 1.');
  });

  it('that is no position by the routes fails, and so does a port that is taken', () => {
    const wrong = checksOf(feed({ datagrams: 9, rejected: 9 })).filter(c => c.area === 'feed');
    expect(one(wrong, 'input tracking')).toMatch(
      /^fail: 9 datagrams, but none that a route reads as a position/,
    );
    const taken = checksOf(feed({ problem: 'another program listens there.' }));
    expect(taken.filter(check => check.area === 'feed')).toHaveLength(1);
    expect(taken.find(check => check.area === 'feed')?.act).toContain(
      'lampwright tell STATE_DIR status',
    );
  });

  it.each([
    ['a third lost', beats(300, 1 / 30).filter((_, i) => i % 3 !== 1 || i > 200), /^fail: .* % lost/],
    ['a gap longer than the watchdog waits', [...beats(300, 1 / 30), 11, 11.03], /^warn: .* light would have gone/],
    ['slow', beats(40, 0.4), /^warn: 2.5 a second/],
    ['few', beats(4, 0.1), /^warn: only 4 reports/],
    ['in bunches', beats(100, 0.1).flatMap(t => [t, t + 0.001, t + 0.002]), /^warn.* come in bunches/],
  ])('%s', (_, timesS, says) => {
    const checks = checksOf(feed({ datagrams: 1, record: recordOf(timesS) }));
    expect(one(checks, 'Ines, tracker 1')).toMatch(says);
  }); // biome-ignore format: a table

  it('of a pair is judged with the other one: light goes on while one of them is heard', () => {
    const pair = showOf(SHOW.replace('trackers: [1]', 'trackers: [1, 2]'));
    const record = createFeedRecord();
    const put = (tracker: string, timesS: readonly number[]) => {
      for (const timeS of timesS)
        noteReport(record, { tracker, timeS, x: 0, y: 0, z: 0, quality: 1 });
    };
    const rowOf = (tracker: string) =>
      checkNetworks(pair, facts(feed({ datagrams: 1, record })), OUR, []).find(
        ({ name }) => name === `Ines, tracker ${tracker}`,
      );
    put('2', beats(400, 1 / 30));
    expect(rowOf('1')).toMatchObject({
      state: 'fail',
      found: 'not heard in 10 s. Light would follow tracker 2 alone.',
    });
    put('1', [...beats(300, 1 / 30), 11, 11.03]);
    expect(rowOf('1')?.state).toBe('warn');
    expect(rowOf('1')?.found).toContain(
      'Tracker 2 was heard in the meantime, so the light would have gone on.',
    );
    expect(rowOf('1')?.found).not.toContain('gone to safe');
  });

  it('of a tracker that dies while it is listened to fails, and says since when', () => {
    const pair = SHOW.replace('trackers: [1]', 'trackers: [1, 2]').replace(
      'fixtures:',
      'spares: [9]\nfixtures:',
    );
    const record = createFeedRecord();
    const put = (tracker: string, untilS: number) => {
      for (const timeS of beats(untilS * 30, 1 / 30))
        noteReport(record, { tracker, timeS, x: 0, y: 0, z: 0, quality: 1 });
    };
    put('1', 29);
    put('2', 49);
    put('9', 10);
    record.endedS = 50;
    const checks = checksOf(feed({ datagrams: 1, record }), pair);
    expect(one(checks, 'Ines, tracker 1')).toBe(
      'fail: silent for the last 21 s, after 870 reports. Light would follow tracker 2 alone.',
    );
    expect(one(checks, 'Ines, tracker 2')).toMatch(/^pass: 30.0 a second/);
    expect(one(checks, 'spare 9')).toBe('warn: silent for the last 40 s.');
  });

  it('with strangers in it is a warning', () => {
    const checks = checksOf(feed({ datagrams: 1, record: recordOf(beats(100, 0.03), '77') }));
    expect(one(checks, 'unknown trackers')).toMatch(/^warn: 77 is heard/);
  });
});

describe('a feed by PosiStageNet', () => {
  const BY_PSN = SHOW.replace(
    /tracking: \{ listen.*$/m,
    'tracking: { protocol: psn, interface: eth0, axes: [x, z, y], stamps: required }',
  ).replace('performers:\n', 'performers:\n  tobias: { label: Tobias, trackers: [2] }\n');

  function feed(names: Record<string, string>, systems: readonly string[], isStamped = true) {
    const record = createFeedRecord();
    for (let i = 0; i < 600; i++) {
      const tracker = String(1 + (i % 2));
      noteReport(record, { tracker, timeS: i / 60, x: 1, y: 1, z: 1, quality: 1, isStamped });
    }
    for (const one of systems) noteSystem(record, one);
    for (const [tracker, name] of Object.entries(names)) noteName(record, tracker, name);
    const heard = { input: 'tracking', problem: undefined, datagrams: 600, rejected: 0, record };
    return checksOf({ feeds: [heard] }, BY_PSN);
  }

  it('comes to a group, and multicast may be switched off on its interface; so may universes of the desk', () => {
    const off = (name: string, address: string) => eth(name, address, { multicast: false });
    const interfaces = [LO, off('eth0', '10.1.0.5'), off('eth1', '10.2.0.5')];
    const desk = 'desk: { sea: { protocol: sacn, universe: 201, interface: eth1 } }\n';
    const checks = checksOf({ interfaces }, BY_PSN + desk);
    expect(one(checks, 'input tracking multicast')).toBe(
      'warn: multicast is switched off on eth0: the group 236.10.10.10 can be joined there, but its packets may never arrive.',
    );
    expect(one(checks, 'desk sea multicast')).toMatch(/^warn: .* on eth1: the group 239.255.0.201/);
    const byAddress = BY_PSN.replace('axes:', 'group: none, axes:');
    const { length } = checksOf({ interfaces }, byAddress).filter(({ name }) =>
      /input .* multicast/.test(name),
    );
    expect(length).toBe(0);
  });

  it('has the names of the show, or others', () => {
    const checks = feed({ 1: 'INES', 2: 'Belt 4' }, ['Hall']);
    expect(one(checks, 'Ines, tracker 1, name')).toBe(
      'pass: called "INES" by the tracking system too.',
    );
    expect(one(checks, 'Tobias, tracker 2, name')).toBe(
      'pass: called "Belt 4" by the tracking system.',
    );
    expect(one(checks, 'input tracking, systems')).toBe('none');
    expect(one(checks, 'input tracking, timestamps')).toBe('none');
  });

  it('has the name of somebody else: two trackers are exchanged', () => {
    const checks = feed({ 1: 'tobias', 2: 'Ines' }, ['Hall']);
    expect(one(checks, 'Ines, tracker 1, name')).toBe(
      'warn: called "tobias" by the tracking system, and in the show Ines wears it.',
    );
    expect(one(checks, 'Tobias, tracker 2, name')).toMatch(/^warn/);
  });

  it('of two systems, and without the timestamps that the show requires', () => {
    const checks = feed({}, ['Hall', 'Foyer'], false);
    expect(one(checks, 'input tracking, systems')).toMatch(/^warn: "Hall" and "Foyer" send there/);
    expect(one(checks, 'input tracking, timestamps')).toMatch(/^fail: .*none of them has/);
  });
});

describe('a desk', () => {
  const DESK = `${SHOW}desk:
  stage: { protocol: sacn, universe: 101, interface: eth1, ground: 1 }
  control: { protocol: artnet, universe: 7, interface: eth1 }
`;
  const heard = (...desks: readonly (readonly [name: string, priority: number])[]) => {
    const sources: SourceBook = new Map();
    desks.forEach(([sourceName, priority], i) => {
      const cid = new Uint8Array(16).fill(i + 1);
      const { buffer } = createDataPacket({ cid, sourceName, universe: 101, priority });
      const packet = decodeSacn(buffer);
      if (packet.kind === 'data') noteSacn(sources, packet, `10.2.0.${60 + i}`);
    });
    noteArtDmx(sources, 7, '10.2.0.60');
    return checksOf({ sources }, DESK);
  };

  it('is looked for on its interface, and is missed', () => {
    const checks = checksOf({}, DESK);
    expect(one(checks, 'desk stage')).toBe('pass: eth1, 10.2.0.5, network 10.2.0.0/16.');
    const missed = checks.filter(({ area, name }) => area === 'sources' && name.startsWith('desk'));
    expect(missed.map(({ state, found }) => `${state}: ${found}`)).toEqual([
      'warn: sACN universe 101 was not heard on eth1 in 10 s.',
      'warn: Art-Net universe 7 was not heard on eth1 in 10 s.',
    ]);
  });

  it.each([
    [[['main', 100]], 'pass: sACN universe 101 is heard from "main" at 10.2.0.60 (priority 100).'],
    [
      [
        ['main', 100],
        ['spare', 50],
      ],
      'pass: sACN universe 101 is heard from "main" at 10.2.0.60 (priority 100) and "spare" at 10.2.0.61 (priority 50). The highest priority counts.',
    ],
    [
      [
        ['main', 100],
        ['spare', 100],
      ],
      'warn: sACN universe 101 is heard from "main" at 10.2.0.60 (priority 100) and "spare" at 10.2.0.61 (priority 100). The highest level of each slot counts.',
    ],
    [[['us', 100]], 'warn: sACN universe 101 was not heard on eth1 in 10 s.'],
  ] as const)('is told of by who sends it: %j', (desks, text) => {
    const [found] = heard(...desks).filter(
      ({ area, name }) => area === 'sources' && name === 'desk stage',
    );
    expect(`${found?.state}: ${found?.found}`).toBe(text);
  });
});
