import { z } from 'zod';
import { meant } from '../../show/problems/problem.js';
import { printable } from '../../stage/printable.js';

/** What may be done from a page: of what `lampwright tell` does, what belongs to a show that runs. Nothing of it reads or writes a file of the user's. */
export const ACTS = [
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
type Act = (typeof ACTS)[number];

/** They make light safe, and are done however late they come. */
export const ANY_TIME: ReadonlySet<string> = new Set<Act>(['stop', 'release']);

/** What else `lampwright tell` does takes the show machine. */
const TELL_ONLY: ReadonlySet<string> = new Set([
  ...['highlight', 'pin', 'unpin', 'rehearsal', 'reload', 'status'],
]);

/** A request is a few words. */
export const MOST_BODY_BYTES = 4096;
const MOST_WORDS = 3;
const MOST_LETTERS = 100;
const PAGE = /^[\w-]{1,64}$/;
/** So much of what was sent is said again. */
const MOST_SHOWN = 40;

export const ActSchema = z
  .strictObject({
    words: z
      .tuple([z.enum(ACTS)], z.string().min(1).max(MOST_LETTERS))
      .refine(words => words.length <= MOST_WORDS, 'at most three words')
      .describe(
        'As `lampwright tell` takes them: ["stop", "everybody"], ["cue", "storm"]; ["cue", "next", "evening"] goes on from that cue, and is refused where another is on by now.',
      ),
    seen: z
      .int()
      .min(0)
      .optional()
      .describe(
        'The `sequence` of the newest snapshot that the hand has seen: all but stop and release take it. Of one that is older than 3 s, of a hold than 1 s, nothing is done.',
      ),
    pressedAtS: z
      .number()
      .optional()
      .describe(
        'Of a stop that is sent again until it is answered: when it was pressed, by the clock of the snapshots (`atS`). One that was pressed more than a second before the newest resume is not done: it would undo it.',
      ),
    page: z
      .string()
      .regex(PAGE)
      .optional()
      .describe(
        'Any name of whoever asks. Each that holds an enable is a hand of its own, also where several come from one address: the first who lets go ends it, until all have.',
      ),
  })
  .refine(
    ({ words, seen }) => ANY_TIME.has(words[0]) || seen !== undefined,
    'all but stop and release take `seen`',
  );
export type AskedAct = z.infer<typeof ActSchema>;

/** @returns what is wrong with it, all at once, each with what would be right; or what it asks */
export function readAct(body: unknown): AskedAct | readonly string[] {
  const parsed = ActSchema.safeParse(body);
  if (parsed.success) return parsed.data;
  if (typeof body !== 'object' || body === null || Array.isArray(body)) {
    return ['the body is not a JSON object: send { "words": ["stop", "everybody"] }'];
  }
  const { words, seen, pressedAtS, page, ...others } = body as { [key: string]: unknown };
  return [
    ...wordFaults(words),
    ...seenFaults(seen, words),
    ...(pressedAtS === undefined || isTime(pressedAtS)
      ? []
      : [
          `\`pressedAtS\` is ${shown(pressedAtS)}: when it was pressed, by \`atS\` of the snapshots`,
        ]),
    ...(page === undefined || (typeof page === 'string' && PAGE.test(page))
      ? []
      : [`\`page\` is ${shown(page)}: 1 to 64 letters, digits, _ or -`]),
    ...Object.keys(others).map(
      key => `${shown(key)} is not known: \`words\`, \`seen\`, \`pressedAtS\`, \`page\``,
    ),
  ];
}

const isTime = (value: unknown) => typeof value === 'number' && Number.isFinite(value);

function wordFaults(words: unknown): string[] {
  if (!Array.isArray(words) || words.length === 0) {
    const is = words === undefined ? 'missing' : shown(words);
    return [`\`words\` is ${is}: a list of one to three words, as ["stop", "everybody"]`];
  }
  const [act, ...rest] = words as unknown[];
  return [
    ...(ACTS.some(one => one === act) ? [] : [actFault(act)]),
    ...(words.length > MOST_WORDS ? [`${words.length} words: at most ${MOST_WORDS}`] : []),
    ...rest
      .filter(word => typeof word !== 'string' || word === '' || word.length > MOST_LETTERS)
      .map(word => `${shown(word)} is no word: a text of 1 to ${MOST_LETTERS} letters`),
  ];
}

function actFault(act: unknown): string {
  if (typeof act === 'string' && TELL_ONLY.has(act)) {
    return `${shown(act)} can't be done here: on the show machine, lampwright tell STATE_DIR ${act}`;
  }
  const nearest = typeof act === 'string' ? meant(act.slice(0, MOST_SHOWN), ACTS) : undefined;
  const hint = nearest === undefined ? '' : `; did you mean ${nearest}?`;
  return `${shown(act)} is not an act: ${ACTS.join(', ')}${hint}`;
}

function seenFaults(seen: unknown, words: unknown): string[] {
  const what = 'the `sequence` of the newest snapshot that the hand has seen';
  if (seen !== undefined) {
    return Number.isSafeInteger(seen) && Number(seen) >= 0
      ? []
      : [`\`seen\` is ${shown(seen)}: ${what}, a whole number from 0`];
  }
  const act: unknown = Array.isArray(words) ? words[0] : undefined;
  const takesIt = ACTS.some(one => one === act) && !ANY_TIME.has(String(act));
  return takesIt ? [`\`seen\` is missing: ${act} takes ${what}`] : [];
}

/** What a stream may be asked for. */
export const STREAM_RATES_HZ = { least: 0.2, most: 10, usual: 5 } as const;
const NUMBER = /^\d{1,6}(\.\d{1,6})?$/;

/** @returns what is wrong with the query of a stream, all at once; or what it asks for */
export function readStreamQuery(
  query: Readonly<Record<string, string>>,
): { readonly rateHz: number; readonly page: string | undefined } | readonly string[] {
  const { rate, page, ...others } = query;
  const { least, most, usual } = STREAM_RATES_HZ;
  const rateHz = rate === undefined ? usual : NUMBER.test(rate) ? Number(rate) : Number.NaN;
  const faults = [
    ...(rateHz >= least && rateHz <= most
      ? []
      : [`\`rate\` is ${shown(rate)}: snapshots a second, a number from ${least} to ${most}`]),
    ...(page === undefined || PAGE.test(page)
      ? []
      : [`\`page\` is ${shown(page)}: 1 to 64 letters, digits, _ or -`]),
    ...Object.keys(others).map(key => `${shown(key)} is not known: \`rate\`, \`page\``),
  ];
  return faults.length > 0 ? faults : { rateHz, page };
}

/** A stranger's text, short, and in quotes where it is one. */
function shown(value: unknown): string {
  const text = printable(JSON.stringify(value) ?? 'undefined');
  return text.length > MOST_SHOWN ? `${text.slice(0, MOST_SHOWN)}…` : text;
}
