import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  beginFlashBeat,
  carryFlash,
  createFlashLimit,
  type FlashLimit,
  limitFlash,
} from '../../src/safety/flash.js';
import { demand } from '../demand.js';
import { flashesWithin, mostFlashesInASecond } from './flashes.js';

const SEED = 20260118;
const HZ = 40;

function run(
  count: number,
  seconds: number,
  wanted: (lamp: number, t: number) => number,
  options = { perSecond: 3 },
): { out: number[][]; limit: FlashLimit } {
  const limit = createFlashLimit(count, i => wanted(i, 0), options);
  const out: number[][] = Array.from({ length: count }, () => []);
  for (let n = 0; n < seconds * HZ; n++) {
    const t = n / HZ;
    beginFlashBeat(limit, 1000 + t);
    for (let i = 0; i < count; i++) out[i]?.push(limitFlash(limit, i, wanted(i, t)));
  }
  return { out, limit };
}

/** Moments at which a lamp begins a rise that counts: where it has come 10 % above the lowest of a second. */
function risesOf(series: readonly number[]): number[] {
  const rises: number[] = [];
  let high: number | undefined;
  series.forEach((level, n) => {
    if (high === undefined) {
      const low = Math.min(...series.slice(Math.max(0, n - HZ), n + 1));
      if (level > (series[n - 1] ?? level) && level - low >= 0.1 - 1e-9 && low < 0.8) {
        rises.push(n / HZ);
        high = level;
      }
      return;
    }
    high = Math.max(high, level);
    if (high - level >= 0.1 - 1e-9 || rests(series, n)) high = undefined;
  });
  return rises;
}

/** Nothing has risen in the tenth of a second up to this sample. */
function rests(series: readonly number[], n: number): boolean {
  const from = n - HZ / 10 - 1;
  return series
    .slice(Math.max(0, from), n + 1)
    .every((level, i, all) => i === 0 || level <= (all[i - 1] ?? 0));
}

/** How many moments of a second's begin there are, those within a thirtieth of a second taken together. */
function momentsIn(rises: readonly number[], from: number): number {
  let moments = 0;
  let end = Number.NEGATIVE_INFINITY;
  for (const t of rises) {
    if (t < from || t > from + 1 || t <= end + 1e-9) continue;
    moments += 1;
    end = t + 1 / 30;
  }
  return moments;
}

const square =
  (hz: number, phase = 0) =>
  (t: number) =>
    (t * hz + phase) % 1 < 0.5 ? 1 : 0;

describe('the counter of the tests', () => {
  test('counts as WCAG 2.3.1 defines', () => {
    expect(flashesWithin([0, 1, 0])).toBe(1);
    expect(flashesWithin([0, 1, 0, 1])).toBe(1);
    expect(flashesWithin([0, 1, 0, 1, 0])).toBe(2);
    expect(flashesWithin([0.5, 0.59, 0.5, 0.59, 0.5])).toBe(0);
    expect(flashesWithin([0.8, 1, 0.8, 1, 0.8])).toBe(0);
    expect(flashesWithin([0.79, 1, 0.79, 1, 0.79])).toBe(2);
  });

  test('sees the flashes of a lamp that nobody limits', () => {
    const wild = Array.from({ length: 4 * HZ }, (_, n) => square(10)(n / HZ));
    expect(mostFlashesInASecond(wild, HZ)).toBe(10);
  });
});

