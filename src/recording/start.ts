import { z } from 'zod';

/** The first record of each part: all that a reader needs to know of what follows. */
const StartSchema = z.object({
  /** Which process wrote it. */
  by: z.enum(['engine', 'supervisor']),
  /** The same for all parts of one process. */
  run: z.string(),
  /** The run whose engine this one's has gone on from, with another show: see `takeOver`. */
  before: z.string().optional(),
  /** Of this run, from 1. */
  part: z.int().positive(),
  /** Number of the next tick. */
  tick: z.int().nonnegative(),
  version: z.string(),
  node: z.string(),
  /** Operating system and processor, as Node names them. */
  platform: z.string(),
  tickHz: z.number().positive(),
  /** Path of the show file as it was given, and its text. */
  showFile: z.string(),
  showText: z.string(),
  /** Numbers of the universes in the order of the levels, 512 slots each. */
  universes: z.array(z.int()),
  /** Monotonic seconds, and Unix time less it. */
  atS: z.number(),
  unixOffsetS: z.number(),
});

export type Start = z.infer<typeof StartSchema>;

/** @returns undefined for what is no start */
export function readStart(value: unknown): Start | undefined {
  const checked = StartSchema.safeParse(value);
  return checked.success ? checked.data : undefined;
}
