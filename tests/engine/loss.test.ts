import { describe, expect, test } from 'vitest';
import { safeLook } from '../../src/show/model/safe-look.js';
import { Rig } from './harness.js';
import { HOUSE, SOLO } from './shows.js';

const STOVE = [2, 6] as const;
const CENTRE = [5, 4] as const;
const WINDOW = [8.2, 7] as const;
const TICK_S = 1 / 40;

describe('a tracker falls silent', () => {
  test('after `after`, and not before, the light fades to exactly the safe look', () => {
    const rig = new Rig(SOLO).run(5, { 1: STOVE });
    const heardS = rig.view.lastHeardS as number;
    const live = Buffer.from(rig.view.levels);
    // The last report came in the tick before; one tick more would be 0.5 s.
    rig.run(0.5 - TICK_S);
    expect(Buffer.from(rig.view.levels).equals(live)).toBe(true);
    rig.run(5);
    expect(Buffer.from(rig.view.levels).equals(Buffer.from(safeLook(rig.show)))).toBe(true);
    const lost = rig.eventsOf('performer').find(event => event.to === 'losing');
    expect(lost).toMatchObject({ performer: 'ines', from: 'live', cause: 'tracker-silent' });
    expect((lost?.atS ?? 0) - heardS).toBeGreaterThan(0.5);
    expect((lost?.atS ?? 0) - heardS).toBeLessThanOrEqual(0.5 + 2 * TICK_S);
  });

  test('the intensity fades monotonically and in a straight line', () => {
    const rig = new Rig(SOLO).run(5, { 1: STOVE });
    const practical: number[] = [];
    const head: number[] = [];
    rig.run(0.5).run(2.1, {}, () => {
      practical.push(rig.light('stove-glow').values[0] as number);
      head.push(rig.level('head'));
    });
    for (const values of [practical, head]) {
      for (let i = 1; i < values.length; i++) {
        expect(values[i]).toBeLessThanOrEqual(values[i - 1] as number);
      }
    }
    // From 85 to 20 and from 75 to 0 in 2 s.
    expect(steepest(practical)).toBeCloseTo(65 / 80, 1);
    expect(steepest(head)).toBeLessThanOrEqual(75 / 80 + 0.01);
  });

  test('a head holds its aim and colour while it gives light, and moves in the dark', () => {
    const rig = new Rig(HOUSE).run(5, { 1: [2, 2], 2: WINDOW });
    const aimed = ['Pan', 'Tilt'].map(attribute => rig.level('head', attribute));
    const safe = new Rig(HOUSE);
    let movedInLight = 0;
    let last = aimed;
    rig.run(6, {}, () => {
      const now = ['Pan', 'Tilt'].map(attribute => rig.level('head', attribute));
      if (rig.level('head') > 0) {
        movedInLight = Math.max(
          movedInLight,
          ...now.map((value, i) => Math.abs(value - (last[i] as number))),
        );
      }
      last = now;
    });
    expect(movedInLight).toBe(0);
    expect(last).toEqual(['Pan', 'Tilt'].map(attribute => safe.level('head', attribute)));
    expect(last).not.toEqual(aimed);
  });

  test('a head whose safe look is lit comes up only once it has arrived', () => {
    const rig = new Rig(HOUSE).run(5, { 2: [2, 2] });
    let arrivedAtS = 0;
    let litAgainAtS = 0;
    let last = rig.level('lit-head', 'Pan');
    rig.run(10, {}, () => {
      const pan = rig.level('lit-head', 'Pan');
      if (pan !== last) arrivedAtS = rig.nowS;
      last = pan;
      if (litAgainAtS === 0 && arrivedAtS > 0 && rig.level('lit-head') > 0) litAgainAtS = rig.nowS;
    });
    expect(litAgainAtS).toBeGreaterThanOrEqual(arrivedAtS);
    expect(rig.level('lit-head')).toBeCloseTo(40, 1);
  });

  test('a head that a zone aims holds its aim in the light as well', () => {
    const rig = new Rig(HOUSE).run(5, { 1: STOVE });
    expect(rig.level('zone-head', 'Pan')).toBeCloseTo(60, 1);
    expect(rig.level('zone-head')).toBeCloseTo(70, 1);
    const lit: { pan: number; dimmer: number }[] = [];
    rig.run(5, {}, () => {
      const dimmer = rig.level('zone-head');
      if (dimmer > 0) lit.push({ pan: rig.level('zone-head', 'Pan'), dimmer });
    });
    expect(new Set(lit.map(({ pan }) => pan)).size).toBe(1);
    expect(steepest(lit.map(({ dimmer }) => dimmer))).toBeLessThanOrEqual(70 / 80 + 0.01);
  });

  test('each fixture with a fade of its own takes that', () => {
    const rig = new Rig(HOUSE).run(5, { 2: WINDOW });
    expect(rig.level('window-inverse')).toBeCloseTo(90, 0);
    rig.run(0.5).run(1);
    expect(rig.level('window-inverse')).toBeCloseTo(10, 0);
    expect(rig.level('window-wash')).toBeGreaterThan(50);
  });
});

