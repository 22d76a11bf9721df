import { createSocket, type Socket } from 'node:dgram';
import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { OrderRepeater, type Repeated } from '../../../src/daemon/operator/order-repeater.js';
import { DEFAULT_OSC_LIMITS, decodeDatagram } from '../../../src/protocols/osc/decode.js';
import { readOrder, type ToldPerformer } from '../../../src/protocols/osc/orders.js';
import { mappingTitle } from '../../../src/show/model/mapping-words.js';
import { Rig } from '../../engine/harness.js';
import { HOUSE } from '../../engine/shows.js';
import { configShow } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

let standby: Socket;
let heard: Buffer[];

const showFor = (port: number, more = '') =>
  `${configShow('minimal')}cues: { prologue: {}, storm: {} }\noperator: { port: ${port}${more} }\n`;

/** Nobody is stopped, and of nobody in particular is anything told. */
const TOLD = { to: 'standby', everybodyStopped: false, performers: [] } as const;

beforeEach(async () => {
  heard = [];
  standby = createSocket('udp4');
  standby.on('message', bytes => heard.push(bytes));
  await new Promise<void>(resolve => standby.bind(0, '127.0.0.1', resolve));
});
afterEach(() => {
  standby.close();
});

it('tells the standby which cue is on, as an order that its engine takes, and that is no sign of a desk', async () => {
  const { port } = standby.address();
  const show = showOf(showFor(port, ', standby: 127.0.0.1'));
  let said: Repeated | undefined;
  // Real packets on a clock that the test moves on.
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
  const repeater = new OrderRepeater(() => said);
  vi.advanceTimersByTime(3000);
  said = { ...TOLD, show, live: { cue: 1, pins: {}, mappingsOff: [] } };
  vi.advanceTimersByTime(1000);
  await vi.waitFor(() => expect(heard).toHaveLength(3));
  repeater.close();
  vi.useRealTimers();

  const rig = new Rig(showFor(port, ', desk: reported'));
  rig.run(8);
  expect(rig.view.deskLost).toBe(true);
  for (const bytes of heard) rig.receive(bytes, rig.nowS, 1, '10.0.0.11');
  rig.tick();
  expect(rig.view.cue?.name).toBe('storm');
  expect(rig.view.deskLost).toBe(true);

  // A cue that only the standby is told holds until the main machine tells it again.
  rig.order({ kind: 'cue', to: 'back', cause: 'command' });
  rig.tick();
  expect(rig.view.cue?.name).not.toBe('storm');
  for (const bytes of heard) rig.receive(bytes, rig.nowS, 1, '10.0.0.11');
  rig.tick();
  expect(rig.view.cue?.name).toBe('storm');
});

it('tells the standby which heads are pinned to whom; what it has beside that is let go', async () => {
  const { port } = standby.address();
  const text = (more = '') =>
    `${configShow('low-water').replace('port: 9011, allow: [127.0.0.1]', `port: ${port}, allow: [127.0.0.1]${more}`)}`;
  const said: Repeated = {
    show: showOf(text(', standby: 127.0.0.1')),
    ...TOLD,
    live: { cue: 0, pins: { 'front-2': 'noor', 'front-4': 'wen' }, mappingsOff: [] },
  };
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
  const repeater = new OrderRepeater(() => said);
  vi.advanceTimersByTime(1000);
  await vi.waitFor(() => expect(heard).toHaveLength(4));
  repeater.close();
  vi.useRealTimers();

  const rig = new Rig(text());
  const input = rig.show.operator?.input;
  rig.order({ kind: 'pin', fixture: 'left-1', performer: 'pim', cause: 'command' });
  rig.order({ kind: 'pin', fixture: 'front-2', performer: 'noor', cause: 'command' });
  rig.tick();
  for (const bytes of heard) rig.receive(bytes, rig.nowS, input, '10.0.0.11');
  rig.tick();
  const told = rig.events.flatMap(one => (one.kind === 'pin' ? [one] : [])).slice(-2);
  const by = { kind: 'pin', cause: 'command', by: '10.0.0.11' };
  expect(told).toMatchObject([
    { ...by, fixture: 'front-4', performer: 'wen' },
    { ...by, fixture: 'left-1', performer: undefined },
  ]);
  // Said again, it is nothing new.
  for (const bytes of heard) rig.receive(bytes, rig.nowS, input, '10.0.0.11');
  rig.tick();
  expect(rig.events.filter(({ kind }) => kind === 'pin')).toHaveLength(4);
  expect(rig.view.deskLost).toBe(false);
});

