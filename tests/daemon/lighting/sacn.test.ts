import { Packet } from 'sacn';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { decodeSacn } from '../../../src/protocols/sacn/decode.js';
import { CID, Listener, LOOPBACK, Rig, sacnPlan } from './support.js';

/** Decoder: the `Packet` class of npm `sacn` (Apache-2.0); what it lacks is read by the tables of E1.31. */

const PORT = 5568;
/** Option bit 6 (E1.31 6.2.6), at octet 112 (Table 4-1). */
const isTerminated = (bytes: Buffer) => ((bytes[112] ?? 0) & 0x40) !== 0;
const isOurs = (bytes: Buffer) => bytes.subarray(22, 38).equals(CID);
const firstSlot = (bytes: Buffer) => bytes[126];

let listener: Listener;
let rig: Rig | undefined;

beforeEach(async () => {
  listener = await Listener.open(PORT, `${LOOPBACK}.61.2`);
});

afterEach(async () => {
  listener.close();
  await rig?.close();
  rig = undefined;
});

describe('levels by sACN', () => {
  it('reach a receiver by unicast, read by npm sacn', async () => {
    rig = await Rig.open({
      outputs: [
        sacnPlan({
          universes: [
            { index: 0, onWire: 6101 },
            { index: 1, onWire: 6102 },
          ],
          priority: 137,
        }),
      ],
    });
    await rig.beat(1, levels => levels.set([1, 2, 3], 512));
    const [first, second, ...more] = (await listener.all()).map(bytes => new Packet(bytes));
    expect(more).toEqual([]);
    expect(first).toMatchObject({ universe: 6101, priority: 137, sourceName: 'The Salt Lantern' });
    expect(second).toMatchObject({ universe: 6102, priority: 137, cid: Buffer.from(CID) });
    expect(second?.payloadAsBuffer?.subarray(0, 4)).toEqual(Buffer.from([1, 2, 3, 0]));
    expect(second?.payloadAsBuffer).toHaveLength(512);
  });

  it('reach every destination in the same packet, sequence and all', async () => {
    const other = await Listener.open(PORT, `${LOOPBACK}.61.3`);
    rig = await Rig.open({ outputs: [sacnPlan({ to: [`${LOOPBACK}.61.2`, `${LOOPBACK}.61.3`] })] });
    await rig.beat(5, (levels, beat) => levels.fill(beat));
    const here = await listener.all();
    const there = await other.all();
    other.close();
    expect(here.map(firstSlot)).toEqual([0, 1, 2, 3, 4]);
    expect(there).toEqual(here);
    expect(here.map(bytes => new Packet(bytes).sequence)).toEqual([1, 2, 3, 4, 5]);
  });

  it('reach a receiver by multicast on the loopback interface', async () => {
    // Table 9-10: 239.255 and the two bytes of the universe, 6101 = 0x17d5.
    const group = await Listener.open(PORT, '239.255.23.213');
    rig = await Rig.open({ outputs: [sacnPlan({ to: 'multicast' })] });
    await rig.beat(1, levels => levels.fill(77));
    const heard = (await group.all()).filter(isOurs);
    group.close();
    expect(heard.map(firstSlot)).toEqual([77]);
    expect(await listener.all()).toEqual([]);
  });

  it('go to the universes of each output, and from one show to two networks', async () => {
    const other = await Listener.open(PORT, `${LOOPBACK}.61.3`);
    rig = await Rig.open({
      outputs: [
        sacnPlan({ universes: [{ index: 1, onWire: 12 }] }),
        sacnPlan({
          name: 'balcony',
          interface: `${LOOPBACK}.61.9`,
          to: [`${LOOPBACK}.61.3`],
          universes: [{ index: 0, onWire: 6101 }],
          priority: 90,
        }),
      ],
    });
    await rig.beat(1, levels => levels.fill(5, 512));
    const here = (await listener.all()).map(bytes => new Packet(bytes));
    const there = (await other.all()).map(bytes => new Packet(bytes));
    other.close();
    expect(here).toMatchObject([
      { universe: 12, priority: 100, payload: { 1: expect.any(Number) } },
    ]);
    expect(there).toMatchObject([{ universe: 6101, priority: 90, payload: {} }]);
  });

  it('of a thousand universes all go out in one beat', async () => {
    const universes = Array.from({ length: 1100 }, (_, index) => ({ index, onWire: index + 1 }));
    rig = await Rig.open({ outputs: [sacnPlan({ universes })] });
    await rig.beat();
    await listener.all();
    const [line] = rig.output.counters.interfaces;
    // And one packet of Universe Discovery for each 512 universes (Table 8-9).
    expect(line).toMatchObject({ packets: 1100 + 3, skippedBusy: 0, sendErrors: 0 });
    // 638 bytes each (Table B-13), and 120 with 2 bytes a universe.
    expect(line?.bytes).toBe(1100 * 638 + 3 * 120 + 1100 * 2);
  });

  it('of another length are refused in words', async () => {
    rig = await Rig.open({ outputs: [sacnPlan()] });
    const { output } = rig;
    expect(() => output.send(new Uint8Array(511), 0)).toThrow(
      'levels of 1 universes are 512 bytes, not 511',
    );
  });
});

