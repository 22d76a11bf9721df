import { PositionReader } from '../../calibration/position-reader.js';
import { placed } from '../../calibration/rigid.js';
import { readStart } from '../../recording/start.js';
import { type PlayedReport, sceneReports } from '../../rehearsal/play.js';
import type { Show } from '../../show/model/model.js';
import { parseShow } from '../../show/parse.js';
import { formatProblem } from '../../show/problems/problem.js';
import { vec3 } from '../../stage/vector.js';
import { loadScene } from '../files/load-scene.js';
import { isRecording } from '../files/recorded-reports.js';
import { findRecording, readParts } from '../files/recording-files.js';
import { refusalCode } from '../terminal/refuse.js';

/** What is to be played. */
export type Played =
  | {
      readonly ok: true;
      readonly name: string;
      readonly show: Show;
      readonly lengthS: number;
      readonly trackers: readonly string[];
      /** The reports of a round, in the order of their times. */
      readonly round: (index: number) => {
        readonly lengthS: number;
        readonly reports: readonly PlayedReport[];
      };
      /** What could not be read of it, in words. */
      readonly cut: readonly string[];
    }
  | {
      readonly ok: false;
      readonly usage?: string;
      readonly code?: number;
      readonly faults: readonly string[];
    };

/** An evening of ten trackers at 30 Hz; more might not fit into memory. */
const MOST_REPORTS = 4_000_000;

/** Reads a scene or a recording. @param show the show that a scene is played with */
export function readPlayed(path: string, show: Show | undefined): Played {
  if (isRecording(path)) return recorded(path, show);
  if (show === undefined) {
    return {
      ok: false,
      usage: 'a scene is played with the performers of a show: --show SHOW.',
      faults: [],
    };
  }
  const read = loadScene(path, show);
  if (!read.ok)
    return {
      ok: false,
      code: refusalCode(read.problems),
      faults: read.problems.map(formatProblem),
    };
  const { scene } = read;
  const { lengthS, name, seed } = scene;
  return {
    ok: true,
    name,
    show,
    lengthS,
    trackers: [...new Set(scene.parts.flatMap(({ trackers }) => trackers))],
    round: index => ({ lengthS, reports: sceneReports({ ...scene, seed: seed + index }, show) }),
    cut: [],
  };
}

/** Positions as they arrived, read with the frames and routes of the recorded show. */
function recorded(path: string, given: Show | undefined): Played {
  const found = findRecording(path);
  if (!found.ok) return { ok: false, usage: found.fault, faults: [] };
  const reports: PlayedReport[] = [];
  let readers: readonly (PositionReader | undefined)[] = [];
  let show: Show | undefined;
  let beganS: number | undefined;
  let lastS = 0;
  const { cut, fault } = readParts(
    found.files.engine,
    item => {
      if (item.type === 'start') {
        const start = readStart(item.value);
        const parsed = start && parseShow(start.showText, start.showFile);
        if (parsed === undefined || !parsed.ok) return "its show can't be read by this version";
        show = parsed.show;
        readers = show.inputs.map(input =>
          input.carries === 'positions'
            ? new PositionReader(input, heard => {
                const { tracker, timeS, quality = 1 } = heard;
                reports.push({
                  tracker,
                  atS: timeS - (beganS ?? 0),
                  at: placed(input, vec3(heard.x, heard.y, heard.z)),
                  quality,
                });
              })
            : undefined,
        );
        return undefined;
      }
      if (item.type !== 'absorb' && item.type !== 'tick') return undefined;
      beganS ??= item.nowS;
      lastS = item.nowS;
      for (const { input, bytes, arrivalS } of item.datagrams)
        readers[input]?.read(bytes, arrivalS);
      return reports.length > MOST_REPORTS ? `it has more than ${MOST_REPORTS} reports` : undefined;
    },
    found.files.supervisor,
  );
  if (fault !== undefined) return { ok: false, faults: [fault] };
  const ours = given ?? show;
  if (ours === undefined || reports.length === 0) {
    return { ok: false, faults: [`${path}: there are no positions in it.`] };
  }
  const lengthS = Math.max(1, lastS - (beganS ?? lastS));
  reports.sort((a, b) => a.atS - b.atS);
  return {
    ok: true,
    name: path,
    show: ours,
    lengthS,
    trackers: [...new Set(reports.map(one => one.tracker))],
    round: () => ({ lengthS, reports }),
    cut: cut.map(part => `${part.file}: ${part.fault}; what is before it is played.`),
  };
}
