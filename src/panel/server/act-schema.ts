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

export const ActSchema = z.object({
  words: z
    .tuple([z.enum(ACTS)], z.string().min(1).max(100))
    .refine(words => words.length <= 3, 'at most three words')
    .describe('As `lampwright tell` takes them: ["stop", "everybody"], ["cue", "next"].'),
});
