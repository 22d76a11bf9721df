import { setTimeout as sleep } from 'node:timers/promises';
import type { MarkerPlace } from '../calibration/markers.js';
import { averageStanding, type Report } from '../calibration/standing.js';
import { PositionListener } from '../daemon/position-listener.js';
import type { InputPlan } from '../show/model.js';
import { Answers } from './answers.js';
import { EXIT } from './exit-codes.js';
import { complain } from './terminal.js';

export type Heard =
  | { readonly ok: true; readonly reports: ReadonlyMap<string, readonly Report[]> }
  | { readonly ok: false; readonly code: number; readonly why: string };

export interface HearOptions {
  readonly seconds: number;
  readonly toleranceM: number;
  readonly tracker: string | undefined;
}

/** Reports kept of one tracker while it is averaged: 10 min at 100 Hz. */
const MOST_REPORTS = 60_000;

/**
 * Hears the trackers on the markers: all at once where each marker has a tracker of its own, else one
 * marker after the other, each when Enter says that the tracker stands.
 */
export async function hearMarkers(
  places: readonly MarkerPlace[],
  input: InputPlan,
  options: HearOptions,
): Promise<Heard> {
  const now = new Map<string, Report[]>();
  const listener = new PositionListener(input, ({ tracker, timeS, x, y, z }) => {
    const list = now.get(tracker) ?? [];
    if (list.length < MOST_REPORTS) list.push({ timeS, x, y, z });
    now.set(tracker, list);
  });
  const problem = await listener.open();
  if (problem !== undefined) return { ok: false, code: EXIT.fault, why: problem };
  try {
    const trackers = places.map(place => place.tracker);
    const ownTrackers = !trackers.includes(undefined) && new Set(trackers).size === trackers.length;
    const heard = ownTrackers
      ? await hearAll(places, now, options)
      : await hearInTurn(places, now, options);
    if (heard.ok && listener.datagrams === 0) {
      complain(`nothing at all arrived at ${input.listen}:${input.port}.`);
    } else if (heard.ok && now.size === 0 && listener.rejected > 0) {
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
  now: Map<string, Report[]>,
  { seconds }: HearOptions,
): Promise<Heard> {
  complain(`Listening to ${places.length} trackers for ${seconds} s; nobody near them.`);
  await sleep(seconds * 1000);
  const reports = new Map(
    places.map(({ name, tracker }) => [name, [...(now.get(tracker ?? '') ?? [])]]),
  );
  return { ok: true, reports };
}

async function hearInTurn(
  places: readonly MarkerPlace[],
  now: Map<string, Report[]>,
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
        const chosen = tracker ?? [...now.keys()][0] ?? '';
        if (tracker === undefined && now.size > 1) {
          return {
            ok: false,
            code: EXIT.usage,
            why: `several trackers are heard (${[...now.keys()].slice(0, 8).join(', ')}); say which one you carry with --tracker.`,
          };
        }
        const heard = [...(now.get(chosen) ?? [])];
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
            : `  Only ${heard.length} reports of it${heard.length === 0 ? ` (heard: ${[...now.keys()].slice(0, 8).join(', ') || 'nobody'})` : ''}. Once more.`,
        );
      }
    }
  } finally {
    answers.close();
  }
  return { ok: true, reports };
}
