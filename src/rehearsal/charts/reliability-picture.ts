import type { ReliabilityBin } from '../assessing/reliability.js';
import { dot, drawCharts, evenMarks, label, polyline } from './chart.js';

const INK = { half: '#2b6cb0', whole: '#0a7d5a', honest: '#999' };

/**
 * The reliability diagram: for each confidence, the share of the moments within 0.5 m and within 1 m of the
 * truth. The area of a dot is proportional to its number of moments; dots of fewer than ten are left out.
 */
export function drawReliability(bins: readonly ReliabilityBin[]): string {
  const told = bins.filter(({ moments }) => moments >= 10);
  const most = Math.max(1, ...told.map(({ moments }) => moments));
  const axis = { low: 0, high: 1, marks: evenMarks(0, 1, 5) };
  return drawCharts([
    {
      title: 'what confidence is worth',
      across: { ...axis, label: 'confidence' },
      up: { ...axis, label: 'share of these moments within 0.5 m and 1 m of the truth' },
      draw: ({ x, y }) => {
        const series = (of: (bin: ReliabilityBin) => number, ink: string) => [
          polyline(
            told.map(bin => [x(bin.confidence), y(of(bin))]),
            ink,
          ),
          ...told.map(bin =>
            dot(
              x(bin.confidence),
              y(of(bin)),
              2 + 7 * Math.sqrt(bin.moments / most),
              ink,
              `${bin.moments} moments, ${(100 * of(bin)).toFixed(1)} %`,
            ),
          ),
        ];
        return [
          polyline(
            [
              [x(0), y(0)],
              [x(1), y(1)],
            ],
            INK.honest,
            '3 4',
          ),
          ...series(bin => bin.within1m, INK.whole),
          ...series(bin => bin.within50cm, INK.half),
          label(x(0.02), y(0.94), '● within 1 m', INK.whole),
          label(x(0.02), y(0.88), '● within 0.5 m', INK.half),
        ].join('\n');
      },
    },
  ]);
}