describe('a performer comes back', () => {
  test('after re-arming, from the safe look, and at their place of today', () => {
    const rig = new Rig(SOLO).run(5, { 1: STOVE }).run(6);
    const backAtS = rig.nowS;
    const safe = rig.level('stove-glow');
    rig.run(0.9, { 1: CENTRE });
    expect(rig.level('head')).toBe(0);
    let movedInLight = 0;
    let last = rig.level('head', 'Pan');
    let highest = safe;
    rig.run(5, { 1: CENTRE }, () => {
      const pan = rig.level('head', 'Pan');
      if (rig.level('head') > 0) movedInLight = Math.max(movedInLight, Math.abs(pan - last));
      last = pan;
      highest = Math.max(highest, rig.level('stove-glow'));
    });
    expect(movedInLight).toBeLessThan(0.02);
    // The stove where Ines was before doesn't flare up.
    expect(highest).toBe(safe);
    expect(rig.level('head')).toBeCloseTo(75, 1);
    expect(rig.beamMisses('head', [5, 4, 1.6])).toBeLessThan(0.02);
    const returning = rig
      .eventsOf('performer')
      .filter(event => event.to === 'returning')
      .at(-1);
    expect((returning?.atS ?? 0) - backAtS).toBeGreaterThanOrEqual(1 - 1e-6);
    // The tracker has moved 3.6 m while nobody heard it: that is a jump, and costs its re-acquisition.
    expect((returning?.atS ?? 0) - backAtS).toBeLessThan(2);
  });

  test('a loss shorter than the fade returns from mid-fade without a step', () => {
    const rig = new Rig(SOLO).run(5, { 1: STOVE });
    const values: number[] = [];
    const note = () => values.push(rig.light('stove-glow').values[0] as number);
    rig.run(1, {}, note).run(4, { 1: STOVE }, note);
    const lowest = Math.min(...values);
    // 0.5 s of the 2 s have gone when the tracker is back, and 1 s more until it is trusted.
    expect(lowest).toBeGreaterThan(20);
    expect(lowest).toBeLessThan(60);
    expect(values.at(-1)).toBeCloseTo(85, 6);
    expect(steepest(values)).toBeLessThanOrEqual(65 / 1.5 / 40 + 1e-9);
    expect(rig.eventsOf('performer').some(event => event.to === 'safe')).toBe(false);
  });

  test('nor with one if they are elsewhere by then: their levels fade on from what they were', () => {
    const rig = new Rig(SOLO).run(5, { 1: STOVE });
    const values: number[] = [];
    const note = () => values.push(rig.light('stove-glow').values[0] as number);
    // 1.5 m on, at the rim of the zone: too far to be believed at once, so it is a jump for the track.
    rig.run(0.9, {}, note).run(4, { 1: [3.5, 6] }, note);
    expect(rig.eventsOf('performer').some(event => event.to === 'safe')).toBe(false);
    expect(rig.level('stove-glow')).toBeLessThan(60);
    // The return, 65 in 1.5 s, and the mapping's own fade, 85 in 1 s, at the same time; or the fade of
    // a jump, 65 in 0.5 s.
    expect(steepest(values)).toBeLessThanOrEqual(Math.max(65 / 1.5 + 85, 65 / 0.5) / 40 + 1e-9);
  });

  test('in mid-fade a head goes to dark all the same, and no beam swings', () => {
    const rig = new Rig(SOLO).run(5, { 1: [2, 2] });
    let movedInLight = 0;
    let darkest = 100;
    let last = rig.level('head', 'Pan');
    const note = () => {
      const pan = rig.level('head', 'Pan');
      darkest = Math.min(darkest, rig.level('head'));
      if (rig.level('head') > 0) movedInLight = Math.max(movedInLight, Math.abs(pan - last));
      last = pan;
    };
    rig.run(1, {}, note).run(8, { 1: [2.4, 2] }, note);
    expect(darkest).toBe(0);
    expect(movedInLight).toBeLessThan(0.05);
    expect(rig.level('head')).toBeCloseTo(75, 1);
  });

  test('flapping tracking still reaches the safe look, and stays there', () => {
    const rig = new Rig(SOLO).run(5, { 1: STOVE });
    let before = rig.level('stove-glow');
    const rising: number[] = [];
    for (let i = 0; i < 12; i++) {
      // Half a second of the silence isn't one yet: 0.4 + 0.5 s are well, and the re-arm time is 1 s.
      rig.run(0.4, { 1: STOVE }, () => {
        const now = rig.level('stove-glow');
        if (i > 0 && now > before) rising.push(now);
        before = now;
      });
      rig.run(0.6, {}, () => {
        before = rig.level('stove-glow');
      });
    }
    expect(rising).toEqual([]);
    expect(Buffer.from(rig.view.levels).equals(Buffer.from(safeLook(rig.show)))).toBe(true);
  });
});