describe('the pace of sACN', () => {
  it('follows E1.31 6.6.2: a change, three repeats, then every 0.8 to 1 s', async () => {
    rig = await Rig.open({ outputs: [sacnPlan()] });
    const atS: number[] = [];
    for (let beat = 0; beat < 200; beat++) {
      const before = rig.output.counters.streams[0]?.sent;
      const nowS = rig.nowS;
      await rig.beat();
      if (rig.output.counters.streams[0]?.sent !== before) atS.push(nowS - 1000);
    }
    const gaps = atS.slice(1).map((s, i) => s - (atS[i] ?? 0));
    expect(gaps.slice(0, 3)).toEqual([0.025, 0.025, 0.025].map(s => expect.closeTo(s, 6)));
    expect(gaps.length).toBeGreaterThan(6);
    for (const gap of gaps.slice(3)) {
      expect(gap).toBeGreaterThanOrEqual(0.8);
      expect(gap).toBeLessThanOrEqual(1);
    }
    const sequences = (await listener.all()).map(bytes => new Packet(bytes).sequence);
    expect(sequences).toEqual(atS.map((_, i) => i + 1));
  });

  it('is counted for each universe of each output', async () => {
    const universes = [
      { index: 0, onWire: 1 },
      { index: 1, onWire: 2 },
    ];
    rig = await Rig.open({ outputs: [sacnPlan({ universes })] });
    expect(rig.output.counters.streams[1]?.lastSentS).toBe(Number.NEGATIVE_INFINITY);
    // Only the second changes all the time.
    await rig.beat(11, (levels, beat) => levels.fill(beat, 512));
    expect(rig.output.counters.streams).toEqual([
      { output: 'stage', universe: 1, sent: 4, lastSentS: expect.closeTo(1000.075, 6) },
      { output: 'stage', universe: 2, sent: 11, lastSentS: expect.closeTo(1000.25, 6) },
    ]);
  });
});

describe('Universe Discovery', () => {
  it('lists the universes of an interface, every 10 s, on that interface (E1.31 4.3 and 8)', async () => {
    // Appendix A: universe 64214.
    const group = await Listener.open(PORT, '239.255.250.214');
    rig = await Rig.open({
      outputs: [
        sacnPlan({ universes: [{ index: 0, onWire: 700 }] }),
        sacnPlan({ name: 'pit', universes: [{ index: 1, onWire: 20 }], to: [`${LOOPBACK}.61.3`] }),
      ],
    });
    await rig.beat(1 + 30 / 0.025);
    const heard = (await group.all()).filter(isOurs);
    group.close();
    // At 0, 10, 20 and 30 s.
    expect(heard).toHaveLength(4);
    // Table 8-9: page 0 of 0, then the universes, ascending; 20 = 0x0014, 700 = 0x02bc.
    expect(heard[0]?.subarray(118).toString('hex')).toBe('0000001402bc');
    expect(heard[0]?.toString('latin1', 44, 60)).toBe('The Salt Lantern');
    expect(decodeSacn(heard[3] ?? Buffer.alloc(0))).toMatchObject({
      kind: 'discovery',
      universes: [20, 700],
    });
  });
});

/** These wait for the beats of the packets that end a stream, which `terminate` paces itself: 0.1 s. */
describe('the end of a stream', () => {
  it('is told three times, after the levels that were wanted last (E1.31 6.2.6)', async () => {
    let nowS = 1001;
    const now = () => {
      nowS += 0.025;
      return nowS;
    };
    rig = await Rig.open({ outputs: [sacnPlan()], now });
    await rig.beat(40, (levels, beat) => levels.fill(beat));
    // A change that the rate has kept from leaving.
    rig.levels.fill(40);
    await rig.output.terminate();
    await rig.beat(100);
    const heard = await listener.all();
    expect(heard.map(isTerminated)).toEqual([...new Array(41).fill(false), true, true, true]);
    expect(heard.slice(-5).map(firstSlot)).toEqual([39, 40, 40, 40, 40]);
    const sequences = heard.map(bytes => new Packet(bytes).sequence);
    expect(sequences).toEqual(heard.map((_, i) => i + 1));
  });

  // The levels of the last beat have gone out this instant, and the rate of the output holds.
  it.each([
    { beatS: 1 / 44, rateHz: 44 },
    { beatS: 1 / 40, rateHz: 40 },
    { beatS: 1 / 40, rateHz: 30 },
    { beatS: 1 / 40, rateHz: 10 },
  ])('is told three times at $rateHz Hz, on the real clock', async ({ beatS, rateHz }) => {
    const now = () => performance.now() / 1000;
    rig = await Rig.open({ outputs: [sacnPlan({ rateHz })], beatS, now });
    rig.output.send(rig.levels, now());
    await rig.output.terminate();
    expect((await listener.all()).map(isTerminated)).toEqual([false, true, true, true]);
  });

  it('says nothing of universes that were never sent', async () => {
    rig = await Rig.open({ outputs: [sacnPlan()] });
    await rig.output.terminate();
    expect(await listener.all()).toEqual([]);
  });
});

it('is one stream with one sequence to a group and to addresses', async () => {
  const group = await Listener.open(PORT, '239.255.23.213'); // universe 6101
  const gateway = await Listener.open(PORT, `${LOOPBACK}.61.6`);
  const rig = await Rig.open({ outputs: [sacnPlan({ to: ['multicast', `${LOOPBACK}.61.6`] })] });
  await rig.beat(5, (levels, beat) => levels.fill(beat));
  const data = (heard: readonly Buffer[]) =>
    heard.filter(isOurs).map(bytes => bytes.toString('hex'));
  const [toGroup, toGateway] = [data(await group.all()), data(await gateway.all())];
  expect(toGroup).toHaveLength(5);
  expect(toGateway).toEqual(toGroup);
  await rig.close();
  group.close();
  gateway.close();
});
