import { Floor, SHAPES } from '../drawing/floor.js';
import { INK } from '../drawing/ink.js';
import type { PlanPoint } from '../stage/area.js';
import { escaped } from '../stage/markup.js';
import type { PlanOptions } from './options.js';
import type { Plan } from './plan.js';
import type { Survey } from './survey.js';

/**
 * Steps of a scale from good to bad: ColorBrewer's YlGnBu of six, safe for colour-blind eyes and in grey,
 * since each step is darker than the one before.
 */
const STEPS = ['#ffffcc', '#c7e9b4', '#7fcdbb', '#41b6c4', '#2c7fb8', '#253494'] as const;
const NONE = '#111111';
export const WORST_SHOWN = 3;
/** Room for the names of anchors that hang outside of the stage, metres. */
const AROUND_M = 1;

/** Upper bounds of the steps but the last. */
interface Scale {
  readonly bounds: readonly number[];
  readonly unit: string;
  readonly none: string;
}

const ERROR: Scale = { bounds: [0.1, 0.15, 0.2, 0.3, 0.5], unit: ' m', none: 'no position' };
const DILUTION: Scale = { bounds: [1, 1.5, 2, 3, 5], unit: '', none: 'none' };

/** A quantity over the stage. */
export interface PlanMap {
  readonly title: string;
  /** Step of a place: 0 is best, STEPS.length is none. */
  readonly stepOf: (index: number) => number;
  /** What the shades mean, from the best. */
  readonly key: readonly (readonly [ink: string, text: string])[];
}

/** The one that matters most first; those that say nothing of this show are left out. */
export function mapsOf({ ranging, wearers }: PlanOptions, plan: Plan): readonly PlanMap[] {
  const { errorM, inView, dilution } = plan.survey;
  const worst = 'the performer facing the worst way';
  const own = dilution[ranging.by];
  // One alone has nobody beside.
  const beside = wearers.length > 1;
  return [
    graded(`Expected error across the floor, ${worst}`, ERROR, errorM.own.worst),
    graded('Expected error, nobody in the way', ERROR, errorM.clear),
    ...(beside
      ? [graded('Expected error, another body beside, median', ERROR, errorM.beside.likely)]
      : []),
    counted(`Anchors in view, ${worst}`, inView.own.worst),
    ...(beside
      ? [counted('Anchors in view, another body beside, worst', inView.beside.worst)]
      : []),
    graded('Horizontal dilution of precision', DILUTION, own.horizontal),
    graded('Vertical dilution of precision', DILUTION, own.vertical),
  ];
}

function graded(title: string, scale: Scale, map: Float64Array): PlanMap {
  const { bounds, unit, none } = scale;
  const words = [...bounds.map(bound => `≤ ${bound}${unit}`), `> ${bounds.at(-1)}${unit}`, none];
  return {
    title,
    stepOf: index => stepOf(scale, map[index] ?? Number.POSITIVE_INFINITY),
    key: keyOf(words),
  };
}

function counted(title: string, map: Uint8Array): PlanMap {
  return {
    title,
    stepOf: index => {
      const count = map[index] ?? 0;
      return count < 3 ? STEPS.length : Math.max(0, 8 - count);
    },
    key: keyOf(['8 or more', '7', '6', '5', '4', '3', 'fewer: no position']),
  };
}

function keyOf(words: readonly string[]): PlanMap['key'] {
  return words.map((text, i) => [STEPS[i] ?? NONE, text] as const);
}

function stepOf({ bounds }: Scale, value: number): number {
  if (!Number.isFinite(value)) return STEPS.length;
  const step = bounds.findIndex(bound => value <= bound);
  return step < 0 ? bounds.length : step;
}

/** Of the large map: all that hangs and stands, with names. */
export function largeMap(map: PlanMap, options: PlanOptions, plan: Plan, wide?: number): Floor {
  const floor = floorOf(options, false, wide);
  floor.draw(cells(map, plan.survey, floor));
  const { obstacles, zones = [], lights, anchors } = options;
  for (const { area, label } of zones) {
    floor.area(area, { ink: INK.text, dash: '5 4', hasRim: true }, label);
  }
  obstaclesOn(floor, obstacles);
  floor.stage();
  for (const { name, position } of lights) {
    const mark = { at: position, shape: SHAPES.light, half: 4, lines: [] };
    floor.mark({ ...mark, title: `light ${name}, ${position.z.toFixed(1)} m up` });
  }
  for (const { name, position } of anchors) {
    const high = `${position.z.toFixed(1)} m`;
    floor.mark({
      ...{ at: position, shape: SHAPES.anchor, half: 7, lines: [name, high] },
      title: `anchor ${name}, ${high} up`,
    });
  }
  plan.worst.slice(0, WORST_SHOWN).forEach((worst, index) => {
    const mark = { at: worst, shape: SHAPES.cross, half: 6, ink: INK.weak };
    floor.mark({ ...mark, lines: [String(index + 1)], title: worstWords(worst, index) });
  });
  return floor;
}

