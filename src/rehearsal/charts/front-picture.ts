import type { Comparison } from '../assessing/summary.js';
import { type Chart, dot, drawCharts, evenMarks, label, polyline, roundMarks } from './chart.js';

const INK = { ours: '#0a7d5a', front: '#1b1b1b' };
const WAYS = [
  { begins: 'hold', ink: '#8a5a00', name: 'hold' },
  { begins: 'exponential', ink: '#7a4fa3', name: 'exponential' },
  { begins: '1-euro', ink: '#c2562d', name: '1-euro' },
  { begins: 'damped', ink: '#2b6cb0', name: 'damped velocity' },
] as const;

/**
 * Error against roughness: a dot for each peer, a line through those that no other beats in both, and the
 * tracker. Further left and further down is better.
 */
export function drawFronts(comparisons: Readonly<Record<string, Comparison>>): string {
  return drawCharts(Object.entries(comparisons).map(([kind, one]) => frontChart(kind, one)));
}

function frontChart(kind: string, { ours, peers, front }: Comparison): Chart {
  const all = [ours, ...peers].filter(({ roughness }) => roughness > 0);
  const rough = all.map(({ roughness }) => roughness);
  const errors = all.map(({ rmse }) => rmse);
  const [left, right] = [Math.min(...rough) / 1.15, Math.max(...rough) * 1.15];
  const low = Math.floor(10 * Math.min(...errors) - 0.5) / 10;
  const high = Math.ceil(10 * Math.max(...errors) + 0.5) / 10;
  return {
    title: `${kind}: error against roughness`,
    across: {
      label: 'roughness: RMS acceleration of the aim, m/s² (further left is steadier)',
      low: left,
      high: right,
      isLogarithmic: true,
      marks: roundMarks(left, right),
    },
    up: {
      label: 'RMS error as a share of holding (lower is closer)',
      low,
      high,
      marks: evenMarks(low, high, Math.round((high - low) * 10)),
    },
    draw: ({ x, y }) =>
      [
        polyline(
          front.map(point => [x(point.roughness), y(point.error)]),
          INK.front,
          '5 4',
        ),
        ...peers.map(peer => {
          const way = WAYS.find(({ begins }) => peer.name.startsWith(begins));
          return dot(x(peer.roughness), y(peer.rmse), 4, way?.ink ?? INK.front, peer.name);
        }),
        dot(x(ours.roughness), y(ours.rmse), 6, INK.ours, 'lampwright'),
        label(x(ours.roughness) + 9, y(ours.rmse) + 4, 'lampwright', INK.ours),
        ...WAYS.map(({ ink, name }, i) => label(540, 62 + 16 * i, `● ${name}`, ink, 'end')),
      ].join('\n'),
  };
}
