import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { applyPatch } from 'diff';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { main } from '../../../src/commands/cli.js';
import { parseShow } from '../../../src/show/parse.js';
import { changed } from '../../show/base.js';
import { captured } from '../captured.js';

const folder = mkdtempSync(join(tmpdir(), 'lampwright-tune-'));
const path = (name: string) => join(folder, name);
const BARE = changed(
  'ines: { trackers: [1] }',
  'ines: { trackers: [1] }\n  gull: { label: The Gull, trackers: [3] }',
  changed('{ x: [0, 6], y: [0, 4] }', '{ x: [0, 10], y: [0, 8] }'),
);
/** Declared far too clean, so that there is something to propose. */
const SHOW = changed(
  '\nperformers:',
  '\ntracking: { noise: 0.02 } # the maker says so\n\nperformers:',
  BARE,
);
/** The Gull circles alone: 70 s. */
const MARKS = Array.from({ length: 15 }, (_, n) => {
  const place = [[5, 1], [8, 3], [8.6, 6.8], [4.6, 4.6], [2, 2]][n % 5]; // biome-ignore format: places
  return `      - { at: ${5 * n}, place: [${place}] }\n`;
});
const SCENE = `lampwright: 1
scene: the Gull alone
length: 70
sensor: { rate: 30, noise: 0.12, outliers: 0.02, latency: 0.05 }
performers:
  gull:
    height: 1.4
    path:
${MARKS.join('')}`;
const said = captured();

beforeAll(() => writeFileSync(path('show.yaml'), SHOW));
afterAll(() => rmSync(folder, { recursive: true }));

test('proposes a change of the show as a diff, and leaves the file alone', async () => {
  writeFileSync(path('gull.scene.yaml'), SCENE);
  const rehearse = ['rehearse', path('show.yaml'), path('gull.scene.yaml')];
  expect(await main([...rehearse, '--record', path('rec')]), said.err).toBe(0);
  said.clear();
  const code = await main(['tune', path('show.yaml'), path('rec'), '--patch', path('a.patch')]);
  expect(said.err).toBe('');
  expect(code).toBe(0);
  expect(said.out).toContain('tracking.noise: 0.02 ->');
  expect(said.out).toMatch(/3 \(The Gull\) +\d+/);
  expect(said.out).toMatch(/as the show is .* m/);
  expect(said.out).toContain('the recording does not tell\n  tracking.sensorLatency');
  expect(readFileSync(path('show.yaml'), 'utf8')).toBe(SHOW);
  const after = applyPatch(SHOW, readFileSync(path('a.patch'), 'utf8'));
  if (after === false) throw new Error('the patch does not fit');
  expect(after).toContain(' } # the maker says so');
  const parsed = parseShow(after, 'show.yaml');
  if (!parsed.ok) throw new Error(parsed.problems[0]?.message);
  // A little more than the noise that the scene gives the Gull, 0.12 m, of which two thirds wander.
  expect(parsed.show.tracking.track.horizontal.whiteM).toBeGreaterThan(0.09);
});

test('gives the same as JSON, of reports in a table too, and adds the block to a show without one', async () => {
  const rows = ['t_s,tracker,x,y,z'];
  for (let n = 0; n < 100 * 20; n++) {
    const t = n / 20;
    const sway = 0.2 * Math.sin(2.9 * n) + 0.2 * Math.sin(7.3 * n + 1);
    rows.push(`${t},1,${5 + 3 * Math.cos(t / 2) + sway},${4 + 3 * Math.sin(t / 2) - sway},1.5`);
  }
  writeFileSync(path('walk.csv'), rows.join('\n'));
  writeFileSync(path('bare.yaml'), BARE);
  expect(await main(['tune', path('bare.yaml'), path('walk.csv'), '--json'])).toBe(0);
  const { ok, tooShort, trackers, outcomes, patch } = JSON.parse(said.out);
  expect({ ok, tooShort }).toEqual({ ok: true, tooShort: null });
  expect(trackers).toMatchObject([{ tracker: '1', performer: 'ines', reports: 2000 }]);
  expect(outcomes).toContainEqual(
    expect.objectContaining({ kind: 'proposed', what: 'tracking.noise', now: '0.15' }),
  );
  expect(patch).toMatch(/^\+tracking: \{ noise: [\d.]+ \}$/m);
});

test('says that a recording is too short, with exit code 1, and what was left out', async () => {
  const rows = ['t_s,tracker,x,y,z', '0,1,5,4,1', '0.2,77,5,4,1', '0.5,1,5,4.2,1'];
  writeFileSync(path('short.csv'), rows.join('\n'));
  expect(await main(['tune', path('show.yaml'), path('short.csv')])).toBe(1);
  expect(said.out).toContain('Too short to choose noise and reacquire from');
  expect(said.out).toContain('left out: 1 position of a tracker that nobody in the show wears');
});

test('tells all that is wrong with the files at once', async () => {
  writeFileSync(path('bad.csv'), 't_s,tracker,x,y,z\n0,1,5,here,1\n');
  writeFileSync(path('truth.csv'), 't_s,x,y,z\n0,1,5,1\n1,1,5,1\n');
  const files = [path('bad.csv'), path('nowhere'), path('truth.csv')];
  expect(await main(['tune', path('show.yaml'), ...files])).toBe(2);
  expect(said.err).toMatch(/bad\.csv: line 2/);
  expect(said.err).toMatch(/nowhere can't be read/);
  expect(said.err).toMatch(/truth\.csv: /);
  expect(said.out).toBe('');
});
