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
const INK = { line: '#222', faint: '#888', light: '#d95f02', worst: '#c2185b', paper: '#fff' };

const WIDTH = 1000;
const MARGIN = 20;
const GAP = 24;
/** Above a map: its title and its scale. */
const HEAD = 48;
/** Room for anchors that hang outside of the stage, metres. */
const AROUND_M = 1;
const WORST_SHOWN = 3;

interface Scale {
  /** Upper bounds of the steps but the last. */
  readonly bounds: readonly number[];
  readonly unit: string;
  readonly none: string;
}

const ERROR: Scale = { bounds: [0.1, 0.15, 0.2, 0.3, 0.5], unit: ' m', none: 'no position' };
const DILUTION: Scale = { bounds: [1, 1.5, 2, 3, 5], unit: '', none: 'none' };

interface Panel {
  readonly title: string;
  readonly key: string;
  /** Step of a place: 0 is best, STEPS.length is none. */
  readonly stepOf: (index: number) => number;
  readonly labels: readonly string[];
}

interface Box {
  readonly x: number;
  readonly y: number;
  readonly width: number;
}

/** The maps of a plan, seen from above with the audience below, as one self-contained SVG. */
export function drawPlan(title: string, options: PlanOptions, plan: Plan): string {
  const [first, ...others] = panelsOf(plan.survey);
  const frame = frameOf(options);
  const ratio = (frame.y1 - frame.y0) / (frame.x1 - frame.x0);
  // A deep stage must not make a picture that no screen shows.
  const large = Math.min(WIDTH - 2 * MARGIN, 640 / ratio);
  const small = (WIDTH - 2 * MARGIN - GAP) / 2;
  const body: string[] = [];
  let y = 72;
  if (first !== undefined) {
    body.push(draw(first, { x: (WIDTH - large) / 2, y, width: large }, true));
    y += HEAD + large * ratio + GAP;
    plan.worst.slice(0, WORST_SHOWN).forEach((worst, index) => {
      const text = `<text x="${MARGIN}" y="${fixed(y)}" fill="${INK.worst}">${escaped(placeWords(worst, index))}</text>`;
      body.push(text);
      y += 18;
    });
    y += 14;
  }
  others.forEach((panel, index) => {
    const column = index % 2;
    body.push(draw(panel, { x: MARGIN + column * (small + GAP), y, width: small }, false));
    if (column === 1 || index === others.length - 1) y += HEAD + small * ratio + GAP;
  });

  function draw(panel: Panel, box: Box, isLarge: boolean): string {
    const scale = box.width / (frame.x1 - frame.x0);
    const top = box.y + HEAD;
    const px = (x: number) => fixed(box.x + (x - frame.x0) * scale);
    const py = (m: number) => fixed(top + (frame.y1 - m) * scale);
    return [
      `<text x="${fixed(box.x)}" y="${fixed(box.y + 14)}" font-weight="bold">${escaped(panel.title)}</text>`,
      legend(panel, box),
      cells(panel, plan.survey, px, py),
      outlines(options, px, py, scale),
      marks(options, plan, px, py, isLarge),
      isLarge ? sides(options, px, py) : '',
    ].join('\n');
  }

  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${fixed(y)}" font-family="sans-serif" font-size="13">`,
    `<title>${escaped(title)}: anchor plan</title>`,
    `<rect width="${WIDTH}" height="${fixed(y)}" fill="${INK.paper}"/>`,
    `<text x="${MARGIN}" y="28" font-size="18" font-weight="bold">${escaped(title)}: anchor plan</text>`,
    ...subtitle(options, plan).map(
      (line, i) =>
        `<text x="${MARGIN}" y="${46 + 16 * i}" fill="${INK.line}">${escaped(line)}</text>`,
    ),
    '<defs><pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="6" height="6" fill="#fff"/><path d="M0 0v6" stroke="#222" stroke-width="3"/></pattern></defs>',
    ...body,
    '</svg>',
    '',
  ].join('\n');
}

/** Two lines, each short enough for the width of the picture. */
function subtitle({ anchors, ranging }: PlanOptions, { survey, wearer }: Plan): string[] {
  const kind = ranging.by === 'range' ? 'ranges' : 'time differences';
  const worn = `${wearer.isPair ? 'pairs of trackers' : 'trackers'} at ${survey.grid.heightM.toFixed(2)} m`;
  return [
    `${anchors.length} anchors, ${worn}, ${kind} with an error of ${ranging.errorM.toFixed(2)} m.`,
    'Triangles: anchors with their height; circles: lights; hatched: obstacles; crosses: worst places.',
  ];
}

