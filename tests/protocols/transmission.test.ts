import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  createTransmission,
  decideTransmission,
  KEEP_ALIVE_S,
  type TransmissionDecision,
  terminateTransmission,
} from '../../src/protocols/transmission.js';

/** One packet as it left: when, why, and its first slot. */
interface Sent {
  atS: number;
  decision: TransmissionDecision;
  level: number;
}

/** Runs beats at the times given; `level(i)` is the level wanted at beat i. */
function run(
  beats: readonly number[],
  level: (beat: number) => number,
  options = { rateHz: 40, beatS: 0.025 },
  terminateAtBeat = Number.POSITIVE_INFINITY,
): Sent[] {
  const state = createTransmission();
  const levels = new Uint8Array(512);
  const slots = new Uint8Array(512);
  const sent: Sent[] = [];
  beats.forEach((atS, beat) => {
    if (beat === terminateAtBeat) terminateTransmission(state);
    levels[0] = level(beat);
    const decision = decideTransmission(state, options, levels, slots, atS);
    if (decision !== 'hold') sent.push({ atS, decision, level: slots[0] ?? -1 });
  });
  return sent;
}

const beats = (count: number, beatS = 0.025) => Array.from({ length: count }, (_, i) => i * beatS);
const gaps = (sent: readonly Sent[]) =>
  sent.slice(1).map((packet, i) => packet.atS - (sent[i]?.atS ?? 0));
const still = () => 0;
const moving = (beat: number) => beat & 0xff;

describe('unchanged levels (E1.31 6.6.2)', () => {
  it('go out once and three times more, then every 0.8 to 1 s', () => {
    const times = run(beats(200), still).map(packet => packet.atS);
    expect(times.slice(0, 4)).toEqual([0, 0.025, 0.05, 0.075].map(s => expect.closeTo(s, 9)));
    const later = gaps(run(beats(200), still)).slice(3);
    expect(later.length).toBeGreaterThan(3);
    for (const gap of later) expect(gap).toBeCloseTo(KEEP_ALIVE_S, 9);
  });

  it('a change starts the three repeats anew, whenever it comes', () => {
    const sent = run(beats(100), beat => (beat < 50 ? 0 : 9));
    const after = sent.filter(packet => packet.level === 9);
    expect(after[0]?.atS).toBeCloseTo(1.25, 9);
    expect(gaps(after.slice(0, 4))).toEqual([0.025, 0.025, 0.025].map(s => expect.closeTo(s, 9)));
    expect(gaps(after)[3]).toBeCloseTo(KEEP_ALIVE_S, 9);
  });

  it('stay within 0.8 to 1 s with beats of 25 ms that come up to 25 ms late', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0, max: 0.025, noNaN: true }), {
          minLength: 200,
          maxLength: 200,
        }),
        late => {
          const times = late.map((lateS, i) => i * 0.025 + lateS);
          const keepAlives = gaps(run(times, still)).filter(gap => gap > 0.2);
          expect(keepAlives.length).toBeGreaterThan(3);
          for (const gap of keepAlives) {
            expect(gap).toBeGreaterThanOrEqual(0.8);
            expect(gap).toBeLessThanOrEqual(1);
          }
        },
      ),
      { seed: 71 },
    );
  });

  it('a change that is taken back before it could leave is no change', () => {
    const options = { rateHz: 10, beatS: 0.025 };
    const flicker = run(beats(60), beat => (beat === 1 || beat === 2 ? 9 : 0), options);
    expect(flicker).toEqual(run(beats(60), still, options));
  });
});

describe('rate', () => {
  it('sends on every beat at the beat rate, also when every other beat is 2 ms late', () => {
    const jittered = beats(80).map((atS, i) => atS + (i % 2) * 0.002);
    expect(run(jittered, moving)).toHaveLength(80);
  });

  it.each([
    [30, [1, 1, 2]],
    [20, [2]],
    [10, [4]],
  ])('%i Hz out of 40 beats a second goes by a steady pattern', (rateHz, pattern) => {
    const sent = run(beats(400), moving, { rateHz, beatS: 0.025 });
    expect(sent.length).toBeGreaterThanOrEqual(rateHz * 10 - 1);
    expect(sent.length).toBeLessThanOrEqual(rateHz * 10 + 1);
    const steps = gaps(sent).map(gap => Math.round(gap / 0.025));
    // Every stretch as long as the pattern holds the same steps: no bunching.
    const sum = pattern.reduce((a, b) => a + b);
    for (let i = 0; i + pattern.length <= steps.length; i++) {
      const stretch = steps.slice(i, i + pattern.length).reduce((a, b) => a + b);
      expect(stretch).toBe(sum);
    }
    expect(Math.max(...steps)).toBe(Math.max(...pattern));
  });

  it('never exceeds 44 Hz whatever is asked for', () => {
    const fast = beats(1000, 0.001);
    const sent = run(fast, moving, { rateHz: 1000, beatS: 0.001 });
    for (const gap of gaps(sent)) expect(gap).toBeGreaterThanOrEqual(1 / 44 - 1e-9);
    expect(sent.length).toBeGreaterThan(41);
    expect(sent.length).toBeLessThanOrEqual(45);
  });

  it('starts anew after a pause instead of catching up', () => {
    const times = [...beats(40), ...beats(40).map(atS => atS + 10)];
    const sent = run(times, moving, { rateHz: 20, beatS: 0.025 });
    for (const gap of gaps(sent)) expect(gap).toBeGreaterThanOrEqual(0.05 - 1e-9);
  });

  it('a change that has to wait goes out at the next chance, with the newest levels', () => {
    const sent = run(beats(20), beat => (beat < 1 ? 0 : 50 + beat), { rateHz: 10, beatS: 0.025 });
    expect(sent.slice(0, 3).map(packet => packet.level)).toEqual([0, 54, 58]);
  });

  it('a rate below the keep-alive still carries changes with it, and repeats them', () => {
    const options = { rateHz: 0.1, beatS: 0.025 };
    const sent = run(beats(200), beat => (beat < 10 ? 0 : 9), options);
    expect(sent.slice(0, 2).map(packet => packet.level)).toEqual([0, 9]);
    for (const gap of gaps(sent)) expect(gap).toBeCloseTo(KEEP_ALIVE_S, 9);
  });
});

