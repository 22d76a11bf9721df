import { Decoder } from '@jwetzell/posistagenet';
import { describe, expect, it } from 'vitest';
import { encodeNames, encodeRound } from '../../src/engine/encode-positions.js';
import {
  createPositionsOut,
  lostRound,
  type PositionRound,
  positionsDue,
  silentRound,
} from '../../src/engine/positions-out.js';
import type { PositionsPlan } from '../../src/show/model/model.js';
import { Rig } from './harness.js';
import { HOUSE } from './shows.js';

const SHOW = `${HOUSE}exits:
  door: { polygon: [[-2, 6.5], [1.2, 6.5], [1.2, 8], [-2, 8]] }
operator: { port: 9011 }
receivers:
  rack: { address: 127.0.0.1, port: 9050 }
positions:
  sound:
    { to: rack, protocol: osc, address: "/source/{id}/{performer}", arguments: [x, y, z, confidence, state], ids: { tobias: 1 }, ahead: 0.1, rate: 20, unit: mm, axes: [-y, x, z] }
  video: { to: rack, protocol: psn, axes: [x, z, y], rate: 60, performers: [tobias] }
`;
const STOVE = [2, 6] as const;

/** Runs, and keeps the rounds of an output. */
class Told extends Rig {
  readonly out = createPositionsOut(this.show);
  readonly rounds: PositionRound[] = [];

  play(seconds: number, places: Parameters<Rig['run']>[1] = {}): this {
    return this.run(seconds, places, () => {
      this.rounds.push(...positionsDue(this.out, this.view, this.nowS));
    });
  }

  of(output: string): readonly PositionRound[] {
    return this.rounds.filter(one => one.output === output);
  }

  last(output: string): PositionRound {
    const round = this.of(output).at(-1);
    if (round === undefined) throw new Error('no round');
    return round;
  }

  plan(name: string): PositionsPlan {
    const plan = this.show.positions.find(one => one.name === name);
    if (plan === undefined) throw new Error('no plan');
    return plan;
  }
}

/** Ethernet's 1500 bytes less the heads of IPv4 (RFC 791) and UDP (RFC 768). */
const MOST_BYTES = 1500 - 20 - 8;

describe('positions of many', () => {
  it('go in as many bundles as fit a packet each, in their order', () => {
    const names = Array.from({ length: 60 }, (_, i) => `p${i}`);
    const rig = new Told(
      SHOW.replace(
        'performers:\n',
        `performers:\n${names.map((name, i) => `  ${name}: { trackers: [${100 + i}] }`).join('\n')}\n`,
      ).replace('rate: 20,', 'rate: 20, bundle: true,'),
    ).play(1, { 1: STOVE });
    const plan = rig.plan('sound');
    const packets = encodeRound(plan, rig.last('sound'), rig.nowS, 1);
    expect(packets.length).toBeGreaterThan(1);
    for (const one of packets) expect(one.length).toBeLessThanOrEqual(MOST_BYTES);
    // None has room for what is in the next one.
    const words = packets.map(
      one => one.toString('latin1').match(/\/source\/\d+\/[a-z0-9]+/g) ?? [],
    );
    packets.slice(1).forEach((next, i) => {
      const first = next.readInt32BE(16) + 4;
      expect((packets[i] as Buffer).length + first).toBeGreaterThan(MOST_BYTES);
    });
    expect(words.flat().map(word => word.split('/').at(-1))).toEqual(
      plan.performers.map(({ name }) => name),
    );
  });

  it('before an engine has said anything are not heard, in the middle of the stage, without confidence', () => {
    const rig = new Told(SHOW);
    expect(silentRound(rig.out, rig.plan('sound'))).toEqual({
      output: 'sound',
      atS: 0,
      performers: rig.plan('sound').performers.map(() => ({
        state: 'not heard',
        confidence: 0,
        at: [5, 4, 1.5],
        velocity: [0, 0, 0],
      })),
    });
  });
});

