import { createSocket, type Socket } from 'node:dgram';
import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { OrderRepeater, type Repeated } from '../../../src/daemon/operator/order-repeater.js';
import { mappingTitle } from '../../../src/show/model/mapping-words.js';
import { Rig } from '../../engine/harness.js';
import { configShow } from '../../show/base.js';
import { showOf } from '../../show/show-of.js';

let standby: Socket;
let heard: Buffer[];

const showFor = (port: number, more = '') =>
  `${configShow('minimal')}cues: { prologue: {}, storm: {} }\noperator: { port: ${port}${more} }\n`;

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
  said = { show, cue: 1, pins: {}, mappingsOff: [] };
  vi.advanceTimersByTime(1000);
  await vi.waitFor(() => expect(heard).toHaveLength(2));
  repeater.close();
  vi.useRealTimers();

  const rig = new Rig(showFor(port, ', desk: reported'));
  rig.run(8);
  expect(rig.view.deskLost).toBe(true);
  rig.receive(heard[0] as Buffer, rig.nowS, 1, '10.0.0.11');
  rig.tick();
  expect(rig.view.cue?.name).toBe('storm');
  expect(rig.view.deskLost).toBe(true);

  // A cue that only the standby is told holds until the main machine tells it again.
  rig.order({ kind: 'cue', to: 'back', cause: 'command' });
  rig.tick();
  expect(rig.view.cue?.name).not.toBe('storm');
  rig.receive(heard[0] as Buffer, rig.nowS, 1, '10.0.0.11');
  rig.tick();
  expect(rig.view.cue?.name).toBe('storm');
});

it('tells the standby which heads are pinned to whom; what it has beside that is let go', async () => {
  const { port } = standby.address();
  const text = (more = '') =>
    `${configShow('low-water').replace('port: 9011, allow: [127.0.0.1]', `port: ${port}, allow: [127.0.0.1]${more}`)}`;
  const said: Repeated = {
    show: showOf(text(', standby: 127.0.0.1')),
    cue: 0,
    pins: { 'front-2': 'noor', 'front-4': 'wen' },
    mappingsOff: [],
  };
  vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval'] });
  const repeater = new OrderRepeater(() => said);
  vi.advanceTimersByTime(1000);
  await vi.waitFor(() => expect(heard).toHaveLength(3));
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
  const repeater = new OrderRepeater(() => ({ show, cue: 0, pins: {}, mappingsOff }));
  vi.advanceTimersByTime(1000);
  await vi.waitFor(() => expect(heard).toHaveLength(2));
  mappingsOff = [];
  vi.advanceTimersByTime(1000);
  await vi.waitFor(() => expect(heard).toHaveLength(4));
  repeater.close();
  vi.useRealTimers();

  const rig = new Rig(showFor(port, ', desk: reported'));
  rig.run(1);
  const told = (from: number) => {
    const before = rig.events.length;
    for (const bytes of heard.slice(from, from + 2)) rig.receive(bytes, rig.nowS, 1, '10.0.0.11');
    rig.tick();
    rig.tick();
    return rig.events.slice(before).filter(({ kind }) => kind === 'mapping');
  };
  const by = { mapping: title, cause: 'command', by: '10.0.0.11' };
  expect(told(0)).toMatchObject([{ ...by, off: true }]);
  // It is said again each second, and that is no news.
  expect(told(0)).toEqual([]);
  expect(told(2)).toMatchObject([{ ...by, off: false }]);
  expect(rig.view.counters.drops['unknown-mapping']).toBe(0);
});
