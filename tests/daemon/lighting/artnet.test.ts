import dgram, { createSocket, type Socket } from 'node:dgram';
import { once } from 'node:events';
import { dmxnet } from 'dmxnet';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { DeafSocket } from '../../protocols/artnet/deaf-socket.js';
import { artnetPlan, Listener, LOOPBACK, OURS, Rig, sacnPlan, turn, until } from './support.js';

/** Field offsets by the tables of Art-Net 4; levels and node replies by npm `dmxnet` (MIT). */

const PORT = 6454;
const NODE = `${LOOPBACK}.61.2`;
const opcode = (bytes: Buffer) => bytes.readUInt16LE(8);
const OP_POLL = 0x2000;
const OP_DMX = 0x5000;

const open: { close(): unknown }[] = [];
const keep = <T extends { close(): unknown }>(resource: T): T => {
  open.push(resource);
  return resource;
};

afterEach(async () => {
  for (const resource of open.splice(0)) await resource.close();
});

/** A node by dmxnet, with one output on Net 4, Sub-Net 2, Universe 3: Port-Address 0x0423. */
class Node {
  readonly levels: number[][] = [];
  readonly #sockets: DeafSocket[] = [];

  constructor() {
    // Its checks every 30 s have no end.
    vi.useFakeTimers();
    const spy = vi.spyOn(dgram, 'createSocket').mockImplementation(() => {
      const socket = new DeafSocket();
      this.#sockets.push(socket);
      // It has the methods that dmxnet calls, and no others.
      return socket as unknown as Socket;
    });
    const peer = new dmxnet({ log: { level: 'error' }, hosts: ['127.0.0.1'], sName: 'stove' });
    const receiver = peer.newReceiver({ net: 4, subnet: 2, universe: 3 });
    receiver.on('data', (levels: number[]) => this.levels.push(levels));
    spy.mockRestore();
    vi.useRealTimers();
    for (const socket of this.#sockets) socket.sent.length = 0;
  }

  /** @returns what it answers */
  hear(bytes: Buffer): Buffer[] {
    const rinfo = { address: OURS, family: 'IPv4', port: PORT, size: bytes.length };
    this.#sockets[0]?.emit('message', bytes, rinfo);
    return this.#sockets.flatMap(socket => socket.sent.splice(0));
  }
}

async function from(address: string, bytes: readonly Buffer[], to: string): Promise<void> {
  const socket = createSocket('udp4');
  socket.bind(0, address);
  await once(socket, 'listening');
  socket.setBroadcast(true);
  for (const packet of bytes) {
    await new Promise(resolve => socket.send(packet, PORT, to, resolve));
  }
  socket.close();
}

describe('levels by Art-Net', () => {
  it('reach a node, read by npm dmxnet', async () => {
    const listener = keep(await Listener.open(PORT, NODE));
    const rig = keep(await Rig.open({ outputs: [artnetPlan()] }));
    await rig.beat(1, levels => levels.set(Array.from(levels, (_, slot) => slot & 0xff)));
    const node = new Node();
    for (const bytes of await listener.all()) node.hear(bytes);
    expect(node.levels).toEqual([[...rig.levels]]);
  });

  it('have sequences of 1 to 255, at the pace of the transmission rule', async () => {
    const listener = keep(await Listener.open(PORT, NODE));
    const rig = keep(await Rig.open({ outputs: [artnetPlan()] }));
    await rig.beat(257, (levels, beat) => levels.fill(beat));
    const sequences = (await listener.all()).map(bytes => bytes[12]);
    expect(sequences).toEqual([...Array.from({ length: 255 }, (_, i) => i + 1), 1, 2]);
    // Unchanged: three repeats, then one in 0.8 to 1 s; Art-Net 4 recommends the same.
    await rig.beat(3 + 40);
    expect(await listener.all()).toHaveLength(3 + 1);
  });

  it('share a socket with sACN from the same interface, and end without a word', async () => {
    const listener = keep(await Listener.open(PORT, NODE));
    const outputs = [artnetPlan(), sacnPlan()];
    const rig = keep(await Rig.open({ outputs, now: () => performance.now() / 1000 }));
    rig.output.send(rig.levels, performance.now() / 1000);
    // Waits for the three beats of sACN's terminations.
    await rig.output.terminate();
    expect((await listener.all()).map(opcode)).toEqual([OP_DMX]);
    // One ArtDmx, one packet of sACN, one of Universe Discovery, three terminations.
    expect(rig.output.counters.interfaces).toMatchObject([{ interface: OURS, packets: 6 }]);
  });
});

describe('nodes', () => {
  it('are not asked on the loopback interface, and the port stays free', async () => {
    const listener = keep(await Listener.open(PORT, NODE));
    const rig = keep(await Rig.open({ outputs: [artnetPlan({ poll: undefined })] }));
    keep(await Listener.open(PORT, OURS));
    await rig.beat(1000);
    expect((await listener.all()).filter(bytes => opcode(bytes) === OP_POLL)).toEqual([]);
    expect(rig.events).toEqual([]);
  });

  it('are asked every 2.5 to 3 s, each that an output sends to', async () => {
    const listeners = [
      keep(await Listener.open(PORT, NODE)),
      keep(await Listener.open(PORT, `${LOOPBACK}.61.3`)),
    ];
    const outputs = [artnetPlan({ poll: true, to: [NODE, `${LOOPBACK}.61.3`] })];
    const rig = keep(await Rig.open({ outputs }));
    await rig.beat(1 + 10 / 0.025);
    for (const listener of listeners) {
      const polls = (await listener.all()).filter(bytes => opcode(bytes) === OP_POLL);
      // At 0, 2.5, 5, 7.5 and 10 s. Art-Net 4: ProtVer 14, then flags, then priority.
      expect(polls.map(bytes => bytes.toString('hex', 8))).toEqual(
        new Array(5).fill('0020000e0200'),
      );
    }
  });

  it.each([
    { how: 'to us', to: OURS },
    { how: 'to everybody', to: '127.255.255.255' },
  ])('are found when they answer $how, and missed when they leave', async ({ to }) => {
    const listener = keep(await Listener.open(PORT, NODE));
    const rig = keep(await Rig.open({ outputs: [artnetPlan({ poll: true })] }));
    const node = new Node();
    await rig.beat();
    const replies = (await listener.all()).flatMap(bytes => node.hear(bytes));
    expect(replies).toHaveLength(1);
    await from(NODE, replies, to);
    await until('the node is found', () => rig.events.length > 0);
    // dmxnet says that it is at 127.0.0.1; where it sends from is what counts.
    const found = { kind: 'node-found', ip: NODE, name: 'stove', portAddresses: [0x0423] };
    expect(rig.events).toEqual([found]);
    expect(rig.output.counters.nodes).toEqual({ known: 1, rejected: 0, displaced: 0, untold: 0 });

    await rig.beatFor(5);
    expect(rig.events).toEqual([found]);
    // Art-Net 4: 3 s after a poll without an answer, which was at 2.5 s; looked at every 0.25 s.
    await rig.beatFor(0.8);
    expect(rig.events).toEqual([found, { kind: 'node-gone', ip: NODE, name: 'stove' }]);
  });

  it('that answer get the levels of what they put out, and no longer once they have gone', async () => {
    const listed = keep(await Listener.open(PORT, NODE));
    const swapped = keep(await Listener.open(PORT, `${LOOPBACK}.61.4`));
    const second = keep(await Listener.open(PORT, `${LOOPBACK}.61.5`));
    const rig = keep(await Rig.open({ outputs: [artnetPlan({ poll: true })] }));
    const node = new Node();
    await rig.beat();
    const replies = (await listed.all()).flatMap(bytes => node.hear(bytes));
    // Two nodes on one Port-Address, at addresses that the show does not have.
    await from(`${LOOPBACK}.61.4`, replies, OURS);
    await from(`${LOOPBACK}.61.5`, replies, OURS);
    await until('both are found', () => rig.output.counters.nodes.known === 2);
    const changing = (levels: Uint8Array, beat: number) => levels.fill(beat);
    await rig.beat(4, changing);
    for (const listener of [listed, swapped, second]) {
      const dmx = (await listener.all()).filter(bytes => opcode(bytes) === OP_DMX);
      expect(dmx.length).toBeGreaterThanOrEqual(3);
      expect(dmx.at(-1)?.[18]).toBe(3);
    }
    await rig.beatFor(5.8);
    for (const listener of [swapped, second]) await listener.all();
    await listed.all();
    await rig.beat(4, changing);
    expect(await swapped.all()).toEqual([]);
    expect(await second.all()).toEqual([]);
    // What the show lists gets them whether it answers or not.
    expect((await listed.all()).length).toBeGreaterThanOrEqual(3);
  });

  it('that never answer are told once', async () => {
    const rig = keep(await Rig.open({ outputs: [artnetPlan({ poll: true })] }));
    await rig.beatFor(8);
    expect(rig.events).toEqual([]);
    await rig.beatFor(22);
    expect(rig.events).toEqual([{ kind: 'node-silent', ip: NODE, output: 'practicals' }]);
  });

  it('can be answered by rubbish, which is counted', async () => {
    const rig = keep(await Rig.open({ outputs: [artnetPlan({ poll: true })] }));
    const half = Buffer.from('4172742d4e657400002100', 'hex');
    await from(NODE, [Buffer.alloc(0), Buffer.from('hello'), half], OURS);
    await until('three datagrams', () => rig.output.counters.nodes.rejected === 3);
    expect(rig.output.counters.nodes.known).toBe(0);
    expect(rig.events).toEqual([]);
  });

  it('are not asked while another program has the port, and levels go on', async () => {
    keep(await Listener.open(PORT, OURS));
    const listener = keep(await Listener.open(PORT, NODE));
    const rig = keep(await Rig.open({ outputs: [artnetPlan({ poll: true })] }));
    await rig.beatFor(20);
    expect(rig.events).toEqual([{ kind: 'poll-port-taken', interface: OURS }]);
    const heard = (await listener.all()).map(opcode);
    expect(heard.length).toBeGreaterThan(20);
    expect(new Set(heard)).toEqual(new Set([OP_DMX]));
    await turn();
  });
});
