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

  it('fail in metres where the show reads millimetres: nobody plays within a fingertip of the origin', () => {
    const inMm = changed('/position" }', '/position", unit: mm }');
    // What is noted has been read as the show says.
    const sent = (feed: (x: number, y: number, z: number) => Place) =>
      judged((...at) => {
        const [x, y, z] = feed(...at);
        return [x / 1000, y / 1000, z / 1000];
      }, inMm);
    const found = sent((x, y, z) => [x, y, z]);
    expect(found).toMatchObject({ state: 'fail' });
    expect(found?.found).toMatch(/^All of them within 2 cm of the origin .* They look like metres/);
    expect(found?.act).toContain('`unit`');
    // Nobody walks, and they sit apart.
    let i = 0;
    expect(sent(() => (i++ % 2 === 0 ? [2, 3, 1.2] : [6, 5, 1.2]))?.state).toBe('fail');
    expect(sent((x, y, z) => [1000 * x, 1000 * y, 1000 * z])?.state).toBe('pass');
    // In millimetres, trackers in one spot: at the origin, as a camera sees them, and beside it.
    expect(sent(() => [0.1 * Math.sin(i++), 0, 0.5])?.state).toBe('pass');
    expect(sent(() => [20 + Math.sin(i++), 15, 3])?.state).toBe('pass');
  });

  it('are asked about in metres where the show reads centimetres: trackers may lie that near', () => {
    const inCm = changed('/position" }', '/position", unit: cm }');
    expect(judged((x, y, z) => [x / 100, y / 100, z / 100], inCm)).toMatchObject({ state: 'warn' });
    expect(judged((x, y, z) => [x, y, z], inCm)?.state).toBe('pass');
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
