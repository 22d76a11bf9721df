import { Floor, numbered } from '../../drawing/floor.js';
import { INK } from '../../drawing/ink.js';
import { captioned } from '../../drawing/page.js';
import type { Show } from '../../show/model/model.js';
import type { Cell } from '../measures/places.js';
import type { PerformerReport } from '../words/report-data.js';

/** A cell is left blank if somebody was there for a shorter time, seconds. */
const LEAST_S = 0.1;

/** Where a performer was lost, and how often. */
export interface MapMark {
  readonly x: number;
  readonly y: number;
  readonly letter: string;
  readonly count: number;
  readonly title: string;
}

/** The stage from above: how well people were tracked at each place, and where they were lost. */
export function placeMap(
  show: Show,
  cells: readonly Cell[],
  cellM: number,
  marks: readonly MapMark[],
): string {
  const { min, max } = show.bounds;
  const floor = new Floor({ bounds: show.bounds });
  for (const { x, y, heldS, weakS } of cells) {
    if (heldS < LEAST_S) continue;
    const left = Math.max(min.x, x - cellM / 2);
    const top = Math.min(max.y, y + cellM / 2);
    const wide = (Math.min(max.x, x + cellM / 2) - left) * floor.perM;
    const high = (top - Math.max(min.y, y - cellM / 2)) * floor.perM;
    floor.draw(
      `<rect x="${floor.x(left)}" y="${floor.y(top)}" width="${wide.toFixed(1)}" height="${high.toFixed(1)}" fill="${shade(Math.min(1, weakS / heldS))}"><title>${heldS.toFixed(1)} s, weak for ${weakS.toFixed(1)} s</title></rect>`,
    );
  }
  zonesOn(floor, show, true);
  floor.stage();
  for (const { x, y, letter, count, title } of marks) {
    const at = { x: clamp(x, min.x, max.x), y: clamp(y, min.y, max.y) };
    const disc = numbered(count > 1 ? `${letter} ${count}` : letter, INK.weak);
    floor.mark({ at, ...disc, lines: [], title });
  }
  return floor.svg('the stage from above');
}

/** A small picture for each performer of where they walked, with a ring where it begins. */
export function pathMaps(show: Show, performers: readonly PerformerReport[]): string[] {
  const walked = performers.filter(({ path }) => path.length > 0);
  if (walked.length === 0) return [];
  return [
    '<h3>Paths walked</h3>',
    '<p class="quiet">A ring marks where each starts. The line breaks where they were not tracked. Dashed: zones.</p>',
    '<div class="small">',
    ...walked.map(({ label, path }) => {
      const places = path.flat().map(([x, y]) => ({ x, y }));
      const floor = new Floor({ bounds: show.bounds, places, isSmall: true, aroundM: 0.3 });
      zonesOn(floor, show, false);
      floor.stage();
      const lines = path.map(
        points =>
          `<polyline points="${floor.points(points)}" fill="none" stroke="${INK.followed}" stroke-width="1.6" stroke-opacity="0.75" stroke-linejoin="round"/>`,
      );
      floor.draw(...lines);
      const [first] = places;
      if (first !== undefined) {
        const shape = `<circle r="4.5" fill="${INK.paper}" stroke="${INK.text}" stroke-width="1.6"/>`;
        floor.mark({ at: first, shape, half: 5, lines: [], title: `${label} begins here` });
      }
      return captioned(label, floor.svg(`where ${label} walked`));
    }),
    '</div>',
  ];
}

/** Draws the zones that stay in place; one that moves has none on the map of an evening. */
function zonesOn(floor: Floor, { zones }: Show, named: boolean): void {
  for (const { label, area, around } of zones) {
    if (around === undefined) {
      floor.area(area, { ink: INK.zone, dash: '5 4' }, named ? label : undefined);
    }
  }
}

export const MAP_KEY = [
  [shade(0), 'well tracked'],
  [shade(0.25), 'weak for a quarter of the time'],
  [shade(1), 'weak all the time'],
] as const;

/** From pale green over amber to red. */
function shade(share: number): string {
  const stops = [
    [221, 237, 229],
    [240, 190, 110],
    [181, 57, 44],
  ] as const;
  const s = Math.sqrt(share) * 2;
  const [from, to] = s < 1 ? [stops[0], stops[1]] : [stops[1], stops[2]];
  const part = s < 1 ? s : s - 1;
  const mixed = from.map((value, i) => Math.round(value + part * ((to[i] ?? 0) - value)));
  return `rgb(${mixed.join(' ')})`;
}

function clamp(value: number, low: number, high: number): number {
  return Math.min(high, Math.max(low, value));
}
