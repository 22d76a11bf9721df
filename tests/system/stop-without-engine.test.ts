import { createSocket } from 'node:dgram';
import { setTimeout as sleep } from 'node:timers/promises';
import { expect, it } from 'vitest';
import { encodePacket } from '../../src/protocols/osc/encode.js';
import { LAMP, lampHouse, SAFE } from './lamp.js';
import { until } from './support.js';

const house = lampHouse([
  ['outputs:', 'operator: { listen: 127.0.0.1, port: 9011, allow: [127.0.0.1] }\noutputs:'],
]);

/** From a desk. */
async function send(address: string): Promise<void> {
  const socket = createSocket('udp4');
  const bytes = encodePacket({ address, args: [] });
  await new Promise(resolve => socket.send(bytes, 9011, '127.0.0.1', resolve));
  socket.close();
}

const isSaid = (kind: string) => house.daemon.log.some(line => line.kind === kind);

/** The performer is tracked, and stands in the lamp's zone, all the time. */
async function staysStopped(): Promise<void> {
  const { log } = house.daemon;
  const first = log.find(line => line.kind === 'engine-started')?.pid;
  await until('another engine runs', () => house.daemon.enginePid !== first);
  await until('it begins stopped', () => log.some(line => line.msg.includes('still stopped')));
  const isLive = () => log.filter(one => one.kind === 'lights').at(-1)?.to === 'live';
  await until(
    'it has the light, at its safe value',
    () => isLive() && house.sacn.last[LAMP] === SAFE,
  );
  const { length } = house.sacn.packets;
  await sleep(1500); // wall time: a light that comes back does so in half a second
  const levels = house.sacn.packets.slice(length).map(({ slots }) => slots[LAMP]);
  expect(levels.filter(level => level !== SAFE)).toEqual([]);
  // What does not change is repeated about once a second (E1.31 6.6.2).
  expect(levels.length).toBeGreaterThan(0);
}

it('takes a stop by OSC while no engine runs, and the next one begins with it', async () => {
  house.daemon.signalEngine('SIGKILL');
  await until('the engine is gone', () => isSaid('engine-ended'));
  await send('/lampwright/stop');
  await until('the stop is kept', () => isSaid('stop-kept'), 2);
  await staysStopped();
  await send('/lampwright/resume');
  await until('the lamp is lit again', () => house.sacn.last[LAMP] === 255);
});

it('takes a stop that comes while the engine hangs', async () => {
  house.daemon.signalEngine('SIGSTOP');
  await send('/lampwright/stop');
  await until('the stop is kept', () => isSaid('stop-kept'), 5);
  await staysStopped();
});

it('hands a stop on to an engine that runs', async () => {
  await send('/lampwright/stop');
  await until('the lamp is at its safe value', () => house.sacn.last[LAMP] === SAFE);
  await send('/lampwright/resume');
  await until('the lamp is lit again', () => house.sacn.last[LAMP] === 255);
  expect(isSaid('stop-kept')).toBe(false);
});
