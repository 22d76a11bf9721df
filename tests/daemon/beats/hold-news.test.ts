import { describe, expect, it } from 'vitest';
import { HoldNews } from '../../../src/daemon/beats/hold-news.js';

const BEAT_S = 0.025;

describe('news of light that the flash limit holds back', () => {
  it('come when it is up, with how late, and then together for ten seconds', () => {
    const news = new HoldNews();
    const told: unknown[] = [];
    for (let beat = 0; beat < 1000; beat++) {
      const nowS = beat * BEAT_S;
      // Held for 0.3 s at 1 s, and for 0.2 s at 3 s and at 5 s.
      const isHeld =
        (nowS >= 1 && nowS < 1.3) || (nowS >= 3 && nowS < 3.2) || (nowS >= 5 && nowS < 5.2);
      const one = news.beat(isHeld ? 1 : 0, nowS, () => [nowS < 2 ? 'Stove' : 'Window']);
      if (one !== undefined) told.push({ nowS: Number(nowS.toFixed(1)), ...one });
    }
    expect(told).toEqual([
      { nowS: 1.3, fixtures: ['Stove'], times: 1, longestS: expect.closeTo(0.3, 6) },
      { nowS: 11.3, fixtures: ['Window'], times: 2, longestS: expect.closeTo(0.2, 6) },
    ]);
  });

  it('tell of one that is held for long before it is up, and then how late it came in the end', () => {
    const news = new HoldNews();
    const told: unknown[] = [];
    for (let beat = 0; beat < 600; beat++) {
      const nowS = beat * BEAT_S;
      const one = news.beat(nowS >= 1 && nowS < 2.6 ? 1 : 0, nowS, () => ['Stove']);
      if (one !== undefined) told.push(one);
    }
    expect(told).toEqual([
      { fixtures: ['Stove'], times: 1, longestS: expect.closeTo(1, 6), held: ['Stove'] },
      { fixtures: ['Stove'], times: 0, longestS: expect.closeTo(1.6, 6) },
    ]);
  });

  it('do not add up holds of several fixtures that overlap', () => {
    const news = new HoldNews();
    const told: ReturnType<HoldNews['beat']>[] = [];
    const names = ['Stove', 'Window', 'Lantern'];
    for (let beat = 0; beat < 1000; beat++) {
      const nowS = beat * BEAT_S;
      // Each for 0.5 s, one beginning before the other ends, for 6 s.
      const held = nowS < 6 ? names.filter((_, i) => (nowS + 0.4 * i) % 1.2 < 0.5) : [];
      told.push(news.beat(held.length, nowS, () => held));
    }
    const all = told.filter(one => one !== undefined);
    expect(Math.max(...all.map(({ longestS }) => longestS))).toBeCloseTo(0.5, 1);
    expect(all.every(({ fixtures }) => fixtures.length > 0)).toBe(true);
    expect(all.reduce((sum, { times }) => sum + times, 0)).toBe(1);
  });

  it('come before the end where light is held on and on, and name all that is held', () => {
    const news = new HoldNews();
    let told: ReturnType<HoldNews['beat']>;
    for (let beat = 0; beat < 50; beat++) {
      const fixtures = beat < 10 ? ['Stove'] : ['Stove', 'Window'];
      told ??= news.beat(fixtures.length, beat * BEAT_S, () => fixtures);
    }
    expect(told?.fixtures).toEqual(['Stove', 'Window']);
    expect(told?.longestS).toBeCloseTo(1, 6);
  });

  it('count what has come up while another one is still held, and say which', () => {
    const news = new HoldNews();
    let told: ReturnType<HoldNews['beat']>;
    for (let beat = 0; beat < 30; beat++) {
      const fixtures = beat < 20 ? ['Stove', 'Window'] : ['Window'];
      told ??= news.beat(fixtures.length, beat * BEAT_S, () => fixtures);
    }
    expect(told).toEqual({
      fixtures: ['Stove', 'Window'],
      times: 1,
      longestS: expect.closeTo(0.5, 6),
      held: ['Window'],
    });
  });
});
