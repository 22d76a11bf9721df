import { createSocket, type Socket } from 'node:dgram';
import { once } from 'node:events';
import { Decoder, Encoder, Tracker } from '@jwetzell/posistagenet';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Daemon, until, variantOf } from './support.js';

/**
 * The whole way by PosiStageNet, in and out, with a peer that is not ours (npm `@jwetzell/posistagenet`) at both ends,
 * by multicast over loopback. Ports of this file's own.
 */
const GROUP = '236.10.10.10';
const [IN, OUT] = [19_710, 19_711];
let show: ReturnType<typeof variantOf>;
let daemon: Daemon;
let sender: Socket;
let receiver: Socket;
let timer: NodeJS.Timeout;
const heard = new Decoder();

beforeEach(async () => {
  show = variantOf('config/minimal.show.yaml', [
    [
      `tracking:
    port: 9010
    routes: [{ address: "/tracker/{tracker}/position" }]`,
      `tracking: { protocol: psn, interface: lo, port: ${IN}, axes: [x, z, y], stamps: required }`,
    ],
    [
      'mappings:',
      `receivers:
  video: { address: ${GROUP}, port: ${OUT}, interface: lo }
positions:
  wall: { to: video, protocol: psn, axes: [x, z, y], rate: 40, ahead: 0.05, ids: { ines: 12 } }
mappings:`,
    ],
  ]);
  sender = createSocket('udp4');
  sender.bind(0, '127.0.0.1', () => sender.setMulticastInterface('127.0.0.1'));
  receiver = createSocket({ type: 'udp4', reuseAddr: true });
  receiver.bind({ address: GROUP, port: OUT }, () => receiver.addMembership(GROUP, '127.0.0.1'));
  receiver.on('message', bytes => heard.decode(bytes));
  await once(receiver, 'listening');
  daemon = Daemon.run(show.file);
});
afterEach(async () => {
  clearInterval(timer);
  sender.close();
  receiver.close();
  await daemon.stop();
  show.remove();
});

it('from a peer to a peer: tracked, lost, and lost while there is no engine', async () => {
  const encoder = new Encoder('Hall', 2, 3);
  const belt = new Tracker(1, 'Ines');
  let frame = 0;
  timer = setInterval(() => {
    belt.setPos(2, 1.4, 3);
    belt.setStatus(1);
    belt.setTimestamp(process.hrtime.bigint() / 1000n);
    frame = (frame % 255) + 1;
    for (const packet of encoder.getDataPackets(1n, [belt], frame)) sender.send(packet, IN, GROUP);
  }, 25);
  await until('the light follows', () => daemon.log.some(({ to }) => to === 'live'), 20);
  await until('they are told of', () => (heard.trackers[12]?.validity ?? 0) > 0.8, 10);
  const told = heard.trackers[12];
  expect(heard.systemName).toBe('One lamp');
  expect(told?.name).toBe('ines');
  for (const [is, sent] of [
    [told?.pos?.x, 2],
    [told?.pos?.y, 1.4],
    [told?.pos?.z, 3],
  ] as const) {
    expect(Math.abs((is ?? 0) - sent)).toBeLessThan(0.1);
  }
  // Nobody says any more where they are, for the engine stands still; the supervisor does.
  daemon.signalEngine('SIGSTOP');
  await until('they are lost', () => heard.trackers[12]?.validity === 0, 5);
  await until('and found', () => (heard.trackers[12]?.validity ?? 0) > 0.8, 20);
  clearInterval(timer);
  await until('they are lost', () => heard.trackers[12]?.validity === 0, 10);
  expect(Math.abs((heard.trackers[12]?.pos?.x ?? 0) - 2)).toBeLessThan(0.1);
}, 60_000);