function panelsOf({ errorM, inView, dilution }: Survey): Panel[] {
  const graded = (title: string, scale: Scale, map: Float64Array): Panel => ({
    title,
    key: scale.none,
    stepOf: index => stepOf(scale, map[index] ?? Number.POSITIVE_INFINITY),
    labels: [
      ...scale.bounds.map(bound => `≤ ${bound}${scale.unit}`),
      `> ${scale.bounds.at(-1)}${scale.unit}`,
    ],
  });
  const counted = (title: string, map: Uint8Array): Panel => ({
    title,
    key: 'fewer: no position',
    stepOf: index => {
      const count = map[index] ?? 0;
      return count < 3 ? STEPS.length : Math.max(0, 8 - count);
    },
    labels: ['8 or more', '7', '6', '5', '4', '3'],
  });
  const worst = 'the performer facing the worst way';
  return [
    graded(`Expected error across the floor, ${worst}`, ERROR, errorM.own.worst),
    graded('Expected error across the floor, nobody in the way', ERROR, errorM.clear),
    graded('Expected error, another body beside, median', ERROR, errorM.beside.likely),
    counted(`Anchors in view, ${worst}`, inView.own.worst),
    counted('Anchors in view, another body beside, worst', inView.beside.worst),
    graded('Horizontal dilution, ranges', DILUTION, dilution.range.horizontal),
    graded('Vertical dilution, ranges', DILUTION, dilution.range.vertical),
    graded(
      'Horizontal dilution, time differences',
      DILUTION,
      dilution['time-difference'].horizontal,
    ),
    graded('Vertical dilution, time differences', DILUTION, dilution['time-difference'].vertical),
  ];
}

function stepOf({ bounds }: Scale, value: number): number {
  if (!Number.isFinite(value)) return STEPS.length;
  const step = bounds.findIndex(bound => value <= bound);
  return step < 0 ? bounds.length : step;
}

function frameOf({ bounds: { min, max }, anchors, lights }: PlanOptions) {
  const xs = [min.x, max.x, ...[...anchors, ...lights].map(one => one.position.x)];
  const ys = [min.y, max.y, ...[...anchors, ...lights].map(one => one.position.y)];
  return {
    x0: Math.min(...xs) - AROUND_M,
    x1: Math.max(...xs) + AROUND_M,
    y0: Math.min(...ys) - AROUND_M,
    y1: Math.max(...ys) + AROUND_M,
  };
}

type Project = (metres: number) => string;

