import {
  beamOf,
  intensityOf,
  type Person,
  peopleOf,
  shownValue,
  urgencyOf,
} from '../live/reading.js';
import type { LiveSnapshot } from '../live/schema.js';
import type { LiveStage, Outline } from '../live/stage-schema.js';
import { compileArea, movedTo, signedDistanceM } from '../stage/area.js';
import { cut, initialOf, type Line, type Piece, widthOf } from './line.js';
import { styleOf } from './phases.js';

/** A character is about twice as high as it is wide. */
const CELL_ASPECT = 2;
const LEAST_COLUMNS = 12;
const LEAST_ROWS = 4;
/** The words above and below. */
const WORDS = 2;
/** The edges at the left and at the right. */
const EDGES = 2;
/** Below this a beam is not shown, per cent. */
const DARK_PERCENT = 1;

/**
 * The stage from above, upstage at the top and stage left at the right: as the designer sees it from
 * the house. Each line is as wide as the others. Letters are performers, `x` is where a lit beam is, at the height of whom it follows or on the floor, `+` a head;
 * zones have their names, and a line below is the scale.
 * @returns nothing where there is no room for it
 */
export function stageMap(stage: LiveStage, snapshot: LiveSnapshot, room: Room): Line[] {
  const most = { columns: room.columns - EDGES, rows: room.rows - WORDS };
  if (most.columns < LEAST_COLUMNS || most.rows < LEAST_ROWS) return [];
  const {
    x: [minX, maxX],
    y: [minY, maxY],
  } = stage.bounds;
  const width = maxX - minX;
  const depth = maxY - minY;
  const fitting = Math.floor((most.rows * CELL_ASPECT * width) / depth);
  const columns = Math.min(most.columns, Math.max(LEAST_COLUMNS, fitting));
  const wanted = Math.round((columns * depth) / width / CELL_ASPECT);
  const rows = Math.min(most.rows, Math.max(LEAST_ROWS, wanted));
  const grid: Grid = {
    columns,
    rows,
    column: x => cell((x - minX) / width, columns),
    row: y => rows - 1 - cell((y - minY) / depth, rows),
  };

  const places = placesOf(stage, snapshot);
  const marks = marksOf(stage, snapshot, grid);
  const names = zoneNames(places, grid, marks);
  const lines: Line[] = [centred('upstage', columns)];
  for (let row = 0; row < rows; row++) {
    const line: Piece[] = [['dim', '|']];
    for (let column = 0; column < columns; column++) {
      const x = minX + ((column + 0.5) / columns) * width;
      const y = minY + ((rows - row - 0.5) / rows) * depth;
      const at = row * columns + column;
      line.push(marks.get(at) ?? names.get(at) ?? ground(places, x, y));
    }
    line.push(['dim', '|']);
    lines.push(line);
  }
  lines.push(bottomLine(columns, width));
  return lines;
}

export interface Room {
  readonly columns: number;
  readonly rows: number;
}

interface Grid extends Room {
  column(x: number): number;
  row(y: number): number;
}

interface Place {
  readonly label: string;
  readonly middle: readonly [number, number];
  readonly occupied: boolean;
  /** Negative inside. */
  distance(x: number, y: number): number;
}

function placesOf({ zones }: LiveStage, { engine }: LiveSnapshot): Place[] {
  return zones.map(({ label, outline, around }, index) => {
    const whom = engine?.performers.find(({ name }) => name === around)?.place;
    const shape = shapeOf(outline);
    const area = compileArea(movedTo({ shape }, around === undefined ? undefined : whom));
    return {
      label,
      middle: [(area.minX + area.maxX) / 2, (area.minY + area.maxY) / 2],
      occupied: (engine?.zones[index]?.presence ?? 0) > 0,
      distance: (x, y) => signedDistanceM(area, x, y, 0),
    };
  });
}

function shapeOf(outline: Outline) {
  if (outline.kind === 'polygon') return { kind: 'polygon', points: outline.points } as const;
  const [x, y] = outline.centre;
  return { kind: 'circle', centre: { x, y }, radiusM: outline.radiusM } as const;
}

/** Whose place is not known, or not on the stage, would be drawn at its edge. */
function isOnPlan(state: Person['status']['state']): boolean {
  return state !== 'not heard' && state !== 'off stage';
}

/** By cell: beams and heads, and over them the performers; of two in one cell, the one who needs looking after. */
function marksOf(stage: LiveStage, snapshot: LiveSnapshot, grid: Grid): Map<number, Piece> {
  const marks = new Map<number, Piece>();
  const put = (x: number, y: number, piece: Piece) =>
    marks.set(grid.row(y) * grid.columns + grid.column(x), piece);
  stage.fixtures.forEach((fixture, index) => {
    if (!fixture.isHead || fixture.at === undefined) return;
    put(fixture.at[0], fixture.at[1], ['dim', '+']);
    const beam = beamOf(stage, snapshot, index);
    const channel = intensityOf(fixture);
    const level =
      channel === undefined ? 100 : shownValue(stage, snapshot, { fixture: index, channel });
    if (beam !== undefined && level >= DARK_PERCENT) put(beam.x, beam.y, ['cyan', 'x']);
  });
  const people = peopleOf(snapshot)
    .filter(({ status, seen }) => seen?.place !== undefined && isOnPlan(status.state))
    .sort((a, b) => urgencyOf(b.status) - urgencyOf(a.status));
  for (const { label, status, seen } of people) {
    if (seen?.place === undefined) continue;
    // What takes two cells would push the rest of the row aside; a name is plain letters.
    const letter = initialOf(label.replace(/^The /, '')) ?? status.name.charAt(0);
    put(seen.place.x, seen.place.y, [styleOf(status.state), letter]);
  }
  return marks;
}

/** Each zone's name in its middle, or a row or two beside it where somebody stands there. */
function zoneNames(
  places: readonly Place[],
  grid: Grid,
  marks: ReadonlyMap<number, Piece>,
): Map<number, Piece> {
  const names = new Map<number, Piece>();
  for (const { label, middle, occupied } of places) {
    const text = cut(label, Math.min(grid.columns, 14));
    const width = widthOf(text);
    // Signs of two cells would push the row aside.
    if (width !== [...text].length) continue;
    const first = Math.min(
      Math.max(0, grid.column(middle[0]) - (width >> 1)),
      grid.columns - width,
    );
    const middleRow = grid.row(middle[1]);
    const cells = [0, 1, -1, 2, -2]
      .map(by => middleRow + by)
      .filter(row => row >= 0 && row < grid.rows)
      .map(row => [...text].map((letter, i) => [row * grid.columns + first + i, letter] as const))
      .find(all => !all.some(([at]) => marks.has(at) || names.has(at)));
    for (const [at, letter] of cells ?? []) names.set(at, [occupied ? 'yellow' : 'dim', letter]);
  }
  return names;
}

function ground(places: readonly Place[], x: number, y: number): Piece {
  const inside = places.filter(({ distance }) => distance(x, y) <= 0);
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

/** Where the audience sits, and how long a metre is: `<----> 2 m  audience`. */
function bottomLine(columns: number, widthM: number): Line {
  const width = columns + EDGES;
  const metres = [1, 2, 5, 10, 20, 50, 100].find(one => (one / widthM) * columns >= 4) ?? 100;
  const cells = Math.round((metres / widthM) * columns);
  const scale = `<${'-'.repeat(Math.max(0, cells - 2))}> ${metres} m`;
  const words = scale.length + 2 + 'audience'.length <= width ? `${scale}  audience` : 'audience';
  return [['dim', words.padEnd(width)]];
}
