import dgram from 'node:dgram';
import { dmxnet } from 'dmxnet';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { createDmxPacket } from '../../src/protocols/artnet/dmx-packet.js';
import { ARTNET_PORT } from '../../src/protocols/artnet/options.js';
import { encodePoll } from '../../src/protocols/artnet/poll.js';
import { decodePollReply } from '../../src/protocols/artnet/poll-reply.js';
import { DeafSocket } from '../protocols/artnet/deaf-socket.js';

/** Independent implementation: npm `dmxnet` (MIT), its parser and its encoders. */

const sockets: DeafSocket[] = [];
let peer: dmxnet;
let hear: (bytes: Buffer) => void;
const PATCH = { net: 4, subnet: 2, universe: 3 };
let receiver: ReturnType<dmxnet['newReceiver']>;
let sender: ReturnType<dmxnet['newSender']>;

beforeAll(() => {
  vi.useFakeTimers();
  vi.spyOn(dgram, 'createSocket').mockImplementation(() => {
    const socket = new DeafSocket();
    sockets.push(socket);
    // It has the methods that dmxnet calls, and no others.
    return socket as unknown as dgram.Socket;
  });
  peer = new dmxnet({ log: { level: 'error' }, hosts: ['127.0.0.1'] });
  const listener = sockets[0];
  hear = bytes =>
    listener?.emit('message', bytes, {
      address: '127.0.0.1',
      family: 'IPv4',
      port: ARTNET_PORT,
      size: bytes.length,
    });
  receiver = peer.newReceiver(PATCH);
  sender = peer.newSender({ ...PATCH, ip: '127.0.0.1' });
});

afterAll(() => {
  vi.restoreAllMocks();
  vi.useRealTimers();
});

describe('npm dmxnet', () => {
  it('reads our ArtDmx', () => {
    const heard: number[][] = [];
    receiver.on('data', (levels: number[]) => heard.push(levels));
    const packet = createDmxPacket({ portAddress: 0x0423, slotCount: 512 });
    packet.slots.set(Array.from({ length: 512 }, (_, i) => i & 0xff));
    packet.advanceSequence();
    hear(packet.buffer);
    hear(createDmxPacket({ portAddress: 0x0424, slotCount: 512 }).buffer);
    expect(heard).toEqual([[...packet.slots]]);
  });

  it('writes the ArtDmx that we write', () => {
    sender.setChannel(0, 11);
    sender.setChannel(511, 22);
    const packet = createDmxPacket({ portAddress: 0x0423, slotCount: 512 });
    packet.slots.set([11]);
    packet.slots.set([22], 511);
    packet.setSequence(3); // It has sent one at the start, one with the first level, this is the third.
    expect(sockets.at(-1)?.sent.at(-1)).toEqual(packet.buffer);
  });

  it('answers our ArtPoll, and we read the answer', () => {
    // Its second socket is the one for answers.
    const answers = sockets[1]?.sent ?? [];
    answers.splice(0);
    hear(encodePoll());
    const replies = answers.map(bytes => decodePollReply(bytes));
    const node = { kind: 'poll-reply', ip: '127.0.0.1', shortName: 'dmxnet', status2: 0x0e };
    expect(replies).toMatchObject([
      // Its sender, an input to the network: it wants no ArtDmx.
      { ...node, bindIndex: 1, outputs: [] },
      { ...node, bindIndex: 2, outputs: [0x0423] },
    ]);
    // It sends the bytes of the port swapped (the specification: 0x36, 0x19), and we still hear it.
    expect(replies[0]).toMatchObject({ port: 0x3619 });
  });
});
