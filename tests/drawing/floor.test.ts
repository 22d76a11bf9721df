import { describe, expect, it } from 'vitest';
import { Floor, SHAPES } from '../../src/drawing/floor.js';
import { inLines, shortened, widthOf } from '../../src/drawing/letters.js';
import { clipped, placesWithin } from '../../src/drawing/outline.js';
import { SvgPage } from '../../src/drawing/svg-page.js';

const STAGE = { min: { x: 0, y: 0, z: 0 }, max: { x: 10, y: 8, z: 3 } };

interface Text {
  readonly x: number;
  readonly y: number;
  readonly words: string;
}

/** Text on the floor, not on its edges: middles and base lines. */
function named(svg: string): Text[] {
  return [...svg.matchAll(/<text x="([\d.]+)" y="([\d.]+)" text-anchor="middle" fill[^>]*paint-order[^>]*>([^<]*)</g)].map(
    ([, x, y, words = '']) => ({ x: Number(x), y: Number(y), words }),
  ); // biome-ignore format: one pattern
}

function boxOf({ x, y, words }: Text) {
  const half = (12 * widthOf(words)) / 2;
  return { left: x - half, right: x + half, top: y - 11, bottom: y + 2.5 };
}

describe('the stage from above', () => {
  it('is to scale, upstage at the top and stage left at the right', () => {
    const floor = new Floor({ bounds: STAGE });
    const [x0, x1] = [Number(floor.x(0)), Number(floor.x(10))];
    const [y0, y8] = [Number(floor.y(0)), Number(floor.y(8))];
    expect(x1).toBeGreaterThan(x0);
    expect(y8).toBeLessThan(y0);
    expect((x1 - x0) / 10).toBeCloseTo((y0 - y8) / 8, 1);
  });

  it('holds places beside the stage, and a deep one is no higher than it may be', () => {
    const wide = new Floor({ bounds: STAGE, places: [{ x: -3, y: 12 }] });
    expect(Number(wide.x(-3))).toBeGreaterThan(0);
    expect(Number(wide.y(12))).toBeGreaterThan(0);
    const deep = new Floor({ bounds: { ...STAGE, max: { x: 4, y: 40, z: 3 } } });
    expect(deep.high).toBeLessThanOrEqual(660.01);
    expect(deep.frame.x1 - deep.frame.x0).toBeGreaterThan(20);
  });

  it('prints at the largest round scale that fits', () => {
    // 11 m across 420 of 480 units: 12.57 m, which is 167.6 mm at 1 : 75, and 209.5 mm at 1 : 60.
    const { to, wideMm } = new Floor({ bounds: STAGE }).scale(182);
    expect(to).toBe(75);
    expect(wideMm).toBeCloseTo(167.6, 1);
  });

  it('has metres on two edges and the words of the stage on all', () => {
    const svg = new Floor({ bounds: STAGE }).svg('a stage');
    for (const words of ['upstage', 'stage right', 'stage left', 'audience']) {
      expect(svg).toContain(words);
    }
    for (let m = 0; m <= 10; m++) expect(svg).toContain(`>${m}</text>`);
    expect(svg).toContain('aria-label="a stage"');
  });

  it('puts 60 names where none lies on another or leaves the picture', () => {
    const floor = new Floor({ bounds: STAGE });
    floor.stage();
    for (let i = 0; i < 60; i++) {
      const at = { x: 10 * Math.sin(i) ** 2, y: 8 * Math.sin(1.7 * i) ** 2 };
      const mark = { at, shape: SHAPES.head, half: 7, title: `head ${i}` };
      floor.mark({ ...mark, lines: [`head-${i}`, '5.2 m'] });
    }
    const svg = floor.svg('crowded');
    const texts = named(svg);
    // Each has its name, or a number that is told beside the picture.
    const names = texts.filter(({ words }) => words.startsWith('head'));
    expect(names.length + floor.numbered.length).toBe(60);
    const numbers = texts.filter(({ words }) => /^\d+$/.test(words)).map(({ words }) => words);
    expect(numbers.length).toBeGreaterThan(0.8 * floor.numbered.length);
    expect(floor.numbered[0]).toMatch(/^1: head \d+$/);
    const boxes = texts.map(boxOf);
    for (const [i, a] of boxes.entries()) {
      expect(a.left).toBeGreaterThanOrEqual(0);
      expect(a.right).toBeLessThanOrEqual(floor.wide);
      expect(a.bottom).toBeLessThanOrEqual(floor.high);
      for (const b of boxes.slice(i + 1)) {
        const over =
          Math.min(a.right, b.right) - Math.max(a.left, b.left) > 0.1 &&
          Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 0.1;
        expect(over).toBe(false);
      }
    }
  });

  it('puts the name of an area within it, beside what stands there, and no line through a name', () => {
    const floor = new Floor({ bounds: STAGE });
    const ink = '#333';
    const seat: [number, number][] = [
      [6, 6.2],
      [9, 6.2],
      [9, 7.8],
      [6, 7.8],
    ];
    floor.polygon(seat, { ink }, 'window seat');
    floor.stage();
    for (const i of Array(24).keys()) {
      const mark = {
        at: { x: 7.5 + ((i % 3) - 1) * 0.3, y: 7.75 - i / 50 },
        shape: SHAPES.fixed,
        half: 6,
        title: `lamp ${i}`,
      };
      floor.mark({ ...mark, lines: [`lamp-${i}`, '1.6 m'] });
    }
    const svg = floor.svg('a seat');
    const [left, right] = [6, 9].map(x => Number(floor.x(x))) as [number, number];
    const names = named(svg);
    const lamps = names.filter(({ words }) => words.startsWith('lamp'));
    // The first have their names close by, the others numbers, which the list beside the plan explains.
    expect(lamps.length).toBeGreaterThan(3);
    expect(floor.numbered.length).toBeGreaterThan(3);
    const within = boxOf(
      names.find(({ words }) => words.startsWith('window')) ?? { x: 0, y: 0, words: '' },
    );
    expect([within.left >= left, within.right <= right]).toEqual([true, true]);
    // So many lamps so near each other: some names are far, and joined to theirs below all text.
    const lines = [...svg.matchAll(/stroke-width="0\.7"/g)].map(({ index }) => index);
    expect(lines.length).toBeGreaterThan(0);
    expect(Math.max(...lines)).toBeLessThan(svg.indexOf('paint-order'));
  });

  it('shows of an area what lies in the picture, and its name there', () => {
    const floor = new Floor({ bounds: STAGE });
    const house: [number, number][] = [
      [-30, -40],
      [40, -40],
      [40, 2],
      [-30, 2],
    ];
    floor.polygon(house, { ink: '#000' }, 'the house');
    const [, points = ''] = /<polygon points="([^"]*)"/.exec(floor.svg('')) ?? [];
    const ys = points.split(' ').map(one => Number(one.split(',')[1]));
    expect(Math.max(...ys)).toBeLessThanOrEqual(floor.high);
    expect(named(floor.svg('')).map(({ words }) => words)).toEqual(['the house']);
  });

  it('takes names for text, never for markup', () => {
    const floor = new Floor({ bounds: STAGE });
    const mark = { at: { x: 5, y: 4 }, shape: SHAPES.fixed, half: 6 };
    floor.mark({ ...mark, lines: ['<b>&"'], title: '</title><script>' });
    expect(floor.svg('"')).not.toMatch(/<b>|<script>/);
  });
});

