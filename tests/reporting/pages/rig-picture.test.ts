import { expect, test } from 'vitest';
import { rigPictures } from '../../../src/reporting/pages/rig-picture.js';
import { KEPT } from '../../engine/keep-out-show.js';
import { showOf } from '../../show/show-of.js';

/** Corners of the shape with this title, in the order of the picture. */
function shapes(svg: string, title: string): number[][][] {
  const found = svg.matchAll(
    new RegExp(`<polygon points="([^"]*)"[^>]*><title>${title}[^<]*<`, 'g'),
  );
  return [...found].map(([, points = '']) => points.split(' ').map(p => p.split(',').map(Number)));
}

test('heads, beams and keep-outs, from above and from the side', () => {
  const svg = rigPictures(showOf(KEPT)).join('');
  expect(svg).not.toContain('NaN');
  for (const title of ['back', 'side', 'zoned', 'audience', 'camera']) {
    expect(shapes(svg, title)).toHaveLength(2);
  }
  const [stage = []] = shapes(svg, 'stage');
  const perM = Math.abs((stage[1]?.[0] ?? 0) - (stage[0]?.[0] ?? 0)) / 10;
  // 5 m up and aimed 4 m away, on the floor: 12 degrees at 6.40 m, seen across, 1.35 m wide from above.
  const [beam = []] = shapes(svg, 'back');
  const wide = Math.max(...beam.map(([x = 0]) => x)) - Math.min(...beam.map(([x = 0]) => x));
  expect(wide / perM).toBeCloseTo(2 * 6.403 * Math.tan((6 * Math.PI) / 180), 1);
});

test('nothing where no head has a place', () => {
  expect(rigPictures(showOf(KEPT.replace(/, position: \[[^\]]*\]/g, '').replace(/keepOut:\n.*\n.*\n/, '').replace(/aim: \[[^\]]*\],? ?/g, '').replace(/ {2}- \{ follow.*\n/g, '')))).toEqual([]);
}); // biome-ignore format: one show
