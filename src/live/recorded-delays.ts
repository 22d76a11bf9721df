import { z } from 'zod';
import { DELAY_BINS_S, DELAY_PARTS, type DelayHistogram, type DelayPart } from './light-delays.js';

/** How many positions took so long: the upper end of the bin, milliseconds (null: longer than any bin), and the count. */
type Bin = readonly [upToMs: number | null, count: number];

/** What a `delays` record holds: those since the record before. Bins without any are left out. */
export interface RecordedDelays {
  readonly atS: number;
  readonly delays: Readonly<Partial<Record<DelayPart, readonly Bin[]>>>;
}

/**
 * @param now, before counted since the supervisor began
 * @returns undefined where there were none meanwhile
 */
export function delaysSince(
  now: readonly DelayHistogram[],
  before: readonly DelayHistogram[],
  atS: number,
): RecordedDelays | undefined {
  const parts = now.map(({ part, counts }): [DelayPart, Bin[]] => {
    const then = before.find(one => one.part === part)?.counts;
    const bins = counts.flatMap((count, bin): Bin[] => {
      const more = count - (then?.[bin] ?? 0);
      const upToS = DELAY_BINS_S[bin];
      return more > 0 ? [[upToS === undefined ? null : upToS * 1e3, more]] : [];
    });
    return [part, bins];
  });
  if (parts.every(([, bins]) => bins.length === 0)) return undefined;
  return { atS, delays: Object.fromEntries(parts) };
}

const SCHEMA = z.object({
  atS: z.number(),
  delays: z.record(
    z.string(),
    z.array(z.tuple([z.number().nonnegative().nullable(), z.number().int().nonnegative()])),
  ),
});

/** A record as it was read, with the parts that are known; undefined where it makes no sense. */
export function readDelays(value: unknown): RecordedDelays | undefined {
  const read = SCHEMA.safeParse(value);
  if (!read.success) return undefined;
  const { atS, delays } = read.data;
  const known = DELAY_PARTS.flatMap(part => (delays[part] ? [[part, delays[part]]] : []));
  return { atS, delays: Object.fromEntries(known) };
}