describe('positions for others', () => {
  it('come as often as is asked, and no more often than the tick', () => {
    const rig = new Told(SHOW).play(2, { 1: STOVE, 2: [8, 7] });
    // At the beginning, and 20 times a second from then on.
    expect([40, 41]).toContain(rig.of('sound').length);
    expect(rig.of('video').length).toBe(80);
  });

  it('are smoothed, and predicted to when they hold: of who walks, where they will be', () => {
    const rig = new Told(SHOW).play(4, t => ({ 1: [2 + t, 6], 2: [8, 7] }));
    const [ines] = rig.last('sound').performers;
    // The last report was at 3.975 s, the tick of the round 25 ms later at most, and 0.1 s ahead.
    expect(rig.last('sound').atS).toBeGreaterThan(rig.nowS + 0.05);
    expect(Math.abs((ines?.at[0] ?? 0) - (2 + 3.975 + 0.1))).toBeLessThan(0.08);
    expect(ines?.velocity[0]).toBeGreaterThan(0.75);
    expect(ines?.velocity[0]).toBeLessThan(1.25);
    expect(ines).toMatchObject({ state: 'tracked' });
    expect(ines?.confidence).toBeGreaterThan(0.9);
  });

  it('say who was never heard, who is lost and who is off stage; where they were stands', () => {
    const rig = new Told(SHOW).play(4, { 1: STOVE });
    expect(rig.last('sound').performers.map(one => one.state)).toEqual(['tracked', 'not heard']);
    expect(rig.last('sound').performers[1]?.at).toEqual([5, 4, expect.any(Number)]);
    const before = rig.last('sound').performers[0]?.at ?? [];
    rig.play(4);
    const [ines] = rig.last('sound').performers;
    expect(ines).toMatchObject({ state: 'lost', confidence: 0, velocity: [0, 0, 0] });
    for (const axis of [0, 1, 2]) {
      expect(Math.abs((ines?.at[axis] ?? 9) - (before[axis] ?? 0))).toBeLessThan(0.2);
    }
    const walk = (t: number) => ({
      1: [2 - 0.8 * Math.min(2.4, t), 6 + 0.5 * Math.min(2.4, t)] as const,
    });
    const gone = new Told(SHOW).play(6, { 1: STOVE }).play(5, walk).play(6);
    expect(gone.last('sound').performers[0]).toMatchObject({ state: 'off stage', confidence: 0 });
  });

  it('of who is stopped go on: the light is stopped, and not the tracking', () => {
    const rig = new Told(SHOW).play(4, { 1: STOVE, 2: [8, 7] });
    rig.order({ kind: 'stop', performer: 'ines', cause: 'command' });
    rig.play(4, { 1: STOVE, 2: [8, 7] });
    expect(rig.phase('ines')).toBe('safe');
    expect(rig.last('sound').performers[0]).toMatchObject({ state: 'tracked' });
    rig.play(4, { 2: [8, 7] });
    expect(rig.last('sound').performers[0]).toMatchObject({ state: 'lost', confidence: 0 });
  });

  it('while there is no engine nobody is tracked, and nobody is moved', () => {
    const rig = new Told(SHOW).play(4, { 1: STOVE });
    const round = rig.last('sound');
    const lost = lostRound(round, 7);
    expect(lost.performers.map(one => one.state)).toEqual(['lost', 'not heard']);
    expect(lost.performers.map(one => one.at)).toEqual(round.performers.map(one => one.at));
    expect(lost.performers.every(({ confidence }) => confidence === 0)).toBe(true);
  });

  it('over a reload who is lost stays where they were', () => {
    const rig = new Told(SHOW).play(4, { 1: STOVE });
    const next = createPositionsOut(rig.show, rig.out);
    expect(next.places.get('ines')).toEqual(rig.out.places.get('ines'));
    expect(next.places.get('ines')?.[0]).toBeCloseTo(2, 1);
  });
});

describe('on the wire', () => {
  const round: PositionRound = {
    output: 'sound',
    atS: 12.5,
    performers: [
      { state: 'tracked', confidence: 0.75, at: [2, 6, 1.5], velocity: [0.5, -1, 0] },
      { state: 'lost', confidence: 0, at: [8, 7, 1], velocity: [0, 0, 0] },
    ],
  };

  it('a message of OSC 1.0 a performer, by the template', () => {
    const rig = new Told(SHOW);
    const datagrams = encodeRound(rig.plan('sound'), round, 12.4, 1);
    // Address, types, then big-endian float32 and text, each in whole fours (OSC 1.0). Ines: -y, x, z in millimetres.
    expect(datagrams.map(one => one.toString('latin1'))).toEqual([
      `/source/2/ines\0\0,ffffs\0\0${hex('c5bb8000 44fa0000 44bb8000 3f400000')}tracked\0`,
      `/source/1/tobias\0\0\0\0,ffffs\0\0${hex('c5dac000 45fa0000 447a0000 00000000')}lost\0\0\0\0`,
    ]);
  });

  it('or one bundle', () => {
    const rig = new Told(SHOW.replace('rate: 20,', 'rate: 20, bundle: true,'));
    const [bundle, ...others] = encodeRound(rig.plan('sound'), round, 12.4, 1);
    expect(others).toEqual([]);
    expect(bundle?.toString('hex').slice(0, 32)).toBe('2362756e646c65000000000000000001');
  });

  it('PosiStageNet, as its peer reads it; to the byte', () => {
    const rig = new Told(SHOW);
    const plan = rig.plan('video');
    const video = { ...round, performers: round.performers.slice(0, 1) };
    const [data] = encodeRound(plan, video, 12.4, 3);
    expect(data?.toString('hex')).toBe(
      [
        '5567 4c80', // data packet: 76 bytes of chunks
        '0000 0c00 8035bd0000000000 02 03 03 01', // 12 400 000 us, version 2.03, frame 3, 1 packet
        '0100 3880', // trackers
        '0100 3480', // tracker 1
        '0000 0c00 00000040 0000c03f 0000c040', // position: x 2, z 1.5, y 6
        '0100 0c00 0000003f 00000000 000080bf', // speed
        '0300 0400 0000403f', // status: 0.75
        '0600 0800 20bcbe0000000000', // 12 500 000 us
      ]
        .join('')
        .replaceAll(' ', ''),
    );
    const peer = new Decoder();
    for (const one of [
      ...encodeRound(plan, video, 12.4, 3),
      ...encodeNames(plan, 'Harbour', 12.4, 3),
    ]) {
      peer.decode(one);
    }
    expect(peer.systemName).toBe('Harbour');
    expect(peer.trackers[1]).toMatchObject({ validity: 0.75, pos: { x: 2, y: 1.5, z: 6 } });
    expect(peer.trackers[1]?.name).toBe(plan.performers[0]?.label);
  });
});

function hex(text: string): string {
  return Buffer.from(text.replaceAll(' ', ''), 'hex').toString('latin1');
}
