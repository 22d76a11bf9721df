import {
  type Area,
  type AreaOptions,
  compileArea,
  signedDistanceM,
  withoutHeight,
} from '../../stage/area.js';
import { basisOfAll } from '../model/basis.js';
import type { Show } from '../model/model.js';
import type { Finding } from '../problems/problem.js';

/** Looked at for each side of a box. */
const ACROSS = 40;

/** Less of a zone is a corner by the door, and as it is meant. */
const SHARE_OF_ZONE = 0.1;
/** A wing is less of the stage, also where the tracking hears into it. */
const SHARE_OF_STAGE = 0.25;

/** Exits where people act: a performer lost in one counts as gone, and nothing is reported. */
export function exitWarnings(show: Show): Finding[] {
  const { bounds, exits, zones } = show;
  if (exits.length === 0) return [];
  const used = basisOfAll(show).zones;
  const { min, max } = bounds;
  const stage = rectangle(min.x, max.x, min.y, max.y);
  return exits.flatMap(({ name, area }): Finding[] => {
    const found: Finding[] = [];
    const say = (message: string) =>
      found.push({ code: 'exit-on-stage', message, path: ['exits', name], atKey: true });
    const ofStage = shareInside(stage, area);
    if (ofStage >= SHARE_OF_STAGE) {
      say(
        `exit "${name}" covers ${perCent(ofStage)} of the stage: performers who are lost in it count as off stage, and no loss is reported.`,
      );
    }
    zones.forEach((zone, index) => {
      if (zone.around !== undefined || !used.has(index)) return;
      const ofZone = shareInside(zone.area, area);
      if (ofZone < SHARE_OF_ZONE) return;
      say(
        `exit "${name}" covers ${perCent(ofZone)} of zone "${zone.name}", which drives light: performers who are lost there count as off stage, and no loss is reported.`,
      );
    });
    return found;
  });
}

function perCent(share: number): string {
  return `${Math.round(100 * share)} %`;
}

function rectangle(x0: number, x1: number, y0: number, y1: number): AreaOptions {
  const points = [[x0, y0] as const, [x1, y0] as const, [x1, y1] as const, [x0, y1] as const];
  return { shape: { kind: 'polygon', points } };
}

/** How much of one area is in another, on the plan; 0 where their heights don't meet. */
function shareInside(of: AreaOptions, other: AreaOptions): number {
  const [a, b] = [compileArea(of), compileArea(other)];
  if (Math.min(a.toM, b.toM) < Math.max(a.fromM, b.fromM)) return 0;
  const [plan, otherPlan] = [a, b].map(withoutHeight) as [Area, Area];
  let all = 0;
  let both = 0;
  for (let i = 0; i < ACROSS; i++) {
    for (let j = 0; j < ACROSS; j++) {
      const x = a.minX + ((i + 0.5) / ACROSS) * (a.maxX - a.minX);
      const y = a.minY + ((j + 0.5) / ACROSS) * (a.maxY - a.minY);
      if (signedDistanceM(plan, x, y, 0) > 0) continue;
      all++;
      if (signedDistanceM(otherPlan, x, y, 0) <= 0) both++;
    }
  }
  return all === 0 ? 0 : both / all;
}