describe('other conditions', () => {
  test('the whole feed falls silent: one event, one decision', () => {
    const both = HOUSE.replace('after: 0.75', 'after: 0.4');
    const rig = new Rig(both).run(5, { 1: STOVE, 2: WINDOW }).run(6);
    expect(rig.eventsOf('feed')).toMatchObject([{ silent: true, performers: ['ines', 'tobias'] }]);
    const lost = rig.eventsOf('performer').filter(event => event.to === 'losing');
    expect(lost.map(event => event.cause)).toEqual(['feed-silent', 'feed-silent']);
    expect(new Set(lost.map(event => event.atS)).size).toBe(1);
    expect(Buffer.from(rig.view.levels).equals(Buffer.from(safeLook(rig.show)))).toBe(true);
    rig.run(1, { 1: STOVE });
    expect(rig.eventsOf('feed').map(event => event.silent)).toEqual([true, false]);
  });

  test('a feed that never spoke is silent too', () => {
    const rig = new Rig(HOUSE).run(2);
    expect(rig.eventsOf('feed')).toMatchObject([{ silent: true, performers: [] }]);
    const delayS = (rig.eventsOf('feed')[0]?.atS ?? 0) - 1000;
    expect(delayS).toBeGreaterThan(0.75);
    expect(delayS).toBeLessThan(0.85);
  });

  test('a jump: dark, move, back at the new place', () => {
    const rig = new Rig(SOLO).run(5, { 1: STOVE });
    let movedInLight = 0;
    let darkest = 100;
    let last = rig.level('head', 'Pan');
    rig.run(8, { 1: [9, 2] }, () => {
      const pan = rig.level('head', 'Pan');
      darkest = Math.min(darkest, rig.level('head'));
      if (rig.level('head') > 0) movedInLight = Math.max(movedInLight, Math.abs(pan - last));
      last = pan;
    });
    expect(lastLoss(rig)).toBe('jumped');
    expect(darkest).toBe(0);
    expect(movedInLight).toBeLessThan(0.02);
    expect(rig.level('head')).toBeCloseTo(75, 1);
    expect(rig.beamMisses('head', [9, 2, 1.6])).toBeLessThan(0.02);
    expect(rig.level('stove-glow')).toBeCloseTo(8, 0);
  });

  test('out of bounds for `after` beyond the margin', () => {
    const rig = new Rig(SOLO).run(5, { 1: [9.5, 4] });
    rig.run(1, t => ({ 1: [9.5 + 0.9 * t, 4] })).run(2, { 1: [10.4, 4] });
    // Within the margin of 0.5 m confidence goes down a little, and nothing else happens.
    expect(rig.phase('ines')).toBe('live');
    rig.run(1, t => ({ 1: [10.4 + 0.4 * t, 4] })).run(2, { 1: [10.8, 4] });
    expect(lastLoss(rig)).toBe('out-of-bounds');
    rig.run(2, t => ({ 1: [10.8 - t, 4] })).run(6, { 1: [8.8, 4] });
    expect(rig.phase('ines')).toBe('live');
  });

  test('low quality: positions arrive and are not believed', () => {
    const rig = new Rig(SOLO).run(5, { 1: [5, 4, 1.6, 1] });
    rig.run(3, { 1: [5, 4, 1.6, 0.1] });
    expect(lastLoss(rig)).toBe('confidence-low');
    rig.run(6, { 1: [5, 4, 1.6, 1] });
    expect(rig.phase('ines')).toBe('live');
  });

  test('where several act, the worst is the cause and the shortest fade is taken', () => {
    // The fade of the jump, 0.5 s, is under way when the tracker falls silent, which alone takes 2 s.
    const rig = new Rig(SOLO).run(5, { 1: STOVE });
    const jumped = () => rig.phase('ines') === 'losing';
    for (let i = 0; i < 80 && !jumped(); i++) rig.run(TICK_S, { 1: [9, 2] });
    expect(jumped()).toBe(true);
    rig.run(0.65);
    expect(rig.level('stove-glow')).toBeCloseTo(20, 0);

    const slow = new Rig(
      SOLO.replace('feedSilent: { after: 5, fade: 2 }', 'feedSilent: { after: 0.5, fade: 8 }'),
    ).run(5, { 1: STOVE });
    slow.run(2.7);
    expect(slow.view.performers[0]?.cause).toBe('feed-silent');
    expect(slow.level('stove-glow')).toBeCloseTo(20, 0);
  });
});

