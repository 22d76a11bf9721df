import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { parseScene, type ReadReferenced } from '../../../src/rehearsal/scenes/scene-file.js';
import { parseShow } from '../../../src/show/parse.js';

const parsed = parseShow(readFileSync('config/salt-lantern.show.yaml', 'utf8'), 'a.show.yaml');
if (!parsed.ok) throw new Error('the show has errors');
const { show } = parsed;
const NOTHING: ReadReferenced = () => ({ ok: false, why: 'there is no such file' });

const HEAD = 'lampwright: 1\nscene: a walk\nlength: 10\nperformers:\n';
const parse = (performers: string, beside = NOTHING) =>
  parseScene(HEAD + performers, 'a.scene.yaml', show, beside);

/** Problems as `line:column code message`. */
function problems(performers: string, beside = NOTHING): string[] {
  const result = parse(performers, beside);
  if (result.ok) return [];
  return result.problems.map(
    ({ line, column, code, message }) => `${line}:${column} ${code} ${message}`,
  );
}

function only(performers: string, beside = NOTHING) {
  const result = parse(performers, beside);
  if (!result.ok) throw new Error(result.problems[0]?.message);
  const [part] = result.scene.parts;
  if (part === undefined) throw new Error('nobody');
  return part;
}

describe('a scene file', () => {
  it('has an unknown performer checked like the others', () => {
    expect(
      problems(
        '  inez: { path: [{ at: 4, place: lanter }, { at: 2, place: [1, 1] }], losses: [{ from: 3, to: 2 }] }',
      ),
    ).toEqual([
      '5:3 unknown-name the show has no performer "inez". Did you mean "ines"? It has "ines", "tobias" or "gull".',
      expect.stringContaining('the show has no zone or exit "lanter"'),
      expect.stringContaining('times must rise'),
      expect.stringContaining('a loss ends after it begins'),
    ]);
  });

  it('of the examples is right', () => {
    const text = readFileSync('config/scenes/lantern.scene.yaml', 'utf8');
    const result = parseScene(text, 'lantern.scene.yaml', show, NOTHING);
    expect(result).toMatchObject({ ok: true, scene: { lengthS: 60, parts: { length: 3 } } });
  });

  it('places people by metres or by zone, and moves them from mark to mark', () => {
    const { truth, trackers } = only(
      '  ines: { height: 1.5, path: [{ at: 2, place: [1, 2] }, { at: 6, place: lantern }] }',
    );
    expect(trackers).toEqual(['1']);
    const at = (timeS: number) => [truth.xs[timeS * 100], truth.ys[timeS * 100]];
    expect(at(0)).toEqual([1, 2]);
    expect(at(2)).toEqual([1, 2]);
    // Half way in the middle of the time, as they start and stop alike.
    expect(at(4)).toEqual([3, 3]);
    expect(at(6)).toEqual([5, 4]);
    expect(at(10)).toEqual([5, 4]);
    expect(truth.zs[700]).toBe(1.5);
  });

  it('takes a recorded motion, moved and from another time on', () => {
    const csv = 't_s,x,y,z,id\n100,1,1,1,a\n101,2,1,1,a\n100,5,5,1,b\n102,6,6,1,b\n';
    const { truth, sightings } = only(
      '  ines: { motion: walk.csv, id: b, start: 3, move: [1, -1] }',
      path => (path === 'walk.csv' ? { ok: true, text: csv } : { ok: false, why: 'another' }),
    );
    expect([...truth.timesS]).toEqual([3, 5]);
    expect([...truth.xs]).toEqual([6, 7]);
    expect([...truth.ys]).toEqual([4, 5]);
    expect(sightings).toBeUndefined();
  });

  it('reports what was measured, where that was', () => {
    const csv = 't_s,mx,my,mz,tx,ty,tz\n0,1.1,1,1,1,1,1\n1,2.1,1,1,2,1,1\n';
    const { sightings } = only('  ines: { motion: m.csv }', () => ({ ok: true, text: csv }));
    expect(sightings?.map(({ timeS, x }) => [timeS, x])).toEqual([
      [0, 1.1],
      [1, 2.1],
    ]);
  });

  it('lets a performer have a sensor of their own, where it differs', () => {
    const text = `lampwright: 1\nscene: x\nlength: 1\nsensor: { noise: 0.3, rate: 10 }\nperformers:\n  ines: { path: [{ at: 0, place: [1, 1] }], sensor: { rate: 50 } }`;
    const result = parseScene(text, 'a', show, NOTHING);
    expect(result.ok && result.scene.parts[0]?.sensor).toMatchObject({ noiseM: 0.3, rateHz: 50 });
  });
});

