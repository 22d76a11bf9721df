import { dropInWords } from '../../engine/events/drop-words.js';
import { DROP_REASONS, type DropReason } from '../../engine/values/counters.js';
import { enumerated } from '../../stage/enumerated.js';
import type { EngineCounters } from '../engine/engine-link.js';
import type { Entry } from '../log/log-entry.js';

/** What was dropped since the last report, in words; undefined where nothing was. */
export function describeDrops(
  now: EngineCounters,
  before: EngineCounters | undefined,
): Entry | undefined {
  const drops: Partial<Record<DropReason, number>> = {};
  for (const reason of DROP_REASONS) {
    const since = now.drops[reason] - (before?.drops[reason] ?? 0);
    if (since > 0) drops[reason] = since;
  }
  const reasons = Object.keys(drops) as DropReason[];
  if (reasons.length === 0) return undefined;
  const words = reasons.map(reason => {
    const words = dropInWords(reason, drops[reason] ?? 0);
    if (reason === 'socket-full') return `at ${enumerated(fullSince(now, before))} ${words}`;
    const last = now.latest[reason];
    const from = now.latestFrom[reason];
    const what = [
      ...(last === undefined ? [] : [printable(last)]),
      ...(from === undefined ? [] : [`from ${from}`]),
    ].join(' ');
    const example = what === '' ? '' : ` (last: ${what})`;
    return `${words}${example}`;
  });
  const text = `input dropped: ${words.join('; ')}`;
  return { level: 'warn', text, data: { kind: 'dropped', drops } };
}

/** Orders of a flood that the log has not one by one, since the last report; undefined where there are none. */
export function describeMerged(
  now: EngineCounters,
  before: EngineCounters | undefined,
): Entry | undefined {
  const merged = now.ordersMerged - (before?.ordersMerged ?? 0);
  if (merged <= 0) return undefined;
  const what = merged === 1 ? 'stop or resume' : 'stops and resumes';
  return {
    level: 'warn',
    text: `${merged} more ${what} came and ${merged === 1 ? 'was' : 'were'} carried out: too many at once to be logged one by one. The log has how it ended`,
    data: { kind: 'orders-merged', merged },
  };
}

function fullSince(now: EngineCounters, before: EngineCounters | undefined): string[] {
  const isMore = ([socket, count]: [string, number]) => count > (before?.fullSockets[socket] ?? 0);
  return Object.entries(now.fullSockets)
    .filter(isMore)
    .map(([socket]) => socket);
}

/** A stranger's bytes, on a screen. */
function printable(text: string): string {
  const cut = text.length > 60 ? `${text.slice(0, 60)}...` : text;
  return cut.replace(/[^\x20-\x7e]/g, '?');
}
