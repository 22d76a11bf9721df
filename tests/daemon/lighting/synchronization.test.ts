import { afterEach, describe, expect, it } from 'vitest';
import { ADDRESS_PRIORITY_START_CODE } from '../../../src/protocols/sacn/address-priority.js';
import { decodeSacn } from '../../../src/protocols/sacn/decode.js';
import {
  createSacnReceiver,
  receiveSacnData,
  receiveSacnSync,
} from '../../../src/protocols/sacn/receiver.js';
import { artnetPlan, Listener, LOOPBACK, Rig, sacnPlan } from './support.js';

const SACN = 5568;
const ARTNET = 6454;
const TWO = [
  { index: 0, onWire: 6101 },
  { index: 1, onWire: 6102 },
];

let open: Listener[] = [];
let rig: Rig | undefined;

async function listen(port: number): Promise<Listener> {
  const listener = await Listener.open(port, `${LOOPBACK}.61.2`);
  open.push(listener);
  return listener;
}

afterEach(async () => {
  for (const one of open) one.close();
  open = [];
  await rig?.close();
  rig = undefined;
});

describe('E1.31 synchronization', () => {
  it('one packet follows the levels of each beat, and none a beat without levels', async () => {
    const listener = await listen(SACN);
    rig = await Rig.open({ outputs: [sacnPlan({ universes: TWO, sync: 7962 })] });
    await rig.beat(30, (levels, beat) => levels.fill(beat));
    const packets = (await listener.all()).map(bytes => decodeSacn(bytes));
    const kinds = packets.map(packet =>
      packet.kind === 'data' ? packet.universe : packet.kind === 'sync' ? 'sync' : packet.kind,
    );
    expect(kinds.filter(kind => kind !== 'discovery')).toEqual(
      Array.from({ length: 30 }, () => [6101, 6102, 'sync']).flat(),
    );
    const syncs = packets.flatMap(packet => (packet.kind === 'sync' ? [packet] : []));
    expect(syncs.map(({ sequence }) => sequence)).toEqual(syncs.map((_, i) => i + 1));
    expect(new Set(syncs.map(({ syncAddress }) => syncAddress))).toEqual(new Set([7962]));
    // Levels that stay leave three times more, and then each 0.9 s (E1.31 6.6.2): syncs with them alone.
    await rig.beat(40);
    const later = (await listener.all()).map(bytes => decodeSacn(bytes).kind);
    expect(later.filter(kind => kind === 'sync')).toHaveLength(
      later.filter(kind => kind === 'data').length / 2,
    );
  });

  it('levels wait only when a receiver that knew another process takes its packets again', async () => {
    const listener = await listen(SACN);
    rig = await Rig.open({ outputs: [sacnPlan({ sync: 7962 })] });
    await rig.beat(30, (levels, beat) => levels.fill(beat));
    const data = (await listener.all())
      .map(bytes => decodeSacn(bytes))
      .flatMap(packet => (packet.kind === 'data' ? [packet] : []));
    const addresses = data.map(({ syncAddress }) => syncAddress);
    // E1.31 6.7.2: up to 20 numbers below the last one are discarded.
    expect(addresses).toEqual([...Array(20).fill(0), ...Array(10).fill(7962)]);
    expect(data.map(({ forceSync }) => forceSync)).toEqual(addresses.map(one => one > 0));
  });

  it('a receiver by the rules of the standard shows both universes at one moment, and none is left behind', async () => {
    const listener = await listen(SACN);
    rig = await Rig.open({ outputs: [sacnPlan({ universes: TWO, sync: 7962 })] });
    const receiver = createSacnReceiver([6101, 6102]);
    const seen = () => receiver.universes.map(({ levels }) => levels[0]);
    const shown: (number | undefined)[][] = [];
    for (let beat = 1; beat <= 40; beat++) {
      await rig.beat(1, levels => levels.fill(beat));
      for (const bytes of await listener.all()) {
        const packet = decodeSacn(bytes);
        if (packet.kind === 'data') receiveSacnData(receiver, packet, LOOPBACK, rig.nowS);
        if (packet.kind === 'sync') receiveSacnSync(receiver, packet, rig.nowS);
        if (beat > 22) shown.push(seen());
      }
    }
    expect(shown.every(([a, b]) => a === b)).toBe(true);
    expect(seen()).toEqual([40, 40]);
  });

  it('goes by multicast to the group of its own universe', async () => {
    // 7962 = 0x1f1a (Table 9-10).
    const group = await Listener.open(SACN, '239.255.31.26');
    open.push(group);
    rig = await Rig.open({ outputs: [sacnPlan({ to: 'multicast', sync: 7962 })] });
    await rig.beat(2, (levels, beat) => levels.fill(beat));
    expect((await group.all()).map(bytes => decodeSacn(bytes).kind)).toEqual(['sync', 'sync']);
  });

  it('the last levels do not wait for one that never comes', async () => {
    const listener = await listen(SACN);
    rig = await Rig.open({ outputs: [sacnPlan({ sync: 7962 })] });
    await rig.beat(25, (levels, beat) => levels.fill(beat));
    await listener.all();
    rig.levels.fill(200);
    await rig.output.terminate();
    const kinds = (await listener.all()).map(bytes => decodeSacn(bytes)).map(({ kind }) => kind);
    expect(kinds.filter(kind => kind === 'sync').length).toBeGreaterThan(0);
    expect(kinds.at(-1)).toBe('sync');
  });
});