describe('termination (E1.31 6.2.6)', () => {
  it('three packets with the bit, then nothing', () => {
    const sent = run(beats(200), beat => moving(Math.min(beat, 9)), undefined, 10);
    expect(sent.filter(packet => packet.decision === 'send')).toHaveLength(10);
    expect(sent.slice(10).map(packet => packet.decision)).toEqual([
      'terminate',
      'terminate',
      'terminate',
    ]);
    expect(gaps(sent.slice(9))).toEqual([0.025, 0.025, 0.025].map(s => expect.closeTo(s, 9)));
  });

  it('a change that waits for the rate leaves before, once', () => {
    // At 10 Hz beat 9 falls between two packets, and what it wants is the safe look.
    const slow = { rateHz: 10, beatS: 0.025 };
    const sent = run(beats(60), beat => Math.max(60 - beat, 51), slow, 10);
    expect(
      sent.filter(({ atS }) => atS > 0.21).map(({ decision, level }) => [decision, level]),
    ).toEqual([
      ['send', 51],
      ['terminate', 51],
      ['terminate', 51],
      ['terminate', 51],
    ]);
    // Levels that go on changing don't put off the end.
    const never = run(beats(60), moving, undefined, 10).slice(10);
    expect(never.map(({ decision }) => decision)).toEqual([
      'send',
      'terminate',
      'terminate',
      'terminate',
    ]);
  });

  it('ends a still stream at once, asked once or twice', () => {
    const state = createTransmission();
    const options = { rateHz: 40, beatS: 0.025 };
    const levels = new Uint8Array(512);
    const slots = new Uint8Array(512);
    const at = (nowS: number) => decideTransmission(state, options, levels, slots, nowS);
    for (const nowS of beats(20)) at(nowS);
    terminateTransmission(state);
    expect(at(0.5)).toBe('terminate');
    terminateTransmission(state);
    expect([0.525, 0.55, 0.575, 5].map(at)).toEqual(['terminate', 'terminate', 'hold', 'hold']);
  });

  it('a stream that never began needs no end', () => {
    expect(run(beats(20), moving, undefined, 0)).toEqual([]);
  });
});

describe('any sequence of beats and changes', () => {
  const beat = fc.record({
    gapS: fc.double({ min: 0.001, max: 0.2, noNaN: true }),
    changed: fc.boolean(),
  });
  const options = fc.record({
    rateHz: fc.double({ min: 0.5, max: 100, noNaN: true }),
    beatS: fc.double({ min: 0.001, max: 0.2, noNaN: true }),
  });

  it('never more than 1 s and one beat apart, never less than 1/44 s, and no change is lost', () => {
    fc.assert(
      fc.property(fc.array(beat, { minLength: 1, maxLength: 120 }), options, (list, option) => {
        let [nowS, level] = [0, 0];
        const times: number[] = [];
        const levels: number[] = [];
        for (const { gapS, changed } of list) {
          nowS += gapS;
          if (changed) level = (level + 1) & 0xff;
          times.push(nowS);
          levels.push(level);
        }
        const sent = run(times, i => levels[i] ?? 0, option);
        expect(sent[0]?.atS).toBe(times[0]);
        const longestBeatS = Math.max(...list.map(item => item.gapS));
        for (const gap of [...gaps(sent), nowS - (sent.at(-1)?.atS ?? 0)]) {
          expect(gap).toBeLessThanOrEqual(1 + longestBeatS);
        }
        for (const gap of gaps(sent)) expect(gap).toBeGreaterThanOrEqual(1 / 44 - 1e-9);
        for (const { atS, level: carried } of sent) {
          expect(carried).toBe(levels[times.indexOf(atS)]);
        }
      }),
      { seed: 72, numRuns: 300 },
    );
  });
});