it('tells the standby which mappings are off; what else is off there is on again', async () => {
  const { port } = standby.address();
  const show = showOf(showFor(port, ', standby: 127.0.0.1'));
  const [title = ''] = show.mappings.map((_, index) => mappingTitle(show, index));
  let mappingsOff: readonly string[] = [title];
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
  const repeater = new OrderRepeater(() => ({
    ...TOLD,
    show,
    live: { cue: 0, pins: {}, mappingsOff },
  }));
  vi.advanceTimersByTime(1000);
  await vi.waitFor(() => expect(heard).toHaveLength(3));
  mappingsOff = [];
  vi.advanceTimersByTime(1000);
  await vi.waitFor(() => expect(heard).toHaveLength(6));
  repeater.close();
  vi.useRealTimers();

  const rig = new Rig(showFor(port, ', desk: reported'));
  rig.run(1);
  const told = (from: number) => {
    const before = rig.events.length;
    for (const bytes of heard.slice(from, from + 3)) rig.receive(bytes, rig.nowS, 1, '10.0.0.11');
    rig.tick();
    rig.tick();
    return rig.events.slice(before).filter(({ kind }) => kind === 'mapping');
  };
  const by = { mapping: title, cause: 'command', by: '10.0.0.11' };
  expect(told(0)).toMatchObject([{ ...by, off: true }]);
  // It is said again each second, and that is no news.
  expect(told(0)).toEqual([]);
  expect(told(3)).toMatchObject([{ ...by, off: false }]);
  expect(rig.view.counters.drops['unknown-mapping']).toBe(0);
});

it('tells the other machine once a second which show runs, whoever leads; an engine takes it for no order, and no desk', async () => {
  const { port } = standby.address();
  const show = showOf(showFor(port, ', main: 127.0.0.1'));
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
  const repeater = new OrderRepeater(
    () => undefined,
    () => ({ show, to: 'main', state: 'no-tracking' }),
  );
  vi.advanceTimersByTime(1000);
  repeater.end();
  vi.advanceTimersByTime(1000);
  await vi.waitFor(() => expect(heard).toHaveLength(3));
  repeater.close();
  vi.useRealTimers();
  const rig = new Rig(showFor(port, ', desk: reported'));
  rig.run(8);
  const said: unknown[] = [];
  for (const bytes of heard) {
    rig.receive(bytes, rig.nowS, 1, '10.0.0.12');
    decodeDatagram(bytes, DEFAULT_OSC_LIMITS, {
      message: (address, args) => said.push(readOrder(address, args)),
      rejected: reason => said.push(reason),
    });
  }
  rig.tick();
  const order = { kind: 'show', teller: 'standby', digest: show.digest, repeated: true };
  // That it ends is said at once, and again as long as it can be.
  const states = ['no-tracking', 'ends', 'ends'];
  expect(said).toEqual(states.map(state => ({ ...order, state })));
  expect(rig.view.deskLost).toBe(true);
  expect(rig.view.counters.drops['no-order']).toBe(0);
});

it('tells each standby of its outputs, where there are several', async () => {
  const { port } = standby.address();
  const other = createSocket('udp4');
  const others: Buffer[] = [];
  other.on('message', bytes => others.push(bytes));
  await new Promise<void>(resolve => other.bind(port, '127.0.0.2', resolve));
  const text = showFor(port, ', standby: { lamps: 127.0.0.1, more: 127.0.0.2 }').replace(
    'outputs:\n',
    'outputs:\n  more: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [2] }\n',
  );
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
  const repeater = new OrderRepeater(() => ({ ...TOLD, show: showOf(text), live: undefined }));
  vi.advanceTimersByTime(1000);
  await vi.waitFor(() => expect([heard.length, others.length]).toEqual([1, 1]));
  expect(others).toEqual(heard);
  repeater.close();
  other.close();
  vi.useRealTimers();
});

const BOTH = { 1: [2, 6], 2: [8, 7] } as const;
const free = (name: string, more: Partial<ToldPerformer> = {}): ToldPerformer => {
  return { name, stopped: false, stage: 'on', ...more };
};
const house = (port: number, more = '') => `${HOUSE}operator: { port: ${port}${more} }\n`;

