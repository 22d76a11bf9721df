import type { PerformerSnapshot, Snapshot } from '../engine/snapshot.js';
import type { Show } from '../show/model.js';
import { type Area, compileArea, movedTo, signedDistanceM } from '../stage/area.js';
import { initialOf, type Line, type Piece } from './line.js';
import { styleOf, URGENCY } from './phases.js';

/** A character is about twice as high as it is wide. */
const CELL_ASPECT = 2;
const LEAST_COLUMNS = 12;
const LEAST_ROWS = 4;
/** The words above and below. */
const WORDS = 2;
/** The edges at the left and at the right. */
const EDGES = 2;

/**
 * The stage from above, upstage at the top and stage left at the right: as the designer sees it from
 * the house. Each line is as wide as the others.
 * @returns nothing where there is no room for it
 */
export function stageMap(show: Show, snapshot: Snapshot, room: Room): Line[] {
  const most = { columns: room.columns - EDGES, rows: room.rows - WORDS };
  if (most.columns < LEAST_COLUMNS || most.rows < LEAST_ROWS) return [];
  const { min, max } = show.bounds;
  const width = max.x - min.x;
  const depth = max.y - min.y;
  const fitting = Math.floor((most.rows * CELL_ASPECT * width) / depth);
  const columns = Math.min(most.columns, Math.max(LEAST_COLUMNS, fitting));
  const wanted = Math.round((columns * depth) / width / CELL_ASPECT);
  const rows = Math.min(most.rows, Math.max(LEAST_ROWS, wanted));

  const marks = marksOf(show, snapshot, columns, rows);
  const places = show.zones.map(({ area, around }, index) => ({
    area: compileArea(
      movedTo(area, around === undefined ? undefined : snapshot.performers[around]),
    ),
    occupied: (snapshot.zones[index]?.presence ?? 0) > 0,
  }));
  const lines: Line[] = [centred('upstage', columns)];
  for (let row = 0; row < rows; row++) {
    const line: Piece[] = [['dim', '|']];
    for (let column = 0; column < columns; column++) {
      const x = min.x + ((column + 0.5) / columns) * width;
      const y = min.y + ((rows - row - 0.5) / rows) * depth;
      line.push(marks.get(row * columns + column)?.piece ?? ground(places, x, y));
    }
    line.push(['dim', '|']);
    lines.push(line);
  }
  lines.push(centred('audience', columns));
  return lines;
}

export interface Room {
  readonly columns: number;
  readonly rows: number;
}

/** The performers by cell; of two in one cell, the one who needs looking after. */
function marksOf(show: Show, snapshot: Snapshot, columns: number, rows: number) {
  const { min, max } = show.bounds;
  const marks = new Map<number, { readonly piece: Piece; readonly performer: PerformerSnapshot }>();
  snapshot.performers.forEach((performer, index) => {
    if (performer.phase === 'waiting') return;
    const column = cell((performer.x - min.x) / (max.x - min.x), columns);
    const row = rows - 1 - cell((performer.y - min.y) / (max.y - min.y), rows);
    const other = marks.get(row * columns + column)?.performer;
    if (other !== undefined && URGENCY[other.phase] <= URGENCY[performer.phase]) return;
    const label = (show.performers[index]?.label ?? performer.name).replace(/^The /, '');
    // What takes two cells would push the rest of the row aside; a name is plain letters.
    const letter = initialOf(label) ?? performer.name.charAt(0);
    marks.set(row * columns + column, { piece: [styleOf(performer.phase), letter], performer });
  });
  return marks;
}

function ground(places: readonly { area: Area; occupied: boolean }[], x: number, y: number): Piece {
  const inside = places.filter(({ area }) => {
    // On the plan, whatever the heights that the zone is for.
    const z = Math.min(area.toM, Math.max(area.fromM, 0));
    return signedDistanceM(area, x, y, z) <= 0;
  });
  if (inside.length === 0) return ' ';
  return inside.some(({ occupied }) => occupied) ? ['yellow', '▒'] : ['dim', '·'];
}

/** Who is beyond the edge stands at the edge. */
function cell(share: number, count: number): number {
  return Math.min(count - 1, Math.max(0, Math.floor(share * count)));
}

function centred(text: string, columns: number): Line {
  const width = columns + EDGES;
  return [['dim', text.padStart((width + text.length) >> 1).padEnd(width)]];
}