describe('one lamp', () => {
  test.each([1, 2, 4, 5, 8, 10, 20])('asked to flash %i times a second', hz => {
    const { out } = run(1, 6, (_, t) => square(hz)(t));
    const most = mostFlashesInASecond(out[0] ?? [], HZ);
    expect(most).toBeLessThanOrEqual(3);
    // It is a limit, not a switch: what is allowed passes.
    if (hz <= 2)
      expect(out[0]).toEqual(Array.from({ length: 6 * HZ }, (_, n) => square(hz)(n / HZ)));
    else expect(most).toBeGreaterThanOrEqual(2);
  });

  test('a fall is never held up', () => {
    const { out } = run(1, 6, (_, t) => square(9)(t));
    out[0]?.forEach((level, n) => {
      if (square(9)(n / HZ) === 0) expect(level).toBe(0);
    });
  });

  test('a slow swell and a bright flicker pass untouched', () => {
    const swell = (_: number, t: number) => 0.5 + 0.045 * Math.sin(2 * Math.PI * 7 * t);
    const bright = (_: number, t: number) => (square(12)(t) ? 1 : 0.82);
    for (const wanted of [swell, bright]) {
      const { out, limit } = run(1, 4, wanted);
      expect(limit.heldEver).toBe(0);
      expect(out[0]).toEqual(Array.from({ length: 4 * HZ }, (_, n) => wanted(0, n / HZ)));
    }
  });

  test('a fade up of any length is one grant, and is not held on its way', () => {
    for (const seconds of [0.1, 0.5, 2, 10, 60]) {
      const fade = (_: number, t: number) => Math.min(1, Math.max(0, t - 0.5) / seconds);
      const { out, limit } = run(1, seconds + 2, fade);
      expect(limit.heldEver, `${seconds} s`).toBe(0);
      expect(out[0]?.at(-1)).toBe(1);
    }
  });

  test('fewer flashes a second where a venue wants fewer', () => {
    for (const perSecond of [1, 2]) {
      const { out } = run(1, 6, (_, t) => square(8)(t), { perSecond });
      expect(mostFlashesInASecond(out[0] ?? [], HZ)).toBeLessThanOrEqual(perSecond);
    }
  });

  test('what is held comes as soon as it may', () => {
    // Four flashes at once, then light to stay: it is there a good second after the first.
    const wanted = (_: number, t: number) => (t < 0.4 ? square(10)(t) : 1);
    const { out } = run(1, 4, wanted);
    const there = out[0]?.lastIndexOf(out[0]?.find((level, n) => n > 16 && level === 1) ?? 1) ?? 0;
    expect(out[0]?.at(-1)).toBe(1);
    expect((out[0]?.findIndex((level, n) => n >= 16 && level === 1) ?? 0) / HZ).toBeLessThan(1.6);
    expect(there).toBeGreaterThan(0);
  });
});

describe('a fade that was held', () => {
  /** Three flashes of other lamps use up the second; the last lamp fades up from 0.8 s on. */
  const fadeOf = (seconds: number) => (i: number, t: number) => {
    if (i < 3) return t >= 0.2 * (i + 1) && t < 0.2 * (i + 1) + 0.1 ? 1 : 0;
    return Math.min(1, Math.max(0, (t - 0.8) / seconds));
  };

  test.each([0.5, 1, 2])('of %s s comes late and is still a fade, no pop', seconds => {
    const wanted = fadeOf(seconds);
    const { out, limit } = run(4, 6, wanted);
    const series = out[3] ?? [];
    expect(limit.heldEver).toBeGreaterThan(5);
    // As steep as it was asked: to a tenth, as it may begin between two beats.
    const steepest = Math.max(...series.map((level, n) => level - (series[n - 1] ?? 0)));
    expect(steepest).toBeLessThan((1.1 * 1) / (seconds * HZ) + 1e-9);
    // Late by no more than it was held: until the first of three windows is a second old.
    const there = series.findIndex(level => level > 0.999) / HZ;
    expect(there).toBeGreaterThan(0.8 + seconds);
    expect(there).toBeLessThan(0.8 + seconds + 0.6);
    expect(series.at(-1)).toBe(1);
  });

  test('is a snap where a snap was asked', () => {
    const wanted = (i: number, t: number) => (i < 3 ? fadeOf(1)(i, t) : t >= 0.8 ? 1 : 0);
    const series = run(4, 4, wanted).out[3] ?? [];
    const steepest = Math.max(...series.map((level, n) => level - (series[n - 1] ?? 0)));
    expect(steepest).toBeGreaterThan(0.85);
  });

  test('falls at once on its way, and ends where it is asked to', () => {
    const fade = fadeOf(2);
    const wanted = (i: number, t: number) => (i === 3 && t > 2 ? 0 : fade(i, t));
    const series = run(4, 4, wanted).out[3] ?? [];
    series.forEach((level, n) => {
      if (n / HZ > 2) expect(level).toBe(0);
    });
  });
});

