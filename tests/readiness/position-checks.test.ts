import { describe, expect, it } from 'vitest';
import type { NetworkFacts } from '../../src/readiness/facts.js';
import { createFeedRecord, noteReport } from '../../src/readiness/feed.js';
import { checkPositions } from '../../src/readiness/position-checks.js';
import { showOf } from '../show/show-of.js';
import { changed, PAIR } from './shows.js';

type Place = readonly [number, number, number];

/** Ines and Tobias walk about the stage of 10 m by 8 m, their trackers 1.5 m up; what the feed makes of that. */
function heard(feed: (x: number, y: number, z: number) => Place): NetworkFacts {
  const record = createFeedRecord();
  for (let i = 0; i < 600; i++) {
    const turn = i / 40;
    for (const [tracker, phase] of [
      ['1', 0],
      ['2', 2],
    ] as const) {
      const [x, y, z] = feed(
        5 + 4 * Math.cos(turn + phase),
        4 + 3 * Math.sin(turn + phase),
        1.5 + 0.1 * Math.sin(7 * turn),
      );
      noteReport(record, { tracker, timeS: i / 30, x, y, z, quality: 1 });
    }
  }
  const fact = { input: 'tracking', problem: undefined, datagrams: 1200, rejected: 0, record };
  return {
    seconds: 20,
    interfaces: [],
    routes: [],
    sources: new Map(),
    nodes: [],
    polled: [],
    feeds: [fact],
    deaf: [],
  };
}

const judged = (feed: Parameters<typeof heard>[0], text = PAIR) =>
  checkPositions(showOf(text), heard(feed))[0];

describe('the positions of a feed', () => {
  it('pass with their range where the performers are on the stage', () => {
    expect(judged((x, y, z) => [x, y, z])).toMatchObject({
      state: 'pass',
      found: 'x 1 to 9, y 1 to 7 and z 1.4 to 1.6 m.',
    });
  });

  it('are told beside the stage, and no more: there trackers are charged', () => {
    const table = judged(() => [13, 4, 0.9]);
    expect(table).toMatchObject({ state: 'warn' });
    expect(table?.found).not.toMatch(/feet|axes/);
    expect(judged(() => [-2, 4, 0.9])).toMatchObject({ state: 'warn' });
    // In the trap room.
    expect(judged(() => [5, 4, -2])).toMatchObject({ state: 'warn' });
  });

  it.each([
    ['millimetres', 1000],
    ['centimetres', 100],
    ['feet', 1 / 0.3048],
    ['inches', 1 / 0.0254],
  ] as const)('fail in %s, which are named', (unit, factor) => {
    const found = judged((x, y, z) => [factor * x, factor * y, factor * z]);
    expect(found).toMatchObject({ state: 'fail' });
    expect(found?.found).toContain(`look like ${unit}`);
    expect(found?.found).toContain(`x ${Number(factor.toFixed(1))} to `);
    expect(found?.act).toContain('`unit`');
  });

  it('pass in metres where the show reads millimetres: that all trackers lie in one spot may be so', () => {
    const inMm = changed('/position" }', '/position", unit: mm }');
    expect(judged((x, y, z) => [x, y, z], inMm)).toMatchObject({ state: 'pass' });
  });

  it.each([
    ['[x, -z, y]', (x: number, y: number, z: number): Place => [x, z, -y]],
    ['[x, y, -z]', (x: number, y: number, z: number): Place => [x, y, -z]],
  ] as const)('fail with other axes, which are named: %s', (axes, feed) => {
    const found = judged(feed);
    expect(found).toMatchObject({ state: 'fail' });
    expect(found?.found).toContain(`axes: ${axes}`);
  });

  it('fail where nothing of a show can be', () => {
    expect(judged(() => [0, 5000, 1e6])).toMatchObject({ state: 'fail' });
  });

  it('are judged where the frame of the input puts them', () => {
    const shifted = changed('port: 9010,', 'port: 9010, origin: [5000, 0, 0],');
    expect(judged((x, y, z) => [x - 5000, y, z], shifted)).toMatchObject({ state: 'pass' });
  });
});
