import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { decodeDatagram } from '../../src/protocols/osc/decode.js';
import { datagramsOf } from '../../src/rehearsal/reports.js';
import { parseScene } from '../../src/rehearsal/scenes/scene-file.js';
import { showOf } from '../show/show-of.js';

const TEXT = readFileSync('config/salt-lantern.show.yaml', 'utf8');

/** What comes in of Ines, who stands at [4, 3] or walks slowly: time of arrival, time tag, x, y. */
function reports(losses: string, { show: text = TEXT, noise = 0.1, more = '', sensor = '' } = {}) {
  const show = showOf(text);
  const scene = parseScene(
    `lampwright: 1\nscene: x\nlength: 10\nsensor: { noise: ${noise}, outliers: 0, shadow: 0, jitter: 0, rate: 20, latency: 0.1${sensor} }\n${more}\nperformers:\n  ines:\n    path: [{ at: 0, place: [4, 3] }, { at: 10, place: [5, 3] }]\n    losses: ${losses}\n`,
    'a.scene.yaml',
    show,
    () => ({ ok: false, why: 'there is none' }),
  );
  if (!scene.ok) throw new Error(scene.problems[0]?.message);
  const limits = { maxDatagramBytes: 65_507, maxBundleDepth: 4 };
  return datagramsOf(scene.scene, show, 1000).flatMap(({ bytes, arrivalS, input }) => {
    const heard: {
      arrivalS: number;
      input: number;
      tag: unknown;
      address: string;
      x: number;
      y: number;
    }[] = [];
    decodeDatagram(bytes, limits, {
      rejected: reason => {
        throw new Error(reason);
      },
      message: (address, args, tag) => {
        const [x, y] = args.map(argument => ('value' in argument ? Number(argument.value) : 0));
        heard.push({ arrivalS, input, tag, address, x: x ?? 0, y: y ?? 0 });
      },
    });
    return heard;
  });
}

const between = (list: ReturnType<typeof reports>, fromS: number, toS: number) =>
  // They arrive a tenth of a second after they were measured.
  list.filter(({ arrivalS }) => arrivalS - 0.1 >= fromS - 1e-9 && arrivalS - 0.1 < toS - 1e-9);

describe('the reports of a scene', () => {
  it('come at the rate of the sensor, as old as it says', () => {
    const all = reports('[]');
    expect(all).toHaveLength(200);
    expect(all[0]).toMatchObject({
      arrivalS: 0.1,
      address: '/tracker/1/position',
      tag: 'immediately',
    });
    expect(all[20]?.arrivalS).toBeCloseTo(1.1, 9);
  });

  it('made of ranges to the anchors are those of that sensor, and not of the other', () => {
    const ranged = TEXT.replace(/^ranging:.*$/m, 'ranging: { by: range, error: 0.001 }');
    const plain = reports('[]', { noise: 0 });
    const made = reports('[]', { show: ranged, noise: 0, sensor: ', anchors: true' });
    expect(plain.every(({ y }) => Math.abs(y - 3) < 1e-6)).toBe(true);
    // A path that is lost is measured too long by decimetres, whatever the ranging could do.
    expect(made.some(({ y }) => Math.abs(y - 3) > 0.1)).toBe(true);
    expect(made.filter(({ y }) => Math.abs(y - 3) < 0.02).length).toBeGreaterThan(20);
  });

  it('are where the performer is, but for the noise', () => {
    const [first, last] = [reports('[]', { noise: 0 })[0], reports('[]', { noise: 0 }).at(-1)];
    expect([first?.x, first?.y]).toEqual([4, 3]);
    expect(last?.x).toBeCloseTo(5, 3);
  });

  it('of a silent tracker do not come', () => {
    const all = reports('[{ from: 2, to: 4 }]');
    expect(between(all, 2, 4)).toEqual([]);
    expect(all).toHaveLength(160);
  });

  it('come from each tracker that a performer wears, and one of a pair can fall silent alone', () => {
    const pair = TEXT.replace('trackers: [1]', 'trackers: [1, 11]');
    const of = (list: ReturnType<typeof reports>, id: number) =>
      list.filter(({ address }) => address === `/tracker/${id}/position`);
    const all = reports('[{ from: 2, to: 4, tracker: 11 }]', { show: pair });
    expect(of(all, 1)).toHaveLength(200);
    expect(of(all, 11)).toHaveLength(160);
    expect(between(of(all, 11), 2, 4)).toEqual([]);
    // Two sensors: their noise differs, and one alone is as it was without the other.
    const alone = reports('[]');
    expect(of(all, 1).map(({ x }) => x)).toEqual(alone.map(({ x }) => x));
    expect(of(all, 11)[0]?.x).not.toBe(of(all, 1)[0]?.x);
    expect(() => reports('[{ from: 2, to: 4, tracker: 12 }]', { show: pair })).toThrow(
      'ines has no tracker "12" in the show',
    );
  });

  it('of a frozen one repeat the last to the bit', () => {
    const all = reports('[{ from: 2, to: 4, as: frozen }]');
    const frozen = between(all, 2, 4);
    expect(frozen).toHaveLength(40);
    const before = between(all, 0, 2).at(-1);
    for (const { x, y } of frozen) expect([x, y]).toEqual([before?.x, before?.y]);
    expect(new Set(between(all, 4, 6).map(({ x }) => x)).size).toBe(40);
  });

  it('of one that is seen elsewhere are off by as much', () => {
    const all = reports('[{ from: 2, to: 4, as: elsewhere, by: [2, -1] }]', { noise: 0 });
    const truly = reports('[]', { noise: 0 });
    between(all, 2, 4).forEach(({ x, y }, i) => {
      const there = between(truly, 2, 4)[i];
      expect(x).toBeCloseTo((there?.x ?? 0) + 2, 5);
      expect(y).toBeCloseTo((there?.y ?? 0) - 1, 5);
    });
  });

  it('do not come of anybody while the feed is lost', () => {
    expect(between(reports('[]', { more: 'losses: [{ from: 5, to: 6 }]' }), 5, 6)).toEqual([]);
  });

  it('carry the time of measurement where the show expects it', () => {
    const show = TEXT.replace('    port: 9010', '    port: 9010\n    timeTags: measured');
    const [first] = reports('[]', { show });
    expect(first?.tag).toBeCloseTo(1000, 6);
  });

  it('have a desk beside them where the show requires one', () => {
    const show = TEXT.replace(/\noperator:[\s\S]*?\n(?=\S)/, '\n').replace(
      '\nzones:',
      '\noperator: { listen: 127.0.0.1, port: 9020, allow: [127.0.0.1], desk: required }\nzones:',
    );
    const desk = reports('[]', { show }).filter(({ address }) => address === '/lampwright/desk');
    expect(desk).toHaveLength(40);
  });
});