it('ArtSync follows the levels of a beat', async () => {
  const listener = await listen(ARTNET);
  rig = await Rig.open({ outputs: [artnetPlan({ universes: TWO, sync: true })] });
  await rig.beat(3, (levels, beat) => levels.fill(beat + 1));
  // OpDmx 0x5000, OpSync 0x5200.
  const codes = (await listener.all()).map(bytes => bytes.readUInt16LE(8).toString(16));
  expect(codes).toEqual(Array.from({ length: 3 }, () => ['5000', '5000', '5200']).flat());
});

describe('per-address priority', () => {
  const OURS = [{ index: 0, onWire: 6101, ours: [[0, 3] as const, [510, 2] as const] }];
  const decoded = async (listener: Listener) =>
    (await listener.all())
      .map(bytes => decodeSacn(bytes))
      .flatMap(packet => (packet.kind === 'data' ? [packet] : []));

  it('comes before the first levels, three times more, and then each 0.9 s, in one count with them', async () => {
    const listener = await listen(SACN);
    rig = await Rig.open({ outputs: [sacnPlan({ universes: OURS, priority: 120 })] });
    await rig.beat(80, (levels, beat) => levels.fill(beat));
    const packets = await decoded(listener);
    expect(packets[0]?.startCode).toBe(ADDRESS_PRIORITY_START_CODE);
    const slots = [...(packets[0]?.slots ?? [])];
    expect(slots.slice(0, 5)).toEqual([120, 120, 120, 0, 0]);
    expect(slots.slice(508)).toEqual([0, 0, 120, 120]);
    const at = packets.flatMap(({ startCode }, i) => (startCode === 0xdd ? [i] : []));
    expect(at.slice(0, 4)).toEqual([0, 2, 4, 6]);
    // 80 beats are 2 s: at 0.075, 0.975 and 1.875 s.
    expect(at).toHaveLength(6);
    expect(packets.map(({ sequence }) => sequence)).toEqual(packets.map((_, i) => (i + 1) % 256));
    expect(packets.every(({ priority }) => priority === 120)).toBe(true);
  });

  it('is off where nobody asked, and ends with the stream', async () => {
    const listener = await listen(SACN);
    rig = await Rig.open({ outputs: [sacnPlan()] });
    await rig.beat(5);
    expect((await decoded(listener)).every(({ startCode }) => startCode === 0)).toBe(true);
    await rig.close();
    rig = await Rig.open({ outputs: [sacnPlan({ universes: OURS })] });
    await rig.beat(5);
    await listener.all();
    await rig.output.terminate();
    const last = await decoded(listener);
    expect(last.length).toBeGreaterThan(0);
    expect(last.every(({ startCode }) => startCode === 0)).toBe(true);
  });
});
