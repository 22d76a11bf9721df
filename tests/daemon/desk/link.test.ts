import { afterEach, beforeEach, expect, test } from 'vitest';
import { DeskLink } from '../../../src/daemon/desk/link.js';
import type { LightingOutput } from '../../../src/daemon/lighting/lighting-output.js';
import type { DeskLevels } from '../../../src/engine/values/inputs.js';
import { createDmxPacket } from '../../../src/protocols/artnet/dmx-packet.js';
import { SOLO } from '../../engine/shows.js';
import { showOf } from '../../show/show-of.js';

const clock = { nowS: 100 };

/** The loopback: it is the one interface that each machine has. */
const HERE = '127.0.0.1';
/** One that needs the enable. */
const HAZE = SOLO.replace(
  /^fixtures:\n/m,
  match => `${match}  haze: { profile: dimmer, universe: 1, address: 500, hazard: atmospheric }\n`,
);
const SHOW = showOf(`${HAZE}desk: { control: { protocol: artnet, universe: 4, interface: ${HERE} } }
orders: [{ slot: [control, 9], enable: atmospheric }, { slot: [control, 4], stop: ines, held: true }]
`);

/** What the engine is told: slots 4 and 9, whether the desk is heard, and whether it is silent. */
let told: (readonly [held: number, enable: number, heard: boolean, silent: boolean])[] = [];
let link: DeskLink;

beforeEach(() => {
  told = [];
  const lighting = { own: { has: () => true, sendsArtnet: () => false } };
  link = new DeskLink({
    now: () => clock.nowS,
    standby: false,
    cid: () => new Uint8Array(16),
    lighting: () => lighting as unknown as LightingOutput,
    tell: (news: readonly DeskLevels[]) => {
      for (const { levels, heard, silent } of news) {
        told.push([levels[3] ?? 0, levels[8] ?? 0, heard, silent === true]);
      }
      return true;
    },
    frameS: () => clock.nowS,
    onEvent: () => {},
  });
  link.take(SHOW);
  link.tend(clock.nowS);
});
afterEach(() => link.giveWay());

const packet = createDmxPacket({ portAddress: 4, slotCount: 512 });
async function say(held: number, enable: number): Promise<void> {
  packet.slots[3] = held;
  packet.slots[8] = enable;
  packet.advanceSequence();
  link.hear('artnet', packet.buffer, '127.0.0.9', HERE);
  // It tells of all that comes in one turn of the loop.
  await new Promise(done => setImmediate(done));
}
function later(seconds: number): void {
  for (let i = 0; i < seconds * 40; i++) {
    clock.nowS += 1 / 40;
    link.tend(clock.nowS);
  }
}

test('Art-Net without a packet for 2.5 s is silent, and gone after 10 s', async () => {
  await say(0, 255);
  later(2.4);
  expect(told).toEqual([[0, 255, true, false]]);
  later(0.2);
  expect(told.slice(1)).toEqual([[0, 255, true, true]]);
  later(8);
  expect(told.slice(2)).toEqual([[0, 255, false, true]]);
  await say(0, 255);
  expect(told.slice(3)).toEqual([[0, 255, true, false]]);
});

test('a new engine is told what the one before it knew, and then what is now', async () => {
  await say(255, 0);
  later(0.5);
  await say(0, 0);
  told = [];
  link.tellNew();
  expect(told.map(([held]) => held)).toEqual([255, 0]);
});
