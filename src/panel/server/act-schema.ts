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

export const ActSchema = z
  .object({
    words: z
      .tuple([z.enum(ACTS)], z.string().min(1).max(100))
      .refine(words => words.length <= 3, 'at most three words')
      .describe('As `lampwright tell` takes them: ["stop", "everybody"], ["cue", "next"].'),
    seen: z
      .int()
      .optional()
      .describe(
        'Of a hold, which takes it: the `sequence` of the newest snapshot that the hand has seen. One that is older than a second enables nothing.',
      ),
    page: z
      .string()
      .regex(/^[\w-]{1,64}$/)
      .optional()
      .describe(
        'Any name of whoever asks. Each that holds an enable is a hand of its own, also where several come from one address: the first who lets go ends it, until all have.',
      ),
  })
  .refine(({ words, seen }) => words[0] !== 'hold' || seen !== undefined, 'a hold takes `seen`');
