import { createSocket, type Socket } from 'node:dgram';
import { afterEach, describe, expect, it } from 'vitest';
import { listen } from '../../../src/daemon/listening/listen.js';
import { readInterfaces, readRoutes } from '../../../src/daemon/listening/machine.js';
import { createDmxPacket } from '../../../src/protocols/artnet/dmx-packet.js';
import { encodePacket } from '../../../src/protocols/osc/encode.js';
import { createDataPacket } from '../../../src/protocols/sacn/data-packet.js';
import { rhythmOf } from '../../../src/readiness/feed.js';
import { parseShow } from '../../../src/show/parse.js';
import { pollReplyBytes } from '../../protocols/artnet/reply.js';

/** Real sockets on a loopback address of this test's own; so it waits for wall time, a second a test. */
const HERE = '127.0.7.61';
const NODE = '127.0.7.62';
const SHOW = `lampwright: 1
name: Listening
stage: { x: [0, 6], y: [0, 4] }
inputs:
  tracking: { listen: ${HERE}, port: 9061, routes: [{ address: "/tracker/{tracker}/position" }] }
performers: { ines: { trackers: [1] } }
fixtures: { glow: { profile: dimmer, universe: 1, address: 1 } }
outputs:
  lamps: { protocol: sacn, interface: ${HERE}, to: [${HERE}], universes: [1] }
  heads: { protocol: artnet, interface: ${HERE}, to: [${NODE}], universes: [1], poll: true }
`;

function show() {
  const result = parseShow(SHOW, 'test.show.yaml');
  if (!result.ok) throw new Error(result.problems.map(one => one.message).join('\n'));
  return result.show;
}

const open: Socket[] = [];
function socketAt(address: string, port: number): Promise<Socket> {
  const socket = createSocket('udp4');
  open.push(socket);
  return new Promise((resolve, reject) => {
    socket.once('error', reject);
    socket.bind({ address, port }, () => resolve(socket));
  });
}

afterEach(() => {
  for (const socket of open.splice(0)) socket.close();
});

describe('listening', () => {
  it('hears the feed, another sender, and a node that answers', async () => {
    const node = await socketAt(NODE, 6454);
    // Answers as a node does: to whoever asked, and sends levels of its own besides, as none should.
    const dmx = createDmxPacket({ portAddress: 1, slotCount: 512 });
    node.on('message', (_, from) => {
      node.send(pollReplyBytes({ net: 0, subNet: 0, swOut: [1] }), from.port, from.address);
      node.send(dmx.buffer, 6454, HERE);
    });
    const desk = await socketAt(NODE, 0);
    const levels = createDataPacket({
      cid: new Uint8Array(16).fill(9),
      sourceName: 'desk',
      universe: 1,
      priority: 120,
    });
    // How many the timer sends in the time is the machine's; what was sent to an open socket has to be heard.
    let sent = 0;
    const timer = setInterval(() => {
      sent += 1;
      levels.advanceSequence();
      desk.send(levels.buffer, 5568, HERE);
      const args = [1, 2, 3].map(value => ({ type: 'f' as const, value }));
      desk.send(encodePacket({ address: '/tracker/1/position', args }), 9061, HERE);
      desk.send(encodePacket({ address: '/other', args }), 9061, HERE);
    }, 20);
    const facts = await listen(show(), 1.2);
    clearInterval(timer);

    const [feed] = facts.feeds;
    expect(feed?.problem).toBeUndefined();
    const heard = feed?.record.trackers.get('1');
    expect(heard?.places.slice(0, 3)).toEqual([1, 2, 3]);
    // The first and the last may have missed the opening, and the end.
    expect(sent).toBeGreaterThan(4);
    expect(heard === undefined ? 0 : rhythmOf(heard).reports).toBeGreaterThanOrEqual(sent - 2);
    expect(feed?.rejected).toBeGreaterThanOrEqual(sent - 2);
    const sources = [...facts.sources.values()];
    expect(sources.map(one => [one.protocol, one.name, [...one.universes]])).toEqual(
      expect.arrayContaining([
        ['sacn', 'desk', [[1, 120]]],
        ['artnet', NODE, [[1, undefined]]],
      ]),
    );
    expect(facts.nodes).toEqual([{ ip: NODE, name: 'stove', outputs: [1] }]);
    expect(facts.polled).toEqual([HERE]);
    expect(facts.deaf).toEqual([]);
  });

  it('leaves ports to the programs that have them, and says so', async () => {
    await socketAt(HERE, 9061);
    await socketAt(HERE, 5568);
    await socketAt(HERE, 6454);
    const facts = await listen(show(), 0.1);
    // It names the process where /proc tells: here it is this one.
    expect(facts.feeds[0]?.problem).toMatch(
      /another program on this machine(, process \d+ \(.+\),)? listens there/,
    );
    expect(facts.deaf).toHaveLength(2);
    expect(facts.polled).toEqual([]);
  });
});

describe('this machine', () => {
  it('has a loopback interface, and routes that can be read or not', () => {
    const lo = readInterfaces().find(one => one.loopback);
    expect(lo?.address).toBe('127.0.0.1');
    const routes = readRoutes();
    expect(routes === undefined || Array.isArray(routes)).toBe(true);
  });
});
