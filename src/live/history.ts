import { z } from 'zod';
import type { Moment } from './moments.js';
import { EventSchema, type LiveEvent } from './schema.js';

/** One thing of the last ten minutes, as the panel keeps it over a restart. */
export type HistoryLine =
  /** What comes after it is of this show. */
  { readonly show: string } | { readonly moment: Moment } | { readonly event: LiveEvent };

export const MomentSchema = z.object({
  atS: z.number(),
  positionsPerS: z.number(),
  droppedPerS: z.number(),
  confidence: z.record(z.string(), z.number().nullable()).describe('By performer.'),
  delayS: z.number().nullable(),
});

const LineSchema = z.union([
  z.object({ show: z.string() }),
  z.object({ moment: MomentSchema }),
  z.object({ event: EventSchema }),
]);

/** Lines of JSON, oldest first; what is none, as the end of a file whose writer was killed, is left out. */
export function readHistory(text: string): HistoryLine[] {
  return text.split('\n').flatMap((line): HistoryLine[] => {
    try {
      const parsed = LineSchema.safeParse(JSON.parse(line));
      if (!parsed.success) return [];
      const { data } = parsed;
      if (!('event' in data)) return [data];
      const { times, firstS, ...event } = data.event;
      return [
        {
          event: {
            ...event,
            ...(times !== undefined && { times }),
            ...(firstS !== undefined && { firstS }),
          },
        },
      ];
    } catch {
      return [];
    }
  });
}