it('clips a square by half, and finds the middle of what is left', () => {
  const square = [[-1, 0], [1, 0], [1, 1], [-1, 1]] as const; // biome-ignore format: corners
  const frame = { x0: 0, y0: -5, x1: 5, y1: 5 };
  const half = clipped(square, frame);
  expect(half.map(one => one.map(n => Number(n.toFixed(6))).join())).toEqual(
    expect.arrayContaining(['0,0', '1,0', '1,1', '0,1']),
  );
  expect(placesWithin(half)[0]).toEqual([0.5, 0.5]);
  expect(clipped(square, { ...frame, x0: 2 })).toEqual([]);
});

it('cuts text by letters, and lines by words', () => {
  expect(shortened('head stage right', 8)).toBe('head st…');
  expect(shortened('stove', 8)).toBe('stove');
  expect(inLines('harbour steps at the quay', 14)).toEqual(['harbour steps', 'at the quay']);
  expect(inLines('Donaudampfschifffahrt', 10)).toEqual(['Donaudamp…']);
});

it('writes lines on a page of SVG that are no wider than it, and keeps figures with their units', () => {
  const page = new SvgPage(300, 10);
  page.write(`Shade: expected aim error, ${'from 25 mm to 67 mm. '.repeat(6)}`);
  const lines = [...page.svg('t').matchAll(/<text[^>]*>([^<]*)</g)].map(([, line = '']) => line);
  expect(lines.length).toBeGreaterThan(3);
  for (const line of lines) {
    expect(13 * widthOf(line)).toBeLessThanOrEqual(280);
    expect(line).not.toMatch(/\d$/);
  }
});
