import type { LiveEvent } from './schema.js';

/** What is said again whenever somebody tries again: one line, however much lies between. */
const REPEATED: ReadonlySet<string> = new Set(['operator-refused', 'dropped', 'send-failed']);
/** What is said again every few seconds with other numbers: one line with the newest of them. */
const COUNTED: ReadonlySet<string> = new Set(['dropped', 'send-failed']);

/** A text without its counts and its newest example. Numbers in names and addresses stay. */
function kindOf({ what, text }: Pick<LiveEvent, 'what' | 'text'>): string {
  if (!COUNTED.has(what)) return text;
  return text.replace(/ \(last: .*?\)(?=;|$)/g, '').replace(/(?<![\w."-])\d+ (\w+?)s?\b/g, '$1');
}

/** What comes of a stop of everybody is told with it within so long, seconds. */
const STOP_WITHIN_S = 30;

/** Of a stop of everybody, each performer's light that goes for it: the stop says so. */
function stopOf(events: readonly LiveEvent[], { what, text, atS }: LiveEvent): number {
  if (what !== 'performer' || !text.includes('(operator stop)')) return -1;
  return events.findLastIndex(
    one =>
      one.what === 'stopped' &&
      one.text.startsWith('everybody stopped') &&
      one.atS <= atS &&
      atS - one.atS < STOP_WITHIN_S,
  );
}

/**
 * Adds one. What is said again at once, or is refused, dropped or not sent again, is one event with a count: it would push all else out.
 * @returns the one that it stands for now and that is no longer kept; undefined: none
 */
export function keepEvent(events: LiveEvent[], event: LiveEvent): LiveEvent | undefined {
  const { level, what } = event;
  const kind = kindOf(event);
  const stop = stopOf(events, event);
  if (stop >= 0) {
    // It stands for this one too: last, and as it was.
    const [told] = events.splice(stop, 1);
    if (told !== undefined) events.push(told);
    return told;
  }
  const isSame = (one: LiveEvent) =>
    one.what === what && one.level === level && kindOf(one) === kind;
  const from = REPEATED.has(what) ? 0 : Math.max(0, events.length - 1);
  const at = events.findIndex((one, index) => index >= from && isSame(one));
  const was = events[at];
  if (was === undefined) {
    events.push(event);
    return undefined;
  }
  events.splice(at, 1);
  // One that was counted already comes from whoever has kept it.
  const { times = (was.times ?? 1) + 1, firstS = was.firstS ?? was.atS } = event;
  events.push({ ...event, times, firstS });
  return was;
}

/** "3 times since 21:04:10"; undefined of what happened once. @param clock of a Unix time in seconds */
export function timesInWords(
  { times, firstS }: LiveEvent,
  clock: (unixS: number) => string,
): string | undefined {
  if (times === undefined || firstS === undefined) return undefined;
  return `${times} times since ${clock(firstS)}`;
}