describe('a wish that has arrived, and trembles as tracking does', () => {
  /** Three flashes of other lamps use up the second until 1.23 s; the last lamp is let go at 0.8 s. */
  const other = (i: number, t: number) => (t >= 0.2 * (i + 1) && t < 0.2 * (i + 1) + 0.1 ? 1 : 0);
  const noise = (t: number) => 0.003 * Math.sin(97 * t) + 0.002 * t;
  /** When the last lamp is at what is wanted, to a step of 8 bits, and stays there. */
  const thereS = (wanted: (t: number) => number, asked: (t: number) => number) => {
    const limit = createFlashLimit(4, () => 0);
    let last = 0;
    for (let n = 0; n < 20 * HZ; n++) {
      const t = n / HZ;
      beginFlashBeat(limit, 1000 + t);
      for (let i = 0; i < 3; i++) limitFlash(limit, i, other(i, t));
      if (limitFlash(limit, 3, wanted(t), asked(t)) < wanted(t) - 0.02) last = t;
    }
    expect(limit.heldEver).toBeGreaterThan(5);
    return last;
  };

  test('is there a third of a second after its window, where it had arrived before', () => {
    // The other limits kept it dark: what asks for it was at 0.85 all the while.
    const asked = (t: number) => 0.85 + noise(t);
    expect(thereS(t => (t < 0.8 ? 0 : asked(t)), asked)).toBeLessThan(1.24 + 0.4);
  });

  test('and a second after, where it came as a slow fade that then jumped', () => {
    const asked = (t: number) => {
      if (t < 0.8) return 0;
      return t < 1.5 ? 0.12 + (t - 0.8) / 60 : 0.85 + noise(t);
    };
    const slow = (t: number) => (t < 0.8 ? 0.02 : Math.max(asked(t), 0.02));
    const creep = (t: number) => Math.min(slow(t), t < 1.5 ? 0.13 : 1);
    expect(thereS(creep, t => (t < 1.5 ? 0.119 + t / 1000 : asked(t)))).toBeLessThan(1.5 + 1.1);
  });
});

describe('many lamps', () => {
  test('that rise together are one flash', () => {
    const { out, limit } = run(50, 4, (_, t) => square(2)(t));
    expect(limit.heldEver).toBe(0);
    expect(out[49]).toEqual(out[0]);
  });

  test('that take turns add up: a chase of ten lamps is held to three a second', () => {
    const { out } = run(10, 6, (i, t) => (Math.floor(t * 10) % 10 === i ? 1 : 0));
    const rises = out.flatMap(risesOf).sort((a, b) => a - b);
    for (const t of rises) {
      expect(momentsIn(rises, t)).toBeLessThanOrEqual(3);
    }
  });
});

