// What the recorder alone costs: the ticks of the large house with their datagrams and changed levels, at
// their rate, given to the recorder or to nobody. The difference is its CPU, the writing of files included.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { EngineRecorder } from '../dist/daemon/recorder/engine-recorder.js';
import { encodePacket } from '../dist/protocols/osc/encode.js';
import { parseShow } from '../dist/show/parse.js';
import { HOUSE, houseShow } from './house.mjs';

/** Pan and tilt of 400 heads, two bytes each. */
const CHANGED_SLOTS = 1600;
/** What the feed of the bench sends at a time, and the engine takes in between two ticks. */
const TOGETHER = 10;
const NONE = [];
/** Pairs with and without; the machine's own unrest is as large as what is measured. */
const ROUNDS = 5;

export async function benchRecorder(seconds) {
  const text = houseShow();
  const parsed = parseShow(text, 'house.show.yaml');
  if (!parsed.ok) throw new Error('the house has errors');
  const folder = mkdtempSync(join(tmpdir(), 'lampwright-bench-'));
  const orders = { folder, parent: folder, partBytes: 256 << 20, partS: 3600, version: 'bench' };
  const source = { text, file: 'house.show.yaml', tickHz: HOUSE.outputHz };
  const recorder = new EngineRecorder(orders, parsed.show, source, news => console.log(news));
  await percentOf(parsed.show, recorder, 3);
  const more = [];
  for (let round = 0; round < ROUNDS; round++) {
    const without = await percentOf(parsed.show, undefined, seconds / ROUNDS);
    more.push((await percentOf(parsed.show, recorder, seconds / ROUNDS)) - without);
  }
  await recorder.close();
  rmSync(folder, { recursive: true });
  more.sort((a, b) => a - b);
  const median = more[Math.floor(ROUNDS / 2)];
  const each = more.map(value => value.toFixed(2)).join(', ');
  console.log(
    `\nThe recorder alone, per cent of one core: ${median.toFixed(2)} % (rounds: ${each})`,
  );
  return median;
}

async function percentOf(show, recorder, seconds) {
  const perTick = Math.round((HOUSE.performers * HOUSE.reportHz) / HOUSE.outputHz);
  const args = [1, 2, 3, 1].map(value => ({ type: 'f', value }));
  const bytes = encodePacket({ address: '/tracker/100/position', args });
  const levels = new Uint8Array(show.universes.length * 512);
  const slots = show.fixtures.flatMap(({ firstSlot, profile }) =>
    Array.from({ length: profile.footprint }, (_, i) => firstSlot + i),
  );
  const began = process.cpuUsage();
  const beganMs = performance.now();
  for (let tick = 0; tick < seconds * HOUSE.outputHz; tick++) {
    const nowS = tick / HOUSE.outputHz;
    const datagrams = Array.from({ length: perTick }, () => ({ input: 0, bytes, arrivalS: nowS }));
    for (let i = 0; i < CHANGED_SLOTS; i++) levels[slots[i]] = (tick * 7 + i) & 255;
    for (let from = 0; from < perTick; from += TOGETHER) {
      const some = { datagrams: datagrams.slice(from, from + TOGETHER), unixOffsetS: 1e9 };
      recorder?.intake('absorb', some, nowS);
    }
    recorder?.intake('tick', { datagrams: NONE, unixOffsetS: 1e9 }, nowS);
    recorder?.frame(levels, [], nowS);
    const waitMs = beganMs + ((tick + 1) * 1000) / HOUSE.outputHz - performance.now();
    await sleep(Math.max(0, waitMs));
  }
  const { user, system } = process.cpuUsage(began);
  return (user + system) / 1e4 / ((performance.now() - beganMs) / 1e3);
}
