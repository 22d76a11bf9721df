import { z } from 'zod';

/** What may be done from a page: what `lampwright tell` does in a show. Nothing of it reads or writes a file of the user's. */
const ACTS = [
  'stop',
  'resume',
  'off',
  'on',
  'cue',
  'assign',
  'unassign',
  'mapping',
  'hold',
  'release',
] as const;

/** They make light safe, and are done however late they come. */
export const ANY_TIME: ReadonlySet<string> = new Set<(typeof ACTS)[number]>(['stop', 'release']);

export const ActSchema = z
  .object({
    words: z
      .tuple([z.enum(ACTS)], z.string().min(1).max(100))
      .refine(words => words.length <= 3, 'at most three words')
      .describe(
        'As `lampwright tell` takes them: ["stop", "everybody"], ["cue", "storm"]; ["cue", "next", "evening"] goes on from that cue, and is refused where another is on by now.',
      ),
    seen: z
      .int()
      .optional()
      .describe(
        'The `sequence` of the newest snapshot that the hand has seen: all but stop and release take it. Of one that is older than 3 s, of a hold than 1 s, nothing is done.',
      ),
    page: z
      .string()
      .regex(/^[\w-]{1,64}$/)
      .optional()
      .describe(
        'Any name of whoever asks. Each that holds an enable is a hand of its own, also where several come from one address: the first who lets go ends it, until all have.',
      ),
  })
  .refine(
    ({ words, seen }) => ANY_TIME.has(words[0]) || seen !== undefined,
    'all but stop and release take `seen`',
  );
