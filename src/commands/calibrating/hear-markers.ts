import { setTimeout as sleep } from 'node:timers/promises';
import type { MarkerPlace } from '../../calibration/markers.js';
import { ReportBook } from '../../calibration/report-book.js';
import { averageStanding, type Report } from '../../calibration/standing.js';
import { PositionListener } from '../../daemon/engine/position-listener.js';
import type { InputPlan } from '../../show/model/model.js';
import { Answers } from '../terminal/answers.js';
import { EXIT } from '../terminal/exit-codes.js';
import { complain } from '../terminal/terminal.js';

export type Heard =
  | { readonly ok: true; readonly reports: ReadonlyMap<string, readonly Report[]> }
  | { readonly ok: false; readonly code: number; readonly why: string };

export interface HearOptions {
  readonly seconds: number;
  readonly toleranceM: number;
  readonly tracker: string | undefined;
}

/**
 * Averages the trackers on the markers: all at once if each marker has its own tracker, otherwise one
 * marker after the other, each when somebody presses Enter.
 */
export async function hearMarkers(
  places: readonly MarkerPlace[],
  input: InputPlan,
  options: HearOptions,
): Promise<Heard> {
  const now = new ReportBook();
  const listener = new PositionListener(input, position => now.note(position));
  const problem = await listener.open();
  if (problem !== undefined) return { ok: false, code: EXIT.fault, why: problem };
  try {
    const trackers = places.map(place => place.tracker);
    const ownTrackers = !trackers.includes(undefined) && new Set(trackers).size === trackers.length;
    const heard = ownTrackers
      ? await hearAll(places, now, options)
      : await hearInTurn(places, now, options);
    if (heard.ok && listener.datagrams === 0) {
      complain(`nothing arrived at ${input.listen}:${input.port}.`);
    } else if (heard.ok && now.trackers.length === 0 && listener.rejected > 0) {
      complain(
        `${listener.rejected} messages arrived, and none was a position by the input's routes.`,
      );
    }
    return heard;
  } finally {
    listener.close();
  }
}

async function hearAll(
  places: readonly MarkerPlace[],
  now: ReportBook,
  { seconds }: HearOptions,
): Promise<Heard> {
  complain(`Listening to ${places.length} trackers for ${seconds} s; keep away from them.`);
  await sleep(seconds * 1000);
  const reports = new Map(places.map(({ name, tracker }) => [name, [...now.of(tracker ?? '')]]));
  return { ok: true, reports };
}

async function hearInTurn(
  places: readonly MarkerPlace[],
  now: ReportBook,
  options: HearOptions,
): Promise<Heard> {
  const answers = new Answers();
  const reports = new Map<string, readonly Report[]>();
  try {
    for (const place of places) {
      for (;;) {
        const { x, y, z } = place.stage;
        const tracker = place.tracker ?? options.tracker;
        complain(
          `Put ${tracker === undefined ? 'the tracker' : `tracker ${tracker}`} on "${place.name}" (${x}, ${y}, ${z}), step back, and press Enter.`,
        );
        if ((await answers.next()) === undefined) {
          return {
            ok: false,
            code: EXIT.usage,
            why: `the input ended before "${place.name}" was averaged.`,
          };
        }
        now.clear();
        await sleep(options.seconds * 1000);
        const chosen = tracker ?? now.trackers[0] ?? '';
        if (tracker === undefined && now.trackers.length > 1) {
          return {
            ok: false,
            code: EXIT.usage,
            why: `several trackers are heard (${now.names}); say which one you carry with --tracker.`,
          };
        }
        const heard = [...now.of(chosen)];
        const result = averageStanding(heard, {
          seconds: options.seconds,
          mostDriftM: options.toleranceM,
        });
        if (result.ok) {
          const { reports: count, spreadHorizontalM } = result.standing;
          complain(`  ${count} reports, spread ${spreadHorizontalM.toFixed(2)} m.`);
          reports.set(place.name, heard);
          break;
        }
        const { fault } = result;
        complain(
          fault.kind === 'moved'
            ? `  It moved by ${fault.driftM.toFixed(2)} m. Once more.`
            : `  Only ${heard.length} reports of it${heard.length === 0 ? ` (heard: ${now.names || 'nobody'})` : ''}. Once more.`,
        );
      }
    }
  } finally {
    answers.close();
  }
  return { ok: true, reports };
}
