import { INK } from '../drawing/ink.js';
import { SvgPage } from '../drawing/svg-page.js';
import {
  largeMap,
  mapsOf,
  type PlanMap,
  planWords,
  smallMap,
  WORST_SHOWN,
  worstWords,
} from './maps.js';
import type { PlanOptions } from './options.js';
import type { Plan } from './plan.js';

/** About the width of a sheet of A4 in quarters of a millimetre, so that text of 13 is 9 pt there. */
const WIDTH = 760;
const MARGIN = 10;
const GAP = 14;
const COLUMNS = 3;
const LARGE = 620;

/** The maps of a plan as one picture that needs nothing else, in the shape of a sheet of A4. */
export function drawPlan(title: string, options: PlanOptions, plan: Plan): string {
  const [first, ...others] = mapsOf(options, plan) as [PlanMap, ...PlanMap[]];
  const sheet = new SvgPage(WIDTH, MARGIN);
  sheet.write(`${title}: anchor plan`, { size: 18, bold: true });
  for (const line of planWords(options, plan)) sheet.write(line);
  sheet.y += 8;
  sheet.write(first.title, { bold: true });
  sheet.y = sheet.legend(first.key, MARGIN, sheet.y, WIDTH - 2 * MARGIN) + 6;
  const large = largeMap(first, options, plan, LARGE);
  sheet.place(large.svg(first.title), (WIDTH - LARGE) / 2, sheet.y, LARGE, large.high);
  sheet.y += large.high + 4;
  if (large.numbered.length > 0) sheet.write(`Numbers: ${large.numbered.join('; ')}.`);
  plan.worst.slice(0, WORST_SHOWN).forEach((worst, index) => {
    sheet.write(worstWords(worst, index), { ink: INK.weak });
  });
  const wide = (WIDTH - 2 * MARGIN - (COLUMNS - 1) * GAP) / COLUMNS;
  for (let from = 0; from < others.length; from += COLUMNS) {
    const top = sheet.y + 14;
    others.slice(from, from + COLUMNS).forEach((map, column) => {
      const x = MARGIN + column * (wide + GAP);
      const below = sheet.writeAt(x, top, wide, map.title, 12, true);
      const down = sheet.legend(map.key, x, below, wide) + 4;
      const small = smallMap(map, options, plan);
      const high = (small.high * wide) / small.wide;
      sheet.place(small.svg(map.title), x, down, wide, high);
      sheet.y = Math.max(sheet.y, down + high);
    });
  }
  return sheet.svg(`${title}: anchor plan`);
}