/** One path a step: runs of squares along a row make one rectangle. */
function cells(panel: Panel, { grid, open }: Survey, px: Project, py: Project): string {
  const paths = new Map<number, string[]>();
  for (let row = 0; row < grid.rows; row++) {
    let from = 0;
    let last: number | undefined;
    for (let column = 0; column <= grid.columns; column++) {
      const index = row * grid.columns + column;
      const step = column === grid.columns || open[index] !== 1 ? undefined : panel.stepOf(index);
      if (step === last) continue;
      if (last !== undefined) {
        const x = (c: number) => px(grid.fromX + c * grid.stepM);
        const y = (r: number) => py(grid.fromY + r * grid.stepM);
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

function outlines({ bounds, obstacles }: PlanOptions, px: Project, py: Project, scale: number) {
  const rectangle = (x0: number, y0: number, x1: number, y1: number, style: string) =>
    `<path d="M${px(x0)} ${py(y0)}H${px(x1)}V${py(y1)}H${px(x0)}z" ${style}/>`;
  const { min, max } = bounds;
  return [
    ...obstacles.map(({ solid }) =>
      solid.kind === 'box'
        ? rectangle(
            solid.min.x,
            solid.min.y,
            solid.max.x,
            solid.max.y,
            `fill="url(#hatch)" stroke="${INK.line}"`,
          )
        : `<circle cx="${px(solid.x)}" cy="${py(solid.y)}" r="${fixed(solid.radiusM * scale)}" fill="url(#hatch)" stroke="${INK.line}"/>`,
    ),
    rectangle(min.x, min.y, max.x, max.y, `fill="none" stroke="${INK.line}" stroke-width="1.5"`),
  ].join('\n');
}

function marks(
  { anchors, lights }: PlanOptions,
  { worst }: Plan,
  px: Project,
  py: Project,
  isLarge: boolean,
): string {
  const size = isLarge ? 7 : 5;
  const halo = `stroke="#fff" stroke-width="3" paint-order="stroke"`;
  const label = (x: number, y: number, text: string, ink: string) => {
    const end = Number(px(x)) > WIDTH * 0.75;
    return `<text x="${px(x)}" y="${py(y)}" dx="${end ? -10 : 10}" dy="4" text-anchor="${end ? 'end' : 'start'}" fill="${ink}" ${halo}>${escaped(text)}</text>`;
  };
  return [
    ...lights.map(
      ({ position: { x, y } }) =>
        `<circle cx="${px(x)}" cy="${py(y)}" r="${size - 1}" fill="${INK.light}" stroke="#fff"/>`,
    ),
    ...anchors.map(
      ({ position: { x, y } }) =>
        `<path d="M${px(x)} ${py(y)}m0 ${-size}l${size} ${1.7 * size}h${-2 * size}z" fill="${INK.line}" stroke="#fff"/>`,
    ),
    ...worst
      .slice(0, WORST_SHOWN)
      .map(
        ({ x, y }) =>
          `<path d="M${px(x)} ${py(y)}m${-size} ${-size}l${2 * size} ${2 * size}m0 ${-2 * size}l${-2 * size} ${2 * size}" stroke="#fff" stroke-width="6"/><path d="M${px(x)} ${py(y)}m${-size} ${-size}l${2 * size} ${2 * size}m0 ${-2 * size}l${-2 * size} ${2 * size}" stroke="${INK.worst}" stroke-width="3"/>`,
      ),
    ...(isLarge
      ? [
          ...anchors.map(
            ({ name, position: { x, y, z } }) =>
              `<text x="${px(x)}" y="${py(y)}" dy="26" text-anchor="middle" fill="${INK.line}" ${halo}>${escaped(name)} ${z.toFixed(1)} m</text>`,
          ),
          ...worst
            .slice(0, WORST_SHOWN)
            .map(({ x, y }, index) => label(x, y, String(index + 1), INK.worst)),
        ]
      : []),
  ].join('\n');
}

function placeWords({ words, x, y, errorM, inView }: Plan['worst'][number], index: number): string {
  const error = Number.isFinite(errorM) ? `${errorM.toFixed(2)} m` : 'no position';
  return `Worst place ${index + 1}: ${words} (${x.toFixed(1)}, ${y.toFixed(1)}), ${error}, ${inView[1]} of ${inView[0]} anchors`;
}

function sides({ bounds: { min, max } }: PlanOptions, px: Project, py: Project): string {
  const [x, y] = [(min.x + max.x) / 2, (min.y + max.y) / 2];
  const text = (at: string, words: string) =>
    `<text ${at} text-anchor="middle" fill="${INK.faint}" stroke="#fff" stroke-width="3" paint-order="stroke">${words}</text>`;
  return [
    text(`x="${px(x)}" y="${py(min.y)}" dy="18"`, 'downstage, audience'),
    text(`x="${px(x)}" y="${py(max.y)}" dy="-8"`, 'upstage'),
    text(`transform="translate(${px(min.x)} ${py(y)}) rotate(-90)" dy="-8"`, 'stage right'),
    text(`transform="translate(${px(max.x)} ${py(y)}) rotate(90)" dy="-8"`, 'stage left'),
  ].join('\n');
}

function legend({ labels, key }: Panel, box: Box): string {
  const all = [
    ...labels.map((text, i) => ({ text, ink: STEPS[i] ?? NONE })),
    { text: key, ink: NONE },
  ];
  let x = box.x;
  return all
    .map(({ text, ink }) => {
      const swatch = `<rect x="${fixed(x)}" y="${fixed(box.y + 23)}" width="11" height="11" fill="${ink}" stroke="#999" stroke-width="0.5"/>`;
      const words = `<text x="${fixed(x + 14)}" y="${fixed(box.y + 33)}" font-size="10.5">${escaped(text)}</text>`;
      // Half a letter's height is about the mean width of a letter.
      x += 22 + 5.4 * text.length;
      return swatch + words;
    })
    .join('');
}

function fixed(value: number): string {
  return value.toFixed(1);
}