describe('a scene with ranges to the anchors', () => {
  const scene = (performer: string, anchors = show.anchors) =>
    parseScene(
      `lampwright: 1\nscene: x\nlength: 1\nsensor: { anchors: true }\nperformers:\n  ines: ${performer}\n`,
      'a.scene.yaml',
      { ...show, anchors },
      NOTHING,
    );

  it('takes the anchors of the show, and the body of the performer', () => {
    const result = scene('{ path: [{ at: 0, place: [1, 1] }] }');
    const around = result.ok ? result.scene.parts[0]?.around : undefined;
    expect(around?.anchors).toBe(show.anchors);
    expect(around?.ranging).toEqual({ by: 'range', errorM: 0.12 });
    expect([around?.heightM, around?.wornAtM]).toEqual([1.68, 1.58]);
    const off = scene('{ path: [{ at: 0, place: [1, 1] }], sensor: { anchors: false } }');
    expect(off.ok && off.scene.parts[0]?.around).toBeUndefined();
  });

  it('says so where the show has too few of them', () => {
    const result = scene('{ path: [{ at: 0, place: [1, 1] }] }', show.anchors.slice(0, 2));
    expect(result.ok ? [] : result.problems).toMatchObject([
      {
        line: 4,
        column: 20,
        code: 'bad-value',
        message: 'positions from ranges need at least 3 anchors in the show; it has 2 of them.',
      },
    ]);
  });
});

describe('a scene file with errors', () => {
  it('says where, what and what would be right, all at once', () => {
    expect(
      problems(
        [
          '  inez: { path: [{ at: 0, place: [1, 1] }] }',
          '  tobias:',
          '    path:',
          '      - { at: 5, place: lantern }',
          '      - { at: 5, place: lanterne }',
          '    losses: [{ from: 3, to: 2 }]',
          '  gull: { tracker: 9, motion: gone.csv }',
        ].join('\n'),
      ),
    ).toEqual([
      '5:3 unknown-name the show has no performer "inez". Did you mean "ines"? It has "ines", "tobias" or "gull".',
      expect.stringMatching(/^9:15 bad-value times must rise/),
      expect.stringMatching(
        /^9:25 unknown-name the show has no zone or exit "lanterne"\. Did you mean "lantern"\?/,
      ),
      expect.stringMatching(/^10:29 range-reversed a loss ends after it begins/),
      expect.stringMatching(/^11:20 unknown-name gull has no tracker "9"/),
      expect.stringMatching(
        /^11:31 file-unreadable gone\.csv can't be read: there is no such file/,
      ),
    ]);
  });

  it('says what is wrong with one performer also where another, or the scene itself, has a wrong shape', () => {
    const found = problems(
      [
        '  ines: { hight: 1.5, path: [{ at: 0, place: [1, 1] }] }',
        '  tobias: { path: [{ at: 0, place: [1, 1] }], losses: [{ from: 3, to: 2 }] }',
        'lenght: 20',
      ].join('\n'),
    );
    expect(found.map(one => one.replace(/^[\d:]+ /, ''))).toEqual([
      expect.stringMatching(/^unknown-key .*"hight"/),
      expect.stringMatching(/^range-reversed a loss ends after it begins/),
      expect.stringMatching(/^unknown-key .*"lenght"/),
    ]);
  });

  it('knows a slip of the fingers', () => {
    expect(problems('  ines: { path: [{ at: 0, plaec: [1, 1] }] }')).toEqual([
      expect.stringMatching(/^5:27 unknown-key "plaec" is not a key of .*Did you mean "place"\?/),
    ]);
    expect(problems('  ines: { path: [{ at: now, place: [1, 1] }] }')).toEqual([
      expect.stringMatching(/^5:24 wrong-type .*should be a number, and is "now"/),
    ]);
  });

  it.each([
    ['  ines: { height: 1 }', /neither "path" nor "motion"/],
    ['  ines: { path: [{ at: 0, place: [1, 1] }], motion: a.csv }', /not both/],
    ['  ines: { motion: a.csv }', /line 1: the head is/],
  ])('refuses %s', (text, message) => {
    expect(problems(text, () => ({ ok: true, text: 'a,b\n1,2' }))).toEqual([
      expect.stringMatching(message),
    ]);
  });

  it('that is no YAML says where', () => {
    const result = parseScene('lampwright: 1\nscene: [', 'a', show, NOTHING);
    expect(result).toMatchObject({ ok: false, problems: [{ code: 'yaml-syntax', line: 2 }] });
  });

  it('of which nothing is there names what is missing', () => {
    const result = parseScene('', 'a', show, NOTHING);
    expect(result.ok).toBe(false);
  });
});

describe('the format of a scene file', () => {
  const said = (version: string) => {
    const text = `lampwright: ${version}\nscene: x\nlater: 1\n`;
    const result = parseScene(text, 'a.scene.yaml', show, NOTHING);
    return result.ok ? [] : result.problems.map(({ message }) => message);
  };
  it('that is newer is all that is said of it', () => {
    expect(said('2')).toEqual([
      'the scene has format 2, but this lampwright reads formats up to 1. Install the lampwright it was written for, or a newer one.',
    ]);
  });
  it('in quotes is told to go without them', () => {
    expect(said('"1"').join()).toContain('should be 1, and is "1". Write it without quotes.');
  });
});
