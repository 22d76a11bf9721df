import { tickHzOf } from '../../daemon/beats/show-lighting.js';
import { rehearsalPage } from '../../reporting/pages/rehearsal-page.js';
import { rehearsalText } from '../../reporting/pages/rehearsal-text.js';
import { type RehearsalReport, reportRehearsal } from '../../reporting/rehearsal.js';
import { formatProblem } from '../../show/problems/problem.js';
import { openExplainFile } from '../files/explain-file.js';
import { loadScene } from '../files/load-scene.js';
import { loadShow } from '../files/show-file.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { packageVersion } from '../terminal/package-version.js';
import { refuse } from '../terminal/refuse.js';
import { complain, print, styled } from '../terminal/terminal.js';
import { writeText } from '../terminal/text-files.js';
import { openRehearsalRecording } from './rehearsal-recording.js';

const misuse = misuseOf('rehearse');

export const REHEARSE_HELP = `usage: lampwright rehearse SHOW SCENE [--repeat N] [--html FILE] [--json]
                           [--explain FILE] [--record DIR] [--force]

Plays a scene (who walks where, what their trackers report, what fails) to a show, faster than
real time and without opening a socket, with the same code as a running show. Says what
each light did, where it was late, and where the watchdog acted.

  --repeat N       play it N times, each time with different noise (1)
  --html FILE      the same as one file to read and to print
  --json           the same as JSON
  --explain FILE   how the tracking treated every report, and why: .csv, .jsonl or .lwrec
  --record DIR     write a recording, as \`run --record\` does, for \`replay\` and \`report\`

examples:
  lampwright rehearse config/salt-lantern.show.yaml config/scenes/lantern.scene.yaml
  lampwright rehearse my.show.yaml act-two.scene.yaml --html act-two.html
  lampwright rehearse my.show.yaml act-two.scene.yaml --repeat 20 --json | jq .heads

exit codes: 0 ok, 1 the show or the scene has errors, 2 bad usage or no such file`;

const MOST_ROUNDS = 10_000;

export async function rehearse(args: Arguments): Promise<number> {
  const [showFile = '', sceneFile = ''] = args.positionals;
  const loaded = loadShow(showFile);
  if (!loaded.ok) return refuse(loaded.problems);
  const { show } = loaded;
  const rounds = args.values.repeat === undefined ? 1 : Number(args.values.repeat);
  if (!(Number.isInteger(rounds) && rounds >= 1 && rounds <= MOST_ROUNDS)) {
    return misuse(
      `--repeat is a whole number from 1 to ${MOST_ROUNDS}, not "${args.values.repeat}".`,
    );
  }
  const read = loadScene(sceneFile, show);
  if (!read.ok) {
    for (const problem of read.problems) complain(formatProblem(problem));
    const [first] = read.problems;
    // A file that the scene names and that can't be read is an error of the scene, not bad usage.
    return first?.code === 'file-unreadable' && first.file === sceneFile && first.excerpt === ''
      ? EXIT.usage
      : EXIT.failed;
  }
  const explain = openExplainFile(args.values.explain);
  if (!explain.ok) return misuse(explain.fault);
  const tickHz = tickHzOf(show);
  const version = { version: packageVersion(), node: process.version };
  const unixOffsetS = Date.now() / 1e3;
  const recording = openRehearsalRecording(args.values.record, show, {
    text: loaded.whole,
    file: showFile,
    tickHz,
    unixOffsetS,
    version: version.version,
  });
  if (!recording.ok) return misuse(recording.fault);
  const began = performance.now();
  const result = reportRehearsal(
    show,
    read.scene,
    { startS: 0, unixOffsetS, tickHz, rounds },
    version,
    sceneTime,
    {
      began: view => explain.file?.begin({ view }),
      intake: (tick, nowS, datagrams, operator, desk) => {
        explain.file?.intake({ unixOffsetS });
        recording.writer?.intake(tick, nowS, datagrams, operator, desk);
      },
      ticked: tick => recording.writer?.ticked(tick),
    },
  );
  const tookS = (performance.now() - began) / 1e3;
  const unwritten = explain.file?.close() ?? recording.writer?.close();
  if (unwritten !== undefined) return misuse(unwritten);
  const { html } = args.values;
  if (typeof html === 'string') {
    const why = writeText(html, rehearsalPage(result, show, sceneTime));
    if (why !== undefined) return misuse(`can't write ${html}: ${why}.`);
  }
  print(args.values.json === true ? JSON.stringify(result, undefined, 2) : text(result, tookS));
  return EXIT.ok;
}

function text(result: RehearsalReport, tookS: number): string {
  const lengthS = result.lengthS * result.rounds;
  return [
    ...rehearsalText(result, sceneTime, one => styled('bold', one)),
    '',
    `played in ${tookS.toFixed(1)} s, ${Math.round(lengthS / tookS)} times real time`,
  ].join('\n');
}

/** Time from the start of the scene, 1:02.5. */
function sceneTime(atS: number): string {
  const minutes = Math.floor(atS / 60);
  return `${minutes}:${(atS - 60 * minutes).toFixed(1).padStart(4, '0')}`;
}
