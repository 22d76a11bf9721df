import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { checkDoctor, type DoctorFacts } from '../../src/readiness/doctor.js';
import { directivesOf, unitLacks } from '../../src/readiness/unit.js';
import { showOf } from '../show/show-of.js';
import { PAIR } from './shows.js';

const SHIPPED = readFileSync('systemd/lampwright@.service', 'utf8');
const unit = (text = SHIPPED, enabled = ['lampwright@main.service']) => ({
  path: '/etc/systemd/system/lampwright@.service',
  shippedPath: '/usr/lib/lampwright/systemd/lampwright@.service',
  directives: directivesOf(text),
  shipped: directivesOf(SHIPPED),
  enabled,
});
const LO = {
  name: 'lo',
  address: '127.0.0.1',
  netmask: '255.0.0.0',
  loopback: true,
  carrier: undefined,
  multicast: undefined,
};
const WELL: DoctorFacts = {
  machine: {
    node: '20.19.0',
    folder: '.',
    freeBytes: 1e11,
    synchronised: true,
    clockGainS: 0,
    watchedS: 1,
    load: 0.1,
    cores: 4,
    freeMemoryBytes: 8e9,
  },
  leastNode: '20.19',
  totalMemoryBytes: 16 * 2 ** 30,
  mostOpenFiles: 1024,
  interfaces: [
    LO,
    { ...LO, name: 'eth0', address: '10.1.0.5', loopback: false, carrier: true, multicast: true },
  ],
  routes: [],
  ports: [{ input: 'tracking', at: '127.0.0.1:9010', fault: undefined, holder: undefined }],
  groups: [{ interface: 'eth0', fault: undefined }],
  receiveBuffer: { askedBytes: 2 ** 20, gotBytes: 2 ** 20 },
  clockSource: 'tsc',
  governors: ['performance'],
  mayRaisePriority: false,
  realtime: undefined,
  folders: [{ option: 'record', path: 'recordings', fault: undefined }],
  others: [],
  unit: unit(),
};
const found = (facts: Partial<DoctorFacts>, show = false) =>
  checkDoctor(show ? showOf(PAIR) : undefined, { ...WELL, ...facts });

