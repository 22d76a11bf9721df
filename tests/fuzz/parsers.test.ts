import { describe, expect, it } from 'vitest';
import { mutate, randomInts } from '../../fuzz/mutate.mjs';
import { targetsOf } from '../../fuzz/targets.mjs';
import * as requests from '../../src/daemon/asking/request-words.js';
import * as memory from '../../src/daemon/memory/memory.js';
import * as reader from '../../src/daemon/pipe/reader.js';
import * as writer from '../../src/daemon/pipe/writer.js';
import { createEngine } from '../../src/engine/engine.js';
import { step } from '../../src/engine/step.js';
import type { Datagram } from '../../src/engine/values/inputs.js';
import { viewOf } from '../../src/engine/view.js';
import * as artnetReply from '../../src/protocols/artnet/controller-reply.js';
import * as dmx from '../../src/protocols/artnet/dmx-packet.js';
import * as incoming from '../../src/protocols/artnet/incoming.js';
import * as poll from '../../src/protocols/artnet/poll.js';
import * as pollReply from '../../src/protocols/artnet/poll-reply.js';
import * as address from '../../src/protocols/osc/address.js';
import * as osc from '../../src/protocols/osc/decode.js';
import * as encode from '../../src/protocols/osc/encode.js';
import * as readPositions from '../../src/protocols/osc/read-positions.js';
import * as route from '../../src/protocols/osc/route.js';
import * as psnDecode from '../../src/protocols/psn/decode.js';
import * as psnEncode from '../../src/protocols/psn/encode.js';
import * as psnPosition from '../../src/protocols/psn/position.js';
import * as data from '../../src/protocols/sacn/data-packet.js';
import * as sacn from '../../src/protocols/sacn/decode.js';
import * as discovery from '../../src/protocols/sacn/discovery.js';
import { parseShow } from '../../src/show/parse.js';
import { configShow } from '../show/base.js';

/** Each parser; ten million of them once by hand: `npm run fuzz -- --count 10000000`. */
const COUNT = 20_000;
const SEED = 20261125;
/** As long as the longest datagram that any of them takes, and some more. */
const LONGEST_BYTES = 1600;

const targets = targetsOf({
  ...requests, ...memory, ...reader, ...writer, ...artnetReply, ...dmx, ...incoming, ...poll, ...pollReply,
  ...address, ...osc, ...encode, ...readPositions, ...route, ...psnDecode, ...psnEncode, ...psnPosition, ...data, ...sacn, ...discovery,
}); // biome-ignore format: a list of modules

describe('twenty thousand malformed relatives of good packets', () => {
  it.each(targets)('$name: none throws', ({ corpus, read }) => {
    const random = randomInts(SEED);
    const out = Buffer.alloc(LONGEST_BYTES);
    let last = '';
    try {
      for (let i = 0; i < COUNT; i++) {
        const bytes = out.subarray(0, mutate(random, corpus, out));
        last = bytes.toString('hex');
        read(bytes);
      }
    } catch (error) {
      throw new Error(`${String(error)} on ${last}`);
    }
  });

  it('leave the engine with finite values, and the light in its universes', () => {
    const parsed = parseShow(configShow('salt-lantern'), 'salt-lantern.show.yaml');
    if (!parsed.ok) throw new Error('the example show has errors');
    const engine = createEngine(parsed.show);
    const [{ corpus } = { corpus: [] }] = targets;
    const random = randomInts(SEED);
    const room = Array.from({ length: 125 }, () => Buffer.alloc(LONGEST_BYTES));
    let nowS = 1000;
    for (let sent = 0; sent < COUNT; sent += room.length) {
      nowS += 0.025;
      const datagrams = room.map((out): Datagram => {
        const bytes = out.subarray(0, mutate(random, corpus, out));
        return { input: 0, bytes, arrivalS: nowS - 0.01 };
      });
      const { levels } = step(engine, { datagrams, unixOffsetS: 1_768_261_400 }, nowS);
      expect(levels.length).toBe(1024);
    }
    for (const { estimate } of viewOf(engine).performers) {
      expect(Number.isFinite(estimate.x + estimate.y + estimate.z)).toBe(true);
    }
    expect(engine.counters.datagrams).toBe(COUNT);
    // Some were still good: the tracks have heard them.
    expect(engine.counters.positions).toBeGreaterThan(1000);
  });
});

it('the mutations are of every kind, and the same for a seed', () => {
  const lengths = new Set<number>();
  const corpus = [Buffer.from('0123456789abcdef')];
  const all = (seed: number) => {
    const random = randomInts(seed);
    const out = Buffer.alloc(64);
    return Array.from({ length: 2000 }, () => {
      const length = mutate(random, corpus, out);
      lengths.add(length);
      return out.toString('hex', 0, length);
    });
  };
  expect(all(1)).toEqual(all(1));
  expect(all(1)).not.toEqual(all(2));
  expect(new Set(all(1)).size).toBeGreaterThan(1500);
  expect(Math.min(...lengths)).toBe(0);
  expect(Math.max(...lengths)).toBe(64);
});