/** A main machine whose words are heard by the engine of a standby, once, or as often as they are said. */
async function pair(show: (port: number, more?: string) => string) {
  const { port } = standby.address();
  const main = showOf(show(port, ', standby: 127.0.0.1'));
  let said: Repeated | undefined;
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
  const repeater = new OrderRepeater(() => said);
  const rig = new Rig(show(port));
  return {
    rig,
    end: () => {
      repeater.close();
      vi.useRealTimers();
    },
    tells: async (performers: readonly ToldPerformer[], everybodyStopped = false) => {
      said = { show: main, to: 'standby', everybodyStopped, performers, live: undefined };
      heard = [];
      vi.advanceTimersByTime(1000);
      await vi.waitFor(() => {
        const told = heard.flatMap(bytes => namesIn(bytes));
        expect(told).toEqual(performers.map(({ name }) => name));
        expect(heard.length).toBeGreaterThan(0);
      });
      for (const bytes of heard) rig.receive(bytes, rig.nowS, 1, '10.0.0.11');
      rig.tick();
      rig.tick();
    },
  };
}

function namesIn(bytes: Buffer): string[] {
  const names: string[] = [];
  decodeDatagram(bytes, DEFAULT_OSC_LIMITS, {
    message: (address, args) => {
      const order = readOrder(address, args);
      if (typeof order === 'string' || order.kind !== 'performers') throw new Error(`${order}`);
      names.push(...order.performers.map(({ name }) => name));
    },
    rejected: reason => {
      throw new Error(reason);
    },
  });
  return names;
}

const stopsOf = ({ events }: Rig) =>
  events.filter(({ kind }) => kind === 'stopped' || kind === 'resumed');

it('tells the standby who is stopped: it stops them too, and lifts that stop when the main machine does', async () => {
  const { rig, tells, end } = await pair(house);
  rig.run(6, BOTH);
  await tells([free('ines', { stopped: true }), free('tobias')]);
  rig.run(4, BOTH);
  expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['safe', 'live']);
  expect(rig.level('head')).toBe(0);
  // It is said again each second, and that is no news.
  await tells([free('ines', { stopped: true }), free('tobias')]);
  expect(stopsOf(rig)).toMatchObject([
    {
      kind: 'stopped',
      performers: ['ines'],
      by: 'the main machine, 10.0.0.11',
      toldByMain: { everybody: false, performers: ['ines'] },
    },
  ]);
  // The main machine falls silent: the stop holds, however long.
  rig.run(60, BOTH);
  expect(rig.phase('ines')).toBe('safe');
  await tells([free('ines'), free('tobias')]);
  rig.run(6, BOTH);
  expect(rig.phase('ines')).toBe('live');
  end();
});

it('a stop that was given at the standby is not lifted by the main machine, whichever came first', async () => {
  const { rig, tells, end } = await pair(house);
  rig.run(6, BOTH);
  rig.order({ kind: 'stop', performer: 'ines', cause: 'command' });
  rig.tick();
  await tells([free('ines', { stopped: true }), free('tobias', { stopped: true })]);
  rig.order({ kind: 'stop', performer: 'tobias', cause: 'command' });
  rig.tick();
  await tells([free('ines'), free('tobias')]);
  rig.run(6, BOTH);
  expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['safe', 'safe']);
  // And who stands at the standby, after a take-over, resumes both kinds.
  await tells([free('ines', { stopped: true }), free('tobias', { stopped: true })], true);
  rig.order({ kind: 'resume', performer: undefined, cause: 'command' });
  rig.run(6, BOTH);
  expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['live', 'live']);
  expect(rig.view.allStopped).toBe(false);
  end();
});

it('the stop of everybody is told with those who were resumed since, and lifted alone', async () => {
  const { rig, tells, end } = await pair(house);
  rig.run(6, BOTH);
  await tells([free('ines', { stopped: true }), free('tobias')], true);
  expect(rig.view.allStopped).toBe(true);
  rig.order({ kind: 'stop', performer: undefined, cause: 'command' });
  rig.tick();
  await tells([free('ines'), free('tobias')]);
  // It was given here as well.
  expect(rig.view.allStopped).toBe(true);
  rig.order({ kind: 'resume', performer: undefined, cause: 'command' });
  rig.tick();
  await tells([free('ines', { stopped: true }), free('tobias')], true);
  await tells([free('ines'), free('tobias')]);
  expect(rig.view.allStopped).toBe(false);
  rig.run(6, BOTH);
  expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['live', 'live']);
  end();
});

