import { setTimeout as sleep } from 'node:timers/promises';
import type { AimRow } from '../../calibration/aims.js';
import { ReportBook } from '../../calibration/report-book.js';
import { placed } from '../../calibration/rigid.js';
import { averageStanding, type StandingFault } from '../../calibration/standing.js';
import { PositionListener } from '../../daemon/engine/position-listener.js';
import { DeskListener, type DeskOptions } from '../../daemon/listening/desk-levels.js';
import { monotonicS } from '../../daemon/machine/clock.js';
import { readRaw } from '../../fixtures/encode.js';
import type { Channel } from '../../fixtures/profile.js';
import type { InputPlan, Show } from '../../show/model/model.js';
import { distanceOutside, type Vec3 } from '../../stage/vector.js';
import { Answers } from '../terminal/answers.js';
import { EXIT } from '../terminal/exit-codes.js';
import { complain } from '../terminal/terminal.js';

export interface CaptureOptions {
  readonly fixture: string;
  readonly pan: Channel;
  readonly tilt: Channel;
  /** First slot of the fixture in the desk's universe, counted from 1. */
  readonly address: number;
  readonly desk: DeskOptions;
  readonly input: InputPlan;
  /** The tracker at the point; undefined: the only one heard. */
  readonly tracker: string | undefined;
  readonly seconds: number;
  /** Says in one line how good the samples so far are. */
  judge(rows: readonly AimRow[]): string;
}

export type Captured =
  | { readonly ok: true; readonly rows: AimRow[] }
  | { readonly ok: false; readonly code: number; readonly why: string };

/** A standing tracker that drifts farther than this is still being moved, metres. */
const MOST_DRIFT_M = 0.15;
/** A head whose angles change by more than this while they are read is being moved, degrees. */
const MOST_CHANGE_DEG = 0.1;
const LOOK_EVERY_MS = 50;
/** A point farther outside the stage means that the frame isn't fitted yet, metres. */
const OUTSIDE_M = 1;

/**
 * Takes samples from the networks: a tracker stands at a point, the desk aims the head at it, and Enter takes
 * the mean place of the tracker and the levels of the fixture's pan and tilt. Sends nothing.
 */
export async function captureAims(show: Show, options: CaptureOptions): Promise<Captured> {
  const heard = new ReportBook();
  const listener = new PositionListener(options.input, position => heard.note(position));
  const desk = new DeskListener(options.desk);
  const problem = (await listener.open()) ?? (await desk.open());
  if (problem !== undefined) {
    listener.close();
    return { ok: false, code: EXIT.fault, why: problem };
  }
  const answers = new Answers();
  const rows: AimRow[] = [];
  try {
    complain(
      `Put the tracker at a point, aim ${options.fixture} at it from the desk, and press Enter.`,
    );
    complain('("undo" removes the last one, "done" ends)');
    for (;;) {
      const line = (await answers.next())?.trim();
      if (line === undefined || line === 'done') return { ok: true, rows };
      if (line === 'undo') {
        const gone = rows.pop();
        complain(gone === undefined ? '  There is nothing to undo.' : `  ${options.judge(rows)}`);
        continue;
      }
      if (line !== '') {
        complain(`  "${line}" is not Enter, "undo" or "done".`);
        continue;
      }
      heard.clear();
      const aim = await lookAt(desk, options);
      const point = typeof aim === 'string' ? aim : pointOf(heard, options);
      if (typeof aim === 'string' || typeof point === 'string') {
        complain(`  ${typeof aim === 'string' ? aim : point} Once more.`);
        continue;
      }
      const outsideM = distanceOutside(show.bounds, point.x, point.y, point.z);
      if (outsideM > OUTSIDE_M) {
        complain(
          `  The tracker is ${outsideM.toFixed(1)} m outside the stage: is the frame of input ${options.input.name} fitted (calibrate stage)?`,
        );
      }
      rows.push({
        line: rows.length + 1,
        fixture: undefined,
        point,
        pan: { kind: 'raw', value: aim.pan },
        tilt: { kind: 'raw', value: aim.tilt },
      });
      const at = [point.x, point.y, point.z].map(value => value.toFixed(2)).join(', ');
      complain(`  (${at}) at pan ${aim.pan}, tilt ${aim.tilt}. ${options.judge(rows)}`);
    }
  } finally {
    answers.close();
    listener.close();
    desk.close();
  }
}

/** The levels of pan and tilt while the head stood still, or a message why there are none. */
async function lookAt(
  desk: DeskListener,
  { pan, tilt, address, seconds, desk: { protocol, universe } }: CaptureOptions,
): Promise<{ readonly pan: number; readonly tilt: number } | string> {
  const seen: { pan: number; tilt: number }[] = [];
  const endS = monotonicS() + seconds;
  while (monotonicS() < endS) {
    await sleep(LOOK_EVERY_MS);
    const now = desk.levels;
    if (now.kind === 'several') {
      return `Several sources send universe ${universe} at the same priority: ${now.sources.join(', ')}; silence all but the desk.`;
    }
    if (now.kind === 'levels') {
      seen.push({
        pan: readRaw(pan, now.slots, address - 1),
        tilt: readRaw(tilt, now.slots, address - 1),
      });
    }
  }
  const last = seen.at(-1);
  if (last === undefined) {
    return `Nothing was heard from the desk: no ${protocol === 'sacn' ? 'sACN' : 'Art-Net'} on universe ${universe}.`;
  }
  const moved = (channel: Channel, of: (one: { pan: number; tilt: number }) => number) => {
    const values = seen.map(of);
    return (Math.max(...values) - Math.min(...values)) * Math.abs(channel.physicalPerRaw);
  };
  const most = Math.max(
    moved(pan, one => one.pan),
    moved(tilt, one => one.tilt),
  );
  return most > MOST_CHANGE_DEG ? `The head moved by ${most.toFixed(1)} degrees meanwhile.` : last;
}

/** The place of the tracker (stage frame, metres), or a message why there is none. */
function pointOf(
  heard: ReportBook,
  { input, tracker, seconds }: CaptureOptions,
): Readonly<Vec3> | string {
  const { names, trackers } = heard;
  if (tracker === undefined && trackers.length > 1) {
    return `Several trackers are heard (${names}); say which one with --tracker.`;
  }
  const chosen = tracker ?? trackers[0] ?? '';
  const reports = heard.of(chosen);
  const result = averageStanding(reports, { seconds, mostDriftM: MOST_DRIFT_M });
  return result.ok
    ? placed(input, result.standing.mean)
    : standingFault(result.fault, chosen === '' ? 'the tracker' : `tracker ${chosen}`, names);
}

function standingFault(fault: StandingFault, tracker: string, names: string): string {
  switch (fault.kind) {
    case 'none':
      return `Nothing was received from ${tracker}${names === '' ? '' : ` (but from ${names})`}.`;
    case 'few':
      return `Only ${fault.reports} reports of ${tracker} came; at least ${fault.needed} are needed (--seconds).`;
    case 'short':
      return `${tracker} was heard for only ${fault.spanS.toFixed(1)} s.`;
    case 'moved':
      return `${tracker} moved by ${fault.driftM.toFixed(2)} m.`;
    default:
      return fault satisfies never;
  }
}