/** One of those beside it. */
export function smallMap(map: PlanMap, options: PlanOptions, plan: Plan): Floor {
  const floor = floorOf(options, true);
  floor.draw(cells(map, plan.survey, floor));
  obstaclesOn(floor, options.obstacles);
  floor.stage();
  for (const { name, position } of options.anchors) {
    floor.mark({ at: position, shape: SHAPES.anchor, half: 7, lines: [], title: name });
  }
  return floor;
}

function floorOf({ bounds, anchors, lights }: PlanOptions, isSmall: boolean, wide?: number): Floor {
  const places = [...anchors, ...lights].map(({ position }) => position);
  const size = wide === undefined ? {} : { wide };
  return new Floor({ bounds, places, aroundM: isSmall ? 0.6 : AROUND_M, isSmall, ...size });
}

/** One path a step: runs of squares along a row make one rectangle. */
function cells(map: PlanMap, { grid, open }: Survey, floor: Floor): string {
  const paths = new Map<number, string[]>();
  for (let row = 0; row < grid.rows; row++) {
    let from = 0;
    let last: number | undefined;
    for (let column = 0; column <= grid.columns; column++) {
      const index = row * grid.columns + column;
      const step = column === grid.columns || open[index] !== 1 ? undefined : map.stepOf(index);
      if (step === last) continue;
      if (last !== undefined) {
        const x = (c: number) => floor.x(grid.fromX + c * grid.stepM);
        const y = (r: number) => floor.y(grid.fromY + r * grid.stepM);
        const path = paths.get(last) ?? [];
        path.push(`M${x(from)} ${y(row)}H${x(column)}V${y(row + 1)}H${x(from)}z`);
        paths.set(last, path);
      }
      from = column;
      last = step;
    }
  }
  return [...paths]
    .map(
      ([step, path]) =>
        `<path d="${path.join('')}" fill="${STEPS[step] ?? NONE}" stroke="${STEPS[step] ?? NONE}" stroke-width="0.4"/>`,
    )
    .join('\n');
}

/** White with a cross, so that no shade of a map is taken for one. */
function obstaclesOn(floor: Floor, obstacles: PlanOptions['obstacles']): void {
  for (const { name, solid } of obstacles) {
    const box =
      solid.kind === 'box'
        ? { x0: solid.min.x, y0: solid.min.y, x1: solid.max.x, y1: solid.max.y }
        : {
            ...{ x0: solid.x - solid.radiusM, y0: solid.y - solid.radiusM },
            ...{ x1: solid.x + solid.radiusM, y1: solid.y + solid.radiusM },
          };
    const { x0, y0, x1, y1 } = box;
    const corners: PlanPoint[] = [
      [x0, y0],
      [x1, y0],
      [x1, y1],
      [x0, y1],
    ];
    const across = `M${floor.x(x0)} ${floor.y(y0)}L${floor.x(x1)} ${floor.y(y1)}M${floor.x(x0)} ${floor.y(y1)}L${floor.x(x1)} ${floor.y(y0)}`;
    const edge = `stroke="${INK.text}" stroke-width="1.4"`;
    floor.draw(
      `<g><title>${escaped(name)}</title>`,
      solid.kind === 'box'
        ? `<polygon points="${floor.points(corners)}" fill="#fff" ${edge}/>`
        : `<circle cx="${floor.x(solid.x)}" cy="${floor.y(solid.y)}" r="${(solid.radiusM * floor.perM).toFixed(1)}" fill="#fff" ${edge}/>`,
      `<path d="${across}" stroke="${INK.text}" stroke-width="0.8"/></g>`,
    );
  }
}

export function worstWords(
  { words, x, y, errorM, inView }: Plan['worst'][number],
  index: number,
): string {
  const error = Number.isFinite(errorM) ? `${errorM.toFixed(2)} m` : 'no position';
  return `Worst place ${index + 1}: ${words} (${x.toFixed(1)}, ${y.toFixed(1)}), ${error}, ${inView[1]} of ${inView[0]} anchors`;
}

/** What is planned, and what the marks mean: a sentence each. */
export function planWords(
  { anchors, ranging, lights, obstacles, zones = [] }: PlanOptions,
  { survey, wearer }: Plan,
): string[] {
  const kind = ranging.by === 'range' ? 'ranges' : 'time differences';
  const worn = `${wearer.isPair ? 'pairs of trackers' : 'trackers'} at ${survey.grid.heightM.toFixed(2)} m`;
  const marks = [
    'Triangles: anchors, with their height',
    ...(lights.length > 0 ? ['dots: lights'] : []),
    ...(obstacles.length > 0 ? ['crossed out: obstacles'] : []),
    ...(zones.length > 0 ? ['broken lines: zones'] : []),
    'crosses: worst places',
  ];
  return [
    `${anchors.length} anchors, ${worn}, ${kind} with an error of ${ranging.errorM.toFixed(2)} m.`,
    `${marks.join('; ')}.`,
  ];
}
