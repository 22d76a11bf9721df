import { INK } from '../../drawing/ink.js';
import { ACROSS, acrossTime, type StripTime, strips } from '../../drawing/strips.js';
import { escaped } from '../../stage/markup.js';
import type { LightDeeds } from './lights.js';
import type { Shade } from './shades.js';

const HIGH = 36;
/** Colour of a lamp whose colour isn't in the show. */
const LAMP = '#e3b34c';

/** One row for each light: its intensity over time, in its colour, 0 to 100 per cent of the height of the row. */
export function levelTraces(lights: readonly LightDeeds[], stepS: number, time: StripTime): string {
  const across = acrossTime(time);
  const x = (step: number) => across(time.fromS + step * stepS).toFixed(1);
  const y = (value: number) => (HIGH - (value / 100) * HIGH).toFixed(1);
  return strips(
    'intensity of each light',
    lights.map(({ fixture, trace, colours, shades }, light) => {
      const changes = colours.length === 0 ? [{ step: 0, word: '' }] : colours;
      const isOne = shades.every(({ hex }) => hex === shades[0]?.hex);
      const id = `shades-${light}`;
      const fill = isOne ? (shades[0]?.hex ?? LAMP) : `url(#${id})`;
      const parts = changes.map(({ step, word }, i) => {
        const from = i === 0 ? 0 : step;
        const to = changes[i + 1]?.step ?? trace.length - 1;
        const points = trace
          .slice(from, to + 1)
          .map((value, n) => `${x(from + n)},${y(value)}`)
          .join(' ');
        const title = word === '' ? '' : `<title>${escaped(word)}</title>`;
        return `<polygon points="${x(from)},${HIGH} ${points} ${x(to)},${HIGH}" fill="${fill}">${title}</polygon>`;
      });
      const edge = trace.map((value, step) => `${x(step)},${y(value)}`).join(' ');
      return {
        name: fixture,
        highPx: HIGH,
        scale: ['100 %', '50', '0'],
        body: [
          isOne ? '' : gradient(id, shades, x),
          ...parts,
          `<polyline points="${edge}" fill="none" stroke="${INK.text}" stroke-width="1.2" vector-effect="non-scaling-stroke"/>`,
          `<path d="M0 ${HIGH / 2}H1000" stroke="${INK.line}" stroke-dasharray="3 3" vector-effect="non-scaling-stroke"/>`,
        ].join(''),
      };
    }),
    time,
  );
}

/** A gradient along the whole strip, so that each part has the colour of its time. */
function gradient(id: string, shades: readonly Shade[], x: (step: number) => string): string {
  const stops = shades.map(
    ({ step, hex }) =>
      `<stop offset="${(Number(x(step)) / ACROSS).toFixed(4)}" stop-color="${hex}"/>`,
  );
  return `<linearGradient id="${id}" gradientUnits="userSpaceOnUse" x1="0" x2="${ACROSS}" y1="0" y2="0">${stops.join('')}</linearGradient>`;
}
