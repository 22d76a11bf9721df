import { escaped } from '../../stage/markup.js';
import type { Step } from '../assessing/assess.js';

const WIDTH = 960;
const PANEL = 200;
const MARGIN = { left: 60, right: 16, top: 34, gap: 34 };
const INK = { truth: '#1b1b1b', predicted: '#0a7d5a', reported: '#c9a227', region: '#0a7d5a' };

/**
 * Track and truth over time as SVG: x and y, with the reports as dots and the 90 % region as a band; the
 * error below them.
 * @param steps of one performer, in the order of their times
 */
export function plotSteps(title: string, steps: readonly Step[]): string {
  const fromS = steps[0]?.timeS ?? 0;
  const toS = steps.at(-1)?.timeS ?? 1;
  const across = (timeS: number) =>
    MARGIN.left + ((timeS - fromS) / (toS - fromS || 1)) * (WIDTH - MARGIN.left - MARGIN.right);
  const panels = [axisPanel('x, m', 0), axisPanel('y, m', 1), errorPanel()];
  const height = MARGIN.top + panels.length * (PANEL + MARGIN.gap);

  function axisPanel(label: string, axis: 0 | 1) {
    // Outliers may fall outside the panel: the scale fits the truth and the track.
    const values = steps.flatMap(step => [step.truth[axis], step.predicted[axis]]);
    return panel(label, Math.min(...spread(values)), Math.max(...spread(values)), down => {
      const edge = (sign: 1 | -1) => (step: Step) =>
        point(step, step.predicted[axis] + sign * step.reach90M[axis], down);
      const band = [...steps.map(edge(1)), ...steps.map(edge(-1)).reverse()].join(' ');
      // A line of no length with round ends: a dot.
      const dots = steps
        .flatMap(step =>
          step.reported === undefined ? [] : [`M${point(step, step.reported[axis], down)}h0`],
        )
        .join('');
      return [
        `<polygon points="${band}" fill="${INK.region}" fill-opacity="0.15"/>`,
        `<path d="${dots}" stroke="${INK.reported}" stroke-width="2" stroke-linecap="round"/>`,
        line(step => step.truth[axis], down, INK.truth),
        line(step => step.predicted[axis], down, INK.predicted),
      ].join('\n');
    });
  }

  function errorPanel() {
    const errors = new Map(
      steps.map(step => [
        step,
        Math.hypot(step.predicted[0] - step.truth[0], step.predicted[1] - step.truth[1]),
      ]),
    );
    const of = (step: Step) => errors.get(step) ?? 0;
    return panel('error, m', 0, Math.max(...spread([...errors.values()])), down =>
      line(of, down, INK.predicted),
    );
  }

  function panel(
    label: string,
    low: number,
    high: number,
    draw: (down: (value: number) => number) => string,
  ) {
    return (top: number, index: number): string => {
      const down = (value: number) => top + PANEL * (1 - (value - low) / (high - low || 1));
      const scale = [low, (low + high) / 2, high]
        .map(
          value =>
            `<text x="${MARGIN.left - 6}" y="${fixed(down(value) + 4)}" text-anchor="end">${value.toFixed(2)}</text>`,
        )
        .join('');
      const right = WIDTH - MARGIN.left - MARGIN.right;
      return [
        `<clipPath id="panel${index}"><rect x="${MARGIN.left}" y="${top}" width="${right}" height="${PANEL}"/></clipPath>`,
        `<rect x="${MARGIN.left}" y="${top}" width="${right}" height="${PANEL}" fill="none" stroke="#bbb"/>`,
        `<text x="${MARGIN.left}" y="${top - 6}">${label}</text>${scale}`,
        `<g clip-path="url(#panel${index})">${draw(down)}</g>`,
      ].join('\n');
    };
  }

  function point(step: Step, value: number, down: (value: number) => number): string {
    return `${fixed(across(step.timeS))},${fixed(down(value))}`;
  }

  function line(of: (step: Step) => number, down: (value: number) => number, ink: string): string {
    const points = steps.map(step => point(step, of(step), down)).join(' ');
    return `<polyline points="${points}" fill="none" stroke="${ink}" stroke-width="1.2"/>`;
  }

  const key = `<tspan fill="${INK.truth}">truth</tspan>, <tspan fill="${INK.predicted}">predicted, with its 90 % region</tspan>, <tspan fill="${INK.reported}">reported</tspan>`;
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${height}" font-family="sans-serif" font-size="12">`,
    `<title>${escaped(title)}: track against truth</title>`,
    `<rect width="${WIDTH}" height="${height}" fill="#fff"/>`,
    `<text x="${MARGIN.left}" y="14" font-weight="bold">${escaped(title)} <tspan font-weight="normal">${key}</tspan></text>`,
    ...panels.map((draw, index) => draw(MARGIN.top + index * (PANEL + MARGIN.gap), index)),
    `<text x="${MARGIN.left}" y="${height - 16}">${fromS.toFixed(1)} s</text>`,
    `<text x="${WIDTH - MARGIN.right}" y="${height - 16}" text-anchor="end">${toS.toFixed(1)} s</text>`,
    '</svg>',
    '',
  ].join('\n');
}

/** Lowest and highest: the scale needs no more of thousands of values. */
function spread(values: readonly number[]): readonly [number, number] {
  let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const value of values) {
    low = Math.min(low, value);
    high = Math.max(high, value);
  }
  return [low, high];
}

function fixed(value: number): string {
  return value.toFixed(1);
}
