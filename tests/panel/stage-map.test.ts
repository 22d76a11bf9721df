import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { showOf } from '../show/show-of.js';
import { expectToFit, LANTERN, seen, view } from './support.js';

describe('the map', () => {
  /** The part between the edges, upstage first. */
  const mapOf = (lines: readonly string[]) =>
    lines.flatMap(line => /^\|([^|]*)\|/.exec(line)?.[1] ?? []);
  const at = (lines: readonly string[], x: number, y: number) => {
    const map = mapOf(lines);
    const row = map.length - 1 - Math.floor((y / 8) * map.length);
    return map[row]?.[Math.floor((x / 10) * (map[row]?.length ?? 0))];
  };

  it('has stage left at the right and upstage at the top', () => {
    const lines = view();
    expect(mapOf(lines)).toHaveLength(16);
    expect(at(lines, 5, 4)).toBe('I');
    expect(at(lines, 2, 6)).toBe('T');
    expect(at(lines, 8.6, 6.8)).toBe('G');
  });

  it('shows zones, also those for raised heights, and which of them are occupied', () => {
    const show = showOf(
      readFileSync('config/salt-lantern.show.yaml', 'utf8').replace(
        'circle: { centre: [2, 6], radius: 1.2 }',
        'circle: { centre: [2, 6], radius: 1.2 }\n    height: [1, 2.5]',
      ),
    );
    const start = seen(show);
    const zones = start.zones.map(zone => ({ ...zone, presence: zone.name === 'lantern' ? 1 : 0 }));
    const lines = view({ show, engine: { ...start, zones } });
    expect(at(lines, 2, 5.3)).toBe('·');
    expect(at(lines, 5, 4.6)).toBe('▒');
    expect(at(lines, 5, 1)).toBe(' ');
  });

  it('has the names of the zones in them, heads, and a scale', () => {
    const lines = view({ engine: seen(LANTERN) });
    const map = mapOf(lines).join('\n');
    for (const name of ['stove', 'window seat', 'lantern', 'harbour steps']) {
      expect(map).toContain(name);
    }
    expect(map.match(/\+/g)).toHaveLength(3);
    // 10 m are 40 columns.
    expect(lines.join('\n')).toMatch(/^<--> 1 m {2}audience/m);
  });

  it('shows of two in one place the one who is lost', () => {
    const both = { x: 5, y: 4 };
    const engine = seen(LANTERN, [
      { ...both, phase: 'losing' },
      { ...both, phase: 'live' },
    ]);
    expect(at(view({ engine }), 5, 4)).toBe('I');
  });

  it('leaves out who was never heard, and shows at the edge who is beyond it', () => {
    const engine = seen(LANTERN, [
      { phase: 'waiting', x: 5, y: 4 },
      { phase: 'live', x: 99, y: -99 },
    ]);
    const lines = view({ engine });
    expect(mapOf(lines).join('')).not.toContain('I');
    expect(mapOf(lines).at(-1)?.at(-1)).toBe('T');
  });

  it.each([
    ['wide', '[0, 40]', '[0, 4]'],
    ['deep', '[0, 3]', '[0, 40]'],
  ])('of a %s stage fits as well', (_shape, x, y) => {
    const show = showOf(
      readFileSync('config/minimal.show.yaml', 'utf8').replace(
        /^stage:(\n {2}.*)+|^stage:.*$/m,
        `stage: { x: ${x}, y: ${y}, z: [-0.5, 3] }`,
      ),
    );
    for (const [columns, rows] of [
      [130, 50],
      [80, 24],
    ] as const) {
      expectToFit(view({ show, engine: seen(show), columns, rows }), columns, rows);
    }
  });
});