describe('a machine', () => {
  it('has as many open files as the unit says, where there is one that says it', () => {
    const shipped = `${SHIPPED}\nLimitNOFILE=`;
    const stateWith = (limit: string) =>
      found({ mostOpenFiles: 40, unit: unit(`${shipped}${limit}`) }).find(
        ({ name }) => name === 'open files',
      )?.state;
    expect(['4096', '1024:4096', '256', '50', 'infinity'].map(stateWith)).toEqual([
      'pass',
      'pass',
      'warn',
      'fail',
      'fail',
    ]);
  });

  it('that is well has nothing to look at', () => {
    expect(found({}).filter(({ state }) => state !== 'pass')).toEqual([]);
  });

  it.each<[string, Partial<DoctorFacts>, string, string]>([
    ['an old Node', { machine: { ...WELL.machine, node: '18.20.4' } }, 'Node', 'fail'],
    ['an old minor version', { machine: { ...WELL.machine, node: '20.9.0' } }, 'Node', 'fail'],
    ['a newer Node', { machine: { ...WELL.machine, node: '24.0.0' } }, 'Node', 'pass'],
    [
      'no time server',
      { machine: { ...WELL.machine, synchronised: false } },
      'time of day',
      'warn',
    ],
    ['little memory', { totalMemoryBytes: 2 ** 30 }, 'memory in all', 'warn'],
    ['few open files', { mostOpenFiles: 256, unit: undefined }, 'open files', 'warn'],
    ['hardly any open files', { mostOpenFiles: 40, unit: undefined }, 'open files', 'fail'],
    ['a slow clock', { clockSource: 'hpet' }, 'clock source', 'warn'],
    ['a clock that is not shown', { clockSource: undefined }, 'clock source', 'unknown'],
    [
      'a governor that saves',
      { governors: ['powersave', 'performance'] },
      'processor clock',
      'warn',
    ],
    ['no governor', { governors: undefined }, 'processor clock', 'unknown'],
    ['a real-time policy', { realtime: 'SCHED_FIFO' }, 'priority', 'fail'],
    ['no priority', { unit: undefined }, 'priority', 'warn'],
    ['a priority by hand', { unit: undefined, mayRaisePriority: true }, 'priority', 'pass'],
    [
      'a small buffer',
      { receiveBuffer: { askedBytes: 2 ** 20, gotBytes: 212_992 } },
      'receive buffer',
      'warn',
    ],
    ['a folder', { folders: [{ option: 'record', path: 'r', fault: 'no' }] }, '--record', 'fail'],
    [
      'a cable',
      { interfaces: [{ ...LO, name: 'eth1', loopback: false, carrier: false }] },
      'eth1',
      'warn',
    ],
    ['no multicast', { groups: [{ interface: 'eth0', fault: 'no' }] }, 'multicast on eth0', 'warn'],
    [
      'another daemon',
      { others: [{ pid: 7, holds: ['sacn/1/lo'] }] },
      'another lampwright',
      'warn',
    ],
    ['no service', { unit: undefined }, 'unit', 'warn'],
    ['no show enabled', { unit: unit(SHIPPED, []) }, 'start with the machine', 'warn'],
  ])('with %s', (_, facts, name, state) => {
    const [check, more] = found(facts).filter(one => one.name === name);
    expect(more).toBeUndefined();
    expect(check?.state).toBe(state);
    // Whoever has something to do is told what.
    expect(check?.act === '').toBe(state === 'pass' || state === 'unknown');
  });

  it("tells a port of the show that runs from another program's", () => {
    const port = { input: 'tracking', at: '127.0.0.1:9010', fault: 'taken.' };
    const state = (holder: DoctorFacts['ports'][number]['holder']) =>
      found({ ports: [{ ...port, holder }], others: [{ pid: 7, holds: ['sacn/1/lo'] }] }).find(
        ({ name }) => name === 'port of tracking',
      )?.state;
    expect(state({ pid: 8, parent: 7 })).toBe('pass');
    expect(state({ pid: 8, parent: 1 })).toBe('fail');
    // Only root sees whose process it is.
    expect(state(undefined)).toBe('unknown');
    const alone = found({ ports: [{ ...port, holder: undefined }] });
    expect(alone.find(({ name }) => name === 'port of tracking')?.state).toBe('fail');
  });

  it('says in plain words what another lampwright has', () => {
    const holds = ['state/65024:12', 'sacn/1/lo', 'artnet/17/eth0'];
    const check = found({ others: [{ pid: 7, holds }] }).find(
      ({ name }) => name === 'another lampwright',
    );
    expect(check?.found).toBe(
      'process 7 has a state folder, sACN universe 1 on lo and Art-Net Port-Address 17 on eth0.',
    );
  });

  it('passes a folder that will be made', () => {
    const folders = [{ option: 'record', path: 'new', fault: undefined, willBeMade: true }];
    const check = found({ folders }).find(({ name }) => name === '--record');
    expect(check).toMatchObject({ state: 'pass', found: 'new is not there yet: it will be made.' });
  });

  it('is held against the interfaces of a show', () => {
    const missing = found({ interfaces: [] }, true).filter(({ state }) => state === 'fail');
    expect(missing.map(({ name }) => name)).toEqual(['input tracking', 'output lamps']);
    expect(missing[0]?.found).toContain('it has no network interface that is up');
    const apart = found({ interfaces: [] }, true).find(({ name }) => name === 'two networks');
    expect(apart?.state).toBe('unknown');
  });
});

describe('the unit of a machine', () => {
  it('lacks what an older one has not, and has otherwise what somebody changed', () => {
    const older = SHIPPED.replace(/^CPUWeight=.*\n/m, '').replace('Nice=-10', 'Nice=-10\nNice=-5');
    expect(unitLacks(unit(older))).toEqual({
      lacks: ['CPUWeight=10000'],
      differs: ['Nice=-5 instead of -10'],
    });
    const checks = found({ unit: unit(older) });
    expect(checks.find(({ name }) => name === 'unit')?.found).toContain('lacks CPUWeight=10000');
  });
  it('is read as systemd does: comments, lines that go on, lists, and what takes them back', () => {
    const text =
      '# Nice=1\n; Nice=2\n[Service]\nEnvironment=A=1 \\\n  B=2\nEnvironment=C=3\nNice = 3\n';
    expect([...directivesOf(text)]).toEqual([
      ['Environment', 'A=1    B=2 C=3'],
      ['Nice', '3'],
    ]);
    expect(directivesOf('ExecStart=a\nExecStart=\nExecStart=b').get('ExecStart')).toBe('b');
  });
});