describe('a limit that goes on from another', () => {
  const beat = (limit: FlashLimit, n: number, wanted: (lamp: number) => number) => {
    beginFlashBeat(limit, 1000 + n / HZ);
    return Array.from({ length: limit.count }, (_, i) => limitFlash(limit, i, wanted(i)));
  };
  const flicker = (i: number) => square(3 + i, i / 4);
  /** Flashes, a fade that is held meanwhile, a swell that never counts. */
  const wanted = (n: number) => (i: number) => {
    const t = n / HZ;
    if (i < 3) return flicker(i)(t);
    return i === 3 ? (t % 2.1) / 2.1 : 0.04 + 0.04 * Math.sin(t);
  };

  test('sends what the other would have sent, whichever lamp stands where, from any beat on', () => {
    const lamps = 5;
    /** Of those of the new one: the first is another lamp, and the rest stand the other way round. */
    const before = (i: number) => (i === 0 ? undefined : lamps - i);
    for (let at = 0; at < 3 * HZ; at += 7) {
      const old = createFlashLimit(lamps, () => 0);
      let levels: number[] = [];
      for (let n = 0; n <= at; n++) levels = beat(old, n, wanted(n));
      // What was sent, in steps of 8 bits.
      const sent = (i: number) => Math.floor((levels[i] ?? 0) * 255) / 255;
      const limit = createFlashLimit(lamps + 1, i => sent(before(i) ?? 5));
      for (let i = 1; i <= lamps; i++) limit.level[i] = old.level[lamps - i] as number;
      carryFlash(limit, old, before);
      for (let n = at + 1; n < at + 2 * HZ; n++) {
        const other = beat(old, n, wanted(n));
        const out = beat(limit, n, i => (i === 0 ? 0 : wanted(n)(lamps - i)));
        demand(
          out
            .slice(1)
            .reverse()
            .every((level, i) => level === other[i]),
          () => `${at}, ${n}`,
        );
      }
    }
  });

  /** A lamp that has flashed three times in half a second, and is dark. */
  const spent = (perSecond = 3) => {
    const old = createFlashLimit(1, () => 0, { perSecond });
    for (let n = 0; n < HZ / 2; n++) beat(old, n, () => square(6)((n + 0.5) / HZ + 1 / 12));
    for (let n = HZ / 2; n < 0.6 * HZ; n++) beat(old, n, () => 0);
    return old;
  };
  /** When a lamp that is asked for from then on is at its full. */
  const fullS = (limit: FlashLimit) => {
    for (let n = 0.6 * HZ; n < 3 * HZ; n++) if (beat(limit, n, () => 1)[0] === 1) return n / HZ;
    return Number.NaN;
  };

  test('gives a lamp that begins elsewhere no new flashes', () => {
    const limit = createFlashLimit(1, () => 0.3);
    carryFlash(limit, spent(), () => 0);
    // Its own three: until a second after the end of the first.
    const alone = fullS(limit);
    expect(alone).toBeGreaterThan(1);
    expect(alone).toBeLessThan(1.3);
    // Where it begins is what counts as its lowest, not where the other one was.
    expect(limit.past[0]).toBe(0.3);
    expect(fullS(createFlashLimit(1, () => 0.3))).toBe(0.6);
    // One step of 8 bits is no other place.
    const rounded = createFlashLimit(1, () => 1 / 255);
    carryFlash(rounded, spent(), () => 0);
    expect(rounded.past[0]).toBe(0);
  });

  test('counts those before to its own limit, where that is another', () => {
    const fewer = createFlashLimit(1, () => 0, { perSecond: 1 });
    carryFlash(fewer, spent(), () => 0);
    // The last one counts: it began at 0.375 s at the earliest.
    expect(fullS(fewer)).toBeGreaterThan(1.37);
    const more = createFlashLimit(1, () => 0);
    carryFlash(more, spent(1), () => 0);
    expect(fullS(more)).toBe(0.6);
  });
});

test('any wishes of any lamps: three a second for each and for all, never above what was asked', () => {
  const series = fc.array(
    fc.array(
      fc.oneof(fc.constantFrom(0, 1, 0.5, 0.79, 0.85), fc.double({ min: 0, max: 1, noNaN: true })),
      {
        minLength: 4,
        maxLength: 4,
      },
    ),
    { minLength: 2, maxLength: 100 },
  );
  fc.assert(
    fc.property(series, fc.integer({ min: 1, max: 12 }), (beats, hold) => {
      // Each wish stands for `hold` beats at most, and lamps change at different ones.
      const wanted = (i: number, t: number) => {
        const n = Math.round(t * HZ) + i * 2;
        return beats[Math.floor(n / hold) % beats.length]?.[i] ?? 0;
      };
      const seconds = 4;
      const { out } = run(4, seconds, wanted);
      out.forEach((levels, i) => {
        levels.forEach((level, n) => {
          const asked = wanted(i, n / HZ);
          const before = levels[n - 1] ?? 0;
          // A fall below what left last passes as it is.
          const isRight = level <= asked && (asked > before || level === asked);
          demand(isRight, () => `lamp ${i} from ${before} to ${level}, asked ${asked}`);
        });
        expect(mostFlashesInASecond(levels, HZ)).toBeLessThanOrEqual(3);
      });
      // Over all lamps: moments at which rises begin.
      const begins = out.flatMap(risesOf).sort((a, b) => a - b);
      for (const from of begins) expect(momentsIn(begins, from)).toBeLessThanOrEqual(3);
    }),
    { seed: SEED, numRuns: 80 },
  );
});
