import { readFileSync } from 'node:fs';
import { stripVTControlCharacters } from 'node:util';
import { expect } from 'vitest';
import { createEngine } from '../../src/engine/engine.js';
import type { PerformerSnapshot, Snapshot } from '../../src/engine/snapshot.js';
import { snapshot as snapshotOf } from '../../src/engine/snapshot.js';
import { viewOf } from '../../src/engine/view.js';
import { widthOf } from '../../src/panel/line.js';
import { liveView, type ViewInput } from '../../src/panel/live-view.js';
import type { Show } from '../../src/show/model.js';
import { showOf } from '../show/show-of.js';

export const LANTERN = showOf(readFileSync('config/salt-lantern.show.yaml', 'utf8'));
export const plain: ViewInput['style'] = (_style, text) => text;
export const NEWS = Array.from({ length: 30 }, (_, i) => `21:04:${i}  ines enters stove`);

export type PerformerFields = { readonly [K in keyof PerformerSnapshot]?: PerformerSnapshot[K] };

/** The engine's own snapshot at the start, with performers as given. */
export function seen(show: Show, performers: readonly PerformerFields[] = []): Snapshot {
  const start = snapshotOf(viewOf(createEngine(show)));
  return {
    ...start,
    performers: start.performers.map((one, i) => ({ ...one, ...performers[i] })),
  };
}

export function view(fields: Partial<ViewInput> = {}): string[] {
  return liveView({
    show: LANTERN,
    snapshot: seen(LANTERN, [
      { phase: 'live', x: 5, y: 4, zones: ['lantern'] },
      { phase: 'live', x: 2, y: 6 },
      { phase: 'losing', cause: 'tracker-silent', x: 8.6, y: 6.8 },
    ]),
    lights: 'live',
    enginePid: 4711,
    news: NEWS,
    columns: 130,
    rows: 50,
    style: plain,
    ...fields,
  });
}

/** The last row and column stay free: a cursor there would scroll, or be erased over. */
export function expectToFit(lines: readonly string[], columns: number, rows: number): void {
  expect(lines.length).toBeLessThanOrEqual(Math.max(0, rows - 1));
  for (const line of lines) {
    expect(widthOf(stripVTControlCharacters(line))).toBeLessThanOrEqual(Math.max(0, columns - 1));
    expect(line).not.toMatch(/[\n\r]/);
  }
}