describe('two performers on one fixture', () => {
  const both = SOLO.replace(
    'ines: { trackers: [1] }',
    'ines: { trackers: [1] }\n  tobias: { trackers: [2] }',
  );

  test('one is lost, the other keeps their light', () => {
    const rig = new Rig(both).run(5, { 1: STOVE, 2: STOVE });
    expect(rig.level('stove-glow')).toBeCloseTo(85, 0);
    rig.run(6, { 2: STOVE });
    expect(rig.phase('ines')).toBe('safe');
    expect(rig.level('stove-glow')).toBeCloseTo(85, 0);
    expect(rig.level('head')).toBe(0);
  });

  test('who is lost brings up the safe value, and no more', () => {
    const rig = new Rig(both).run(5, { 1: STOVE, 2: CENTRE }).run(6, { 2: CENTRE });
    expect(rig.level('stove-glow')).toBeCloseTo(20, 0);
  });

  test('of a head that zones drive, who is lost takes their light with them', () => {
    const rig = new Rig(HOUSE).run(5, { 1: STOVE, 2: CENTRE });
    expect(rig.level('zone-head')).toBeCloseTo(70, 0);
    const values: number[] = [];
    rig.run(4, { 2: CENTRE }, () => values.push(rig.level('zone-head')));
    expect(rig.phase('ines')).toBe('safe');
    expect(values.at(-1)).toBeCloseTo(0, 0);
    expect(steepest(values)).toBeLessThanOrEqual(70 / 80 + 0.01);
    // And comes back without a step: the head has turned in the dark, and comes up over half a second
    // while Ines' trust rises over 1.5 s.
    values.length = 0;
    rig.run(6, { 1: STOVE, 2: CENTRE }, () => values.push(rig.level('zone-head')));
    expect(values.at(-1)).toBeCloseTo(70, 0);
    expect(steepest(values)).toBeLessThanOrEqual(70 / 20 + 70 / 60);
  });
});

describe('while somebody is not believed', () => {
  test('a head on its way out takes no new light from others', () => {
    const rig = new Rig(HOUSE).run(5, { 1: CENTRE, 2: CENTRE });
    expect(rig.level('head')).toBeCloseTo(75, 0);
    // Ines, whom the head follows, is lost; Tobias walks to where he asks 90 of it.
    const values: number[] = [];
    rig.run(
      2.5,
      t => ({ 2: [5 + Math.min(1, t / 2) * 3.2, 4 + Math.min(1, t / 2) * 3] }),
      () => values.push(rig.level('head')),
    );
    rig.run(2, { 2: WINDOW }, () => values.push(rig.level('head')));
    expect(rig.eventsOf('zone').some(event => event.zone === 'window')).toBe(true);
    for (let i = 1; i < values.length; i++) {
      expect(values[i]).toBeLessThanOrEqual(values[i - 1] as number);
    }
    expect(values.at(-1)).toBe(0);
  });

  test('they go in and out of no zone', () => {
    const rig = new Rig(SOLO).run(5, { 1: [...CENTRE, 1.6, 1] });
    rig.run(3, { 1: [...CENTRE, 1.6, 0.05] });
    rig.run(3, t => ({ 1: [5 - t, 4 + (2 / 3) * t, 1.6, 0.05] })).run(1, { 1: [2, 6, 1.6, 0.05] });
    expect(rig.view.performers[0]?.estimate.x).toBeLessThan(2.5);
    expect(rig.eventsOf('zone')).toEqual([]);
  });
});

describe('a fixture without an intensity of its own', () => {
  test('goes straight to its safe colour', () => {
    const rig = new Rig(
      SOLO.replace(
        'zones:',
        'profiles:\n  led: { channels: [{ attribute: ColorAdd_R }, { attribute: ColorAdd_G }] }\nzones:',
      )
        .replace(
          'fixtures:',
          'fixtures:\n  par: { profile: led, universe: 1, address: 100, base: { ColorAdd_R: 100 }, safe: { ColorAdd_R: 0 } }',
        )
        .replace(
          'mappings:',
          'mappings:\n  - { zone: stove, fixtures: [par], set: { ColorAdd_R: 0, ColorAdd_G: 100 } }',
        ),
    ).run(5, { 1: STOVE });
    expect(rig.level('par', 'ColorAdd_R')).toBe(0);
    const reds: number[] = [];
    rig.run(4, {}, () => reds.push(rig.level('par', 'ColorAdd_R')));
    expect(Math.max(...reds)).toBe(0);
  });
});

/** Largest change between two values in a row. */
function steepest(values: readonly number[]): number {
  return Math.max(...values.slice(1).map((value, i) => Math.abs(value - (values[i] as number))));
}

function lastLoss(rig: Rig): string | undefined {
  return rig.eventsOf('performer').findLast(event => event.to === 'losing')?.cause;
}
