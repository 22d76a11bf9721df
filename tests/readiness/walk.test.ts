import { describe, expect, it } from 'vitest';
import { planOptions } from '../../src/commands/checking/plan.js';
import type { Datagram } from '../../src/engine/values/inputs.js';
import { surveyAll } from '../../src/planning/plan.js';
import { createFeedRecord, type Heard, noteReport } from '../../src/readiness/feed.js';
import { checkExpected, checkWalked } from '../../src/readiness/place-checks.js';
import { restNoise } from '../../src/readiness/rest-noise.js';
import { waitingFor } from '../../src/readiness/waiting.js';
import { Walk, walk } from '../../src/readiness/walk.js';
import { reportDatagram } from '../../src/rehearsal/report-datagram.js';
import { seededNormal } from '../../src/rehearsal/sensors/random.js';
import { showOf } from '../show/show-of.js';
import { changed, example, PAIR } from './shows.js';

const show = showOf(PAIR);
const STOVE = { x: 2, y: 2 };
const LANTERN = { x: 7, y: 5 };

/** Ines at places for so many seconds each, at 30 Hz, with the noise of a good radio. */
function walked(
  stops: readonly { x: number; y: number; forS: number; heard?: boolean; z?: number }[],
) {
  const normal = seededNormal(3);
  const datagrams: Datagram[] = [];
  const [input] = show.inputs;
  if (input === undefined) throw new Error('no input');
  let timeS = 500;
  for (const { x, y, z = 1.5, forS, heard } of stops) {
    for (const endS = timeS + forS; timeS < endS; timeS += 1 / 30) {
      if (heard === false) continue;
      const place = { x: x + 0.03 * normal(), y: y + 0.03 * normal(), z };
      const bytes = reportDatagram(input, '1', place, 0);
      if (bytes !== undefined) datagrams.push({ input: 0, bytes, arrivalS: timeS });
    }
  }
  return walk(show, { datagrams, unixOffsetS: 0 });
}

describe('who has left the stage by an exit', () => {
  const DOOR = showOf(
    `${PAIR}exits: { door: { polygon: [[-2, -1], [1, -1], [1, 1], [-2, 1]] } }\n`,
  );

  /** Ines walks from the stove out of the door, and is silent; Tobias stays. */
  function gone(): Walk {
    const all = new Walk(DOOR, 0);
    const [input] = DOOR.inputs;
    if (input === undefined) throw new Error('no input');
    for (let i = 0; i < 20 * 30; i++) {
      const timeS = i / 30;
      const out = Math.min(2.5, Math.max(0, timeS - 3));
      const places = [
        ['1', 2 - out, 2 - out],
        ['2', 7, 5 + 0.01 * Math.sin(i)],
      ] as const;
      for (const [id, x, y] of places) {
        if (id === '1' && timeS > 6) continue;
        const bytes = reportDatagram(input, id, { x, y, z: 1.5 }, 0);
        if (bytes !== undefined) all.take({ input: 0, bytes, arrivalS: timeS });
      }
    }
    all.runTo(20);
    return all;
  }

  it('is off stage, and not still to come', () => {
    const all = gone();
    expect(all.offStage).toEqual(['ines']);
    const waiting = waitingFor(DOOR, all).join('; ');
    expect(waiting).toMatch(/off stage: Ines/i);
    expect(waiting).not.toMatch(/still to come: Ines/i);
  });
});

