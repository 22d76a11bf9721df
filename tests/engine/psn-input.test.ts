import { describe, expect, it } from 'vitest';
import { encodePsnData, type PsnTrackerData } from '../../src/protocols/psn/encode.js';
import { Rig } from './harness.js';
import { SOLO } from './shows.js';

/** The show of one performer, tracked by PosiStageNet: x to stage left, y up, z upstage. */
const psnShow = (keys = '') =>
  SOLO.replace(
    / {4}port: 9010\n {4}routes:.*\n/,
    `    { protocol: psn, axes: [x, z, y]${keys} }\n`,
  );
const SERVER_S = 12_345;

class PsnRig extends Rig {
  #frame = 0;

  /** A frame from a server whose clock began long before ours. */
  frame(trackers: readonly PsnTrackerData[]): this {
    this.#frame += 1;
    const timeUs = (this.nowS - 1000 + SERVER_S) * 1e6;
    for (const packet of encodePsnData({ timeUs, number: this.#frame }, trackers))
      this.receive(packet);
    return this;
  }

  walk(seconds: number, more: Partial<PsnTrackerData> = {}, stamped = true): this {
    for (let n = 0; n < seconds * 40; n++) {
      const timestampUs = (this.nowS - 1000 + SERVER_S - 0.01) * 1e6;
      const stamp = stamped ? { timestampUs } : {};
      this.frame([{ id: 1, position: [5 + 0.001 * n, 1.6, 4], validity: 1, ...stamp, ...more }]);
      this.tick();
    }
    return this;
  }

  get drops() {
    return Object.entries(this.view.counters.drops).filter(([, count]) => count > 0);
  }

  get performer() {
    const [first] = this.view.performers;
    if (first === undefined) throw new Error('nobody');
    return first;
  }
}

describe('positions by PosiStageNet', () => {
  it('go by their axes into the stage frame, and the performer goes live', () => {
    const rig = new PsnRig(psnShow()).walk(4);
    expect(rig.performer.phase).toBe('live');
    const { x, y, z } = rig.performer.estimate;
    for (const [is, sent] of [
      [x, 5.16],
      [y, 4],
      [z, 1.6],
    ] as const) {
      expect(Math.abs(is - sent)).toBeLessThan(0.1);
    }
    expect(rig.drops).toEqual([]);
  });

  it('are as old as their timestamps say, on a clock that is followed', () => {
    const rig = new PsnRig(psnShow()).walk(2);
    expect(rig.view.inputs[0]?.clockOffsetS).toBeCloseTo(1000 - SERVER_S + 0.01, 3);
    const plain = new PsnRig(psnShow(', stamps: ignored')).walk(2);
    expect(plain.view.inputs[0]?.clockOffsetS).toBeNaN();
  });

  it('without timestamps count from when they arrive, unless the show requires one', () => {
    expect(new PsnRig(psnShow()).walk(4, {}, false).performer.phase).toBe('live');
    const strict = new PsnRig(psnShow(', stamps: required')).walk(4);
    expect(strict.performer.phase).toBe('live');
    strict.walk(3, {}, false);
    expect(strict.performer).toMatchObject({ phase: 'safe', cause: 'sensor-clock-gone' });
  });

  it('have their status for quality: at nothing the light goes to safe', () => {
    const rig = new PsnRig(psnShow()).walk(4);
    rig.walk(4, { validity: 0 });
    expect(rig.performer.phase).toBe('safe');
    expect(new PsnRig(psnShow(', quality: [0, 100]')).walk(4, { validity: 100 }).drops).toEqual([]);
  });

  it('of many trackers come in several packets a frame', () => {
    const rig = new PsnRig(psnShow());
    const crowd = Array.from({ length: 60 }, (_, n) => ({
      id: 100 + n,
      position: [1, 1, 1] as const,
      speed: [0, 0, 0] as const,
      validity: 1,
      timestampUs: 1,
    }));
    rig.frame([...crowd, { id: 1, position: [5, 1.6, 4] }]).tick();
    expect(rig.view.counters).toMatchObject({ datagrams: 3, positions: 1 });
    expect(rig.drops).toEqual([['unknown-tracker', 60]]);
  });

  it('are counted where they are none', () => {
    const rig = new PsnRig(psnShow());
    rig.receive(Buffer.from('/tracker/1/position'));
    rig.frame([{ id: 1 }]);
    rig.frame([{ id: 1, position: [Number.NaN, 0, 0] }]);
    rig.frame([{ id: 1, position: [0, 0, 0], validity: 1.5 }]);
    rig.frame([{ id: 1, position: [0, 0, 0], validity: Number.NaN }]);
    rig.frame([{ id: 1, position: [2e6, 0, 0] }]);
    rig.tick();
    expect(Object.fromEntries(rig.drops)).toEqual({
      'not-psn': 1,
      'no-position': 1,
      'not-finite': 2,
      'quality-range': 1,
      'position-range': 1,
    });
    expect(rig.view.counters.latest['no-position']).toBe('tracker 1');
  });
});