it('tells the standby who is off stage; who was sent off there stays off, and who is heard there has not left', async () => {
  const { rig, tells, end } = await pair(house);
  rig.run(6, BOTH);
  await tells([free('ines', { stage: 'leaving' }), free('tobias', { stage: 'away' })]);
  rig.run(6, BOTH);
  expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['off', 'live']);
  expect(rig.eventsOf('off-stage')).toMatchObject([
    { performers: ['ines'], state: 'leaving', by: 'the main machine, 10.0.0.11' },
  ]);
  await tells([free('ines'), free('tobias')]);
  rig.run(6, BOTH);
  expect(rig.phase('ines')).toBe('live');
  rig.order({ kind: 'off', performer: 'ines', cause: 'command' });
  rig.tick();
  await tells([free('ines', { stage: 'leaving' }), free('tobias')]);
  await tells([free('ines'), free('tobias')]);
  rig.run(6, BOTH);
  expect(rig.phase('ines')).toBe('off');
  rig.order({ kind: 'on', performer: 'ines', cause: 'command' });
  rig.run(6, BOTH);
  expect(rig.phase('ines')).toBe('live');
  // Whom neither hears, and whom the main machine knows to have left, is absent here too, and no loss.
  await tells([free('ines'), free('tobias', { stage: 'away' })]);
  expect(rig.phase('tobias')).toBe('live');
  rig.run(4, { 1: BOTH[1] });
  expect(rig.phase('tobias')).toBe('safe');
  await tells([free('ines'), free('tobias', { stage: 'away' })]);
  rig.run(10, { 1: BOTH[1] });
  expect(rig.phase('tobias')).toBe('off');
  end();
});

it('a long list of performers goes in as many datagrams as it takes, each of which a standby can read', async () => {
  const names = Array.from({ length: 200 }, (_, i) => `performer-with-a-long-name-${i}`);
  const lines = names.map((name, i) => `  ${name}: { trackers: [t${i}] }\n`).join('');
  const text = (port: number, more = '') =>
    showFor(port, more).replace('performers:\n', `performers:\n${lines}`);
  const { rig, tells, end } = await pair(text);
  const all = names.map((name, i) => free(name, { stopped: i % 2 === 0 }));
  await tells([...all, free('somebody-else')]);
  expect(heard.length).toBeGreaterThan(5);
  expect(Math.max(...heard.map(({ length }) => length))).toBeLessThanOrEqual(1472);
  expect(stopsOf(rig)).toMatchObject([{ performers: names.filter((_, i) => i % 2 === 0) }]);
  // One whom its show doesn't have is counted.
  expect(rig.view.counters.drops['unknown-performer']).toBe(1);
  end();
});

it('a standby with the light tells a main machine that comes back who is stopped, and takes it back; nothing else', async () => {
  const { port } = standby.address();
  const show = showOf(house(port, ', main: 127.0.0.1'));
  let stopped = true;
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
  const repeater = new OrderRepeater(() => ({
    show,
    to: 'main',
    everybodyStopped: false,
    performers: [free('ines', { stopped }), free('tobias')],
    live: undefined,
  }));
  const rig = new Rig(house(port));
  rig.run(6, BOTH);
  const tells = async () => {
    vi.advanceTimersByTime(1000);
    await vi.waitFor(() => expect(heard).toHaveLength(1));
    for (const bytes of heard.splice(0)) rig.receive(bytes, rig.nowS, 1, '10.0.0.12');
    rig.tick();
    rig.tick();
  };
  await tells();
  const by = 'the standby machine, 10.0.0.12';
  expect(stopsOf(rig).at(-1)).toMatchObject({ kind: 'stopped', performers: ['ines'], by });
  stopped = false;
  await tells();
  expect(stopsOf(rig).at(-1)).toMatchObject({ kind: 'resumed', performers: ['ines'], by });
  repeater.close();
  vi.useRealTimers();
});

it('a standby whose main machine runs behind a link that is out speaks of its own stops, and of nobody off stage', async () => {
  const { rig, tells, end } = await pair(house);
  rig.run(6, BOTH);
  await tells([free('ines', { stage: 'leaving' }), free('tobias')]);
  rig.run(6, BOTH);
  expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['off', 'live']);
  const unsaid = { stage: 'unsaid' } as const;
  await tells([free('ines', unsaid), free('tobias', { ...unsaid, stopped: true })]);
  rig.run(6, BOTH);
  expect(rig.phase('ines')).toBe('off');
  expect(stopsOf(rig).at(-1)).toMatchObject({ kind: 'stopped', performers: ['tobias'] });
  await tells([free('ines', unsaid), free('tobias', unsaid)]);
  rig.run(6, BOTH);
  expect([rig.phase('ines'), rig.phase('tobias')]).toEqual(['off', 'live']);
  end();
});