describe('a walk', () => {
  it('tells how long each performer was in each of their zones, and how well believed', () => {
    const [stove, lantern, tobias] = walked([{ ...STOVE, forS: 5 }]);
    expect(stove?.heldS).toBeGreaterThan(4);
    expect(stove?.heldS).toBeLessThan(5.2);
    expect(stove?.low).toBeGreaterThan(0.5);
    expect(stove?.mean).toBeGreaterThanOrEqual(stove?.low ?? 1);
    expect([lantern?.heldS, tobias?.heldS]).toEqual([0, 0]);
    expect(lantern?.mean).toBeNaN();
  });

  it('fails who is heard there too high or too low, and takes that for no confidence', () => {
    const low = walked([{ ...STOVE, forS: 4, z: -2 }]);
    expect(low[0]).toMatchObject({ heldS: 0 });
    const [ines] = checkWalked(show, low, 'walked now');
    expect(ines).toMatchObject({ state: 'fail' });
    expect(ines?.found).toContain('off the stage, for 4 s in stove');
  });

  it('is empty without input', () => {
    expect(walk(show, { datagrams: [], unixOffsetS: 0 }).every(one => one.heldS === 0)).toBe(true);
  });

  it('passes, warns of places not walked, and fails where tracking was lost', () => {
    const both = walked([
      { ...STOVE, forS: 4 },
      // 5.8 m at 2 m/s.
      ...Array.from({ length: 12 }, (_, i) => ({
        x: STOVE.x + ((LANTERN.x - STOVE.x) * i) / 12,
        y: STOVE.y + ((LANTERN.y - STOVE.y) * i) / 12,
        forS: 0.24,
      })),
      { ...LANTERN, forS: 4 },
    ]);
    const states = (list: typeof both) =>
      checkWalked(show, list, 'walked now').map(one => one.state);
    expect(states(both)).toEqual(['pass', 'warn']); // Tobias did not walk
    // The lantern is for anybody: that nobody was there is said once, and not of each.
    const one = checkWalked(show, walked([{ ...STOVE, forS: 4 }]), 'walked now');
    expect(one.map(({ name, state }) => `${name}: ${state}`)).toEqual([
      'Ines, walked now: pass',
      'Tobias, walked now: warn',
      'zones, walked now: warn',
    ]);
    expect(one[2]?.found).toBe('nobody was in lantern.');
    const nobody = show.zones.map((_, zone) => ({
      ...(one[2] && both[0]),
      zone,
      named: false,
      heldS: 0,
    }));
    expect(checkWalked(show, nobody as typeof both, 'walked now').at(-1)?.found).toMatch(
      /^nobody was in .+ or [^,]+\.$/,
    );
    const lost = walked([
      { ...STOVE, forS: 3 },
      { ...STOVE, forS: 4, heard: false },
      { ...STOVE, forS: 0.2 },
    ]);
    expect(states(lost)).toEqual(['fail', 'warn', 'warn']);
    const [ines] = checkWalked(show, lost, 'walked now');
    expect(ines?.found).toContain('the light would go to safe there');
  });
});

describe('what the anchors let expect', () => {
  it('is nothing without anchors', () => {
    expect(checkExpected(show, undefined)).toMatchObject([{ state: 'unknown' }]);
  });

  it('is told for each zone that drives light', () => {
    const salt = showOf(example('salt-lantern'));
    const checks = checkExpected(salt, surveyAll(planOptions(salt, 0.5)));
    expect(checks.map(one => one.name)).toEqual([
      'plan, stove',
      'plan, window seat',
      'plan, lantern',
      'plan, harbour steps',
    ]);
    // By the window flat one way of facing leaves no position on more than half of the zone.
    expect(checks.map(one => one.state)).toEqual(['pass', 'warn', 'pass', 'pass']);
    expect(checks[1]?.act).toContain('faces the wrong way');
    expect(checks[1]?.found).toContain('Hardest for Ines.');
    const rough = surveyAll({ ...planOptions(salt, 0.5), ranging: { by: 'range', errorM: 2 } });
    expect(checkExpected(salt, rough).every(one => one.state === 'warn')).toBe(true);
  });

  it('is a warning where there is no position', () => {
    const few = showOf(
      changed(
        'zones:\n',
        'anchors: { a: { position: [0, 0, 3] }, b: { position: [9, 0, 3] } }\nzones:\n',
      ),
    );
    const checks = checkExpected(few, surveyAll(planOptions(few, 0.5)));
    expect(checks[0]).toMatchObject({ state: 'warn' });
    expect(checks[0]?.found).toContain('no position');
  });
});

describe('noise at rest', () => {
  function heard(at: (timeS: number) => number, sigmaM: number, seconds = 20): Heard {
    const normal = seededNormal(9);
    const record = createFeedRecord();
    for (let timeS = 0; timeS < seconds; timeS += 1 / 30) {
      const noise = () => sigmaM * normal();
      noteReport(record, {
        tracker: '1',
        timeS,
        x: at(timeS) + noise(),
        y: 3 + noise(),
        z: 1,
        quality: 1,
      });
    }
    const found = record.trackers.get('1');
    if (found === undefined) throw new Error('nothing heard');
    return found;
  }

  it('is that of the calmest stretch', () => {
    const still = restNoise(heard(timeS => Math.min(timeS, 12), 0.05));
    expect(still?.sigmaM).toBeGreaterThan(0.035);
    expect(still?.sigmaM).toBeLessThan(0.055);
  });

  it('is not told of somebody who walked all the time, or was heard for too short', () => {
    expect(restNoise(heard(timeS => 1.4 * timeS, 0.05))).toBeUndefined();
    // Nor does who strolls, though they scatter less about their mean place than a poor tracker.
    expect(restNoise(heard(timeS => 0.3 * timeS, 0.05))).toBeUndefined();
    expect(restNoise(heard(() => 1, 0.3))?.sigmaM).toBeCloseTo(0.3, 1);
    expect(restNoise(heard(() => 1, 0.05, 2))).toBeUndefined();
  });
});
