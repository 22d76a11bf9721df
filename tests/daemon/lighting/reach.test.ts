import type { Socket } from 'node:dgram';
import { afterEach, expect, it } from 'vitest';
import { artnetPlan, FakeSocket, Rig, sacnPlan } from './support.js';

/** A lighting network, and the loopback. */
const NETWORKS: Record<string, string> = { eth0: '10.0.0.2', lo: '127.0.0.1' };
let sockets: FakeSocket[] = [];
const seams = {
  socketFactory: () => {
    const socket = new FakeSocket();
    sockets.push(socket);
    return socket as unknown as Socket;
  },
  listenerFactory: () => new FakeSocket() as unknown as Socket,
  readCarrier: () => true,
  findInterface: (name: string) => {
    const address = NETWORKS[name];
    if (address === undefined) return undefined;
    const broadcast = address.replace(/\d+$/, '255');
    return { name, address, loopback: name === 'lo', netmask: '255.255.255.0', broadcast };
  },
};
let rig: Rig;
afterEach(async () => {
  sockets = [];
  await rig.close();
});
/** Art-Net 4: the opcode's low byte first. */
const addressesOf = (opcode: number) => {
  const all = sockets.flatMap(({ sent }) => sent);
  const mine = all.filter(({ bytes }) => bytes.readUInt16LE(8) === opcode);
  return [...new Set(mine.map(({ address, port }) => `${address}:${port}`))];
};

it('ArtPoll and ArtSync go to the directed broadcast address, ArtDmx never does (Art-Net 4)', async () => {
  const to = ['10.0.0.9'];
  const plan = artnetPlan({ interface: 'eth0', to, poll: true, sync: true });
  rig = await Rig.open({ outputs: [plan], ...seams });
  await rig.beat(8, (levels, beat) => levels.fill(beat + 1));
  expect(addressesOf(0x2000)).toEqual(['10.0.0.255:6454']);
  expect(addressesOf(0x5200)).toEqual(['10.0.0.255:6454']);
  expect(addressesOf(0x5000)).toEqual(['10.0.0.9:6454']);
});

it.each([
  ['eth0', 20],
  ['lo', 0],
] as const)('multicast from %s goes over %i routers at the most', async (name, hops) => {
  rig = await Rig.open({ outputs: [sacnPlan({ interface: name, to: 'multicast' })], ...seams });
  expect(sockets.map(({ multicastHops }) => multicastHops)).toEqual([hops]);
});
