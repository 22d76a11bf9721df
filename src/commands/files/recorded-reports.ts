import { statSync } from 'node:fs';
import { type Parsed, parseReports } from '../../calibration/markers.js';
import { PositionReader } from '../../calibration/position-reader.js';
import type { Report } from '../../calibration/standing.js';
import { PART_SUFFIX } from '../../recording/layout.js';
import type { Show } from '../../show/model/model.js';
import { complain } from '../terminal/terminal.js';
import { readFile } from './calibrate-options.js';
import { findRecording, readParts } from './recording-files.js';

export type ReportsByTracker = ReadonlyMap<string, readonly Report[]>;

/**
 * Reports of an input by tracker, from a recording of `run --record` (a folder, or one part) or a table of
 * comma-separated values. Seconds count from the beginning of the recording. Prints what is wrong, and returns
 * undefined then.
 */
export function recordedReports(
  path: string,
  show: Show,
  inputName: string,
): ReportsByTracker | undefined {
  if (!isRecording(path)) return readFile<ReportsByTracker>(path, parseReports);
  const parsed = readRecording(path, show, inputName);
  if (parsed.ok) return parsed.value;
  for (const fault of parsed.faults) complain(fault);
  return undefined;
}

/** Whether a path is a recording of the daemon rather than a table. */
export function isRecording(path: string): boolean {
  if (path.endsWith(PART_SUFFIX)) return true;
  try {
    return statSync(path).isDirectory();
  } catch {
    // Whoever reads it will say that it isn't there.
    return false;
  }
}

function readRecording(path: string, show: Show, inputName: string): Parsed<ReportsByTracker> {
  const found = findRecording(path);
  if (!found.ok) return { ok: false, faults: [found.fault] };
  const index = show.inputs.findIndex(input => input.name === inputName);
  const plan = show.inputs[index];
  if (plan === undefined) return { ok: false, faults: [`the show has no input "${inputName}".`] };
  const reports = new Map<string, Report[]>();
  let beginS: number | undefined;
  const reader = new PositionReader(plan, ({ tracker, timeS, x, y, z }) => {
    const list = reports.get(tracker) ?? [];
    list.push({ timeS: timeS - (beginS ?? 0), x, y, z });
    reports.set(tracker, list);
  });
  const { cut, fault } = readParts(found.files.engine, item => {
    if (item.type !== 'absorb' && item.type !== 'tick') return undefined;
    beginS ??= item.nowS;
    for (const { input, bytes, arrivalS } of item.datagrams) {
      // The show is the recorded one, or has its inputs in the same order.
      if (input === index) reader.read(bytes, arrivalS);
    }
    return undefined;
  });
  if (fault !== undefined) return { ok: false, faults: [fault] };
  for (const part of cut) complain(`${part.file}: ${part.fault}; what is before it is used.`);
  return { ok: true, value: reports };
}
