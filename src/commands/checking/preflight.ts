import { join } from 'node:path';
import { markersFault, parseMarkers } from '../../calibration/markers.js';
import { makeFolderNow } from '../../daemon/files/make-folder.js';
import { watchMachine } from '../../daemon/listening/watch-machine.js';
import { monotonicS, unixOffsetS } from '../../daemon/machine/clock.js';
import type { Datagram } from '../../engine/values/inputs.js';
import { surveyAll } from '../../planning/plan.js';
import type { Check } from '../../readiness/check.js';
import { preflight as walkThrough } from '../../readiness/preflight.js';
import { preflightPage } from '../../readiness/preflight-page.js';
import { type Stretch, Walk } from '../../readiness/walk.js';
import type { Show } from '../../show/model/model.js';
import { outputNames, ownOutputs } from '../../show/model/own-outputs.js';
import { messageOf } from '../../stage/message-of.js';
import { findRecording, readParts } from '../files/recording-files.js';
import { loadShow } from '../files/show-file.js';
import { checkTable } from '../terminal/check-table.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { refuse } from '../terminal/refuse.js';
import { complain, print, styled } from '../terminal/terminal.js';
import { readParsed, writeText } from '../terminal/text-files.js';
import { dayAndClock } from '../terminal/times.js';
import { WaitingLine } from '../terminal/waiting-line.js';
import { hearShow, listeningTime, ourselves, plainFacts } from './networks.js';
import { planOptions } from './plan.js';

const misuse = misuseOf('preflight');

export const PREFLIGHT_HELP = `usage: lampwright preflight SHOW [--seconds N] [--markers FILE.csv] [--recording REC] [--report FOLDER]
                            [--outputs NAMES] [--simulate] [--json]

The checklist before the doors open: pass, warn, fail, and what to do. Looks at the show, listens
to both networks and to every tracker, checks the stage frame on markers, how well each performer is
tracked in the zones that they drive, calibrations, hazards and this machine; and tests the watchdog with
simulated losses. No light: it sends nothing but ArtPoll, and that only where the outputs of the show do.

  --seconds N       how long it listens, seconds (60); have the performers walk their zones meanwhile
  --markers FILE    floor markers with trackers on them, as for \`calibrate stage\`: checks the frame
  --recording REC   a recording of this show: how well performers were tracked in it
  --report FOLDER   writes a dated page for the stage manager, one file, to read, print and sign
  --outputs NAMES   looks only at these outputs, as for \`run --outputs\`
  --simulate        simulates the performers, walking from zone to zone, on the first input: to try it without a tracking system
  --json            { ok, show, checks, facts }

Stop the show first: two programs can't have its ports at once.

examples:
  lampwright preflight my.show.yaml --report reports
  lampwright preflight config/salt-lantern.show.yaml --simulate --seconds 60 --report /tmp

exit codes: 0 nothing failed, 1 a check failed or the show has errors, 2 bad usage or no such file`;

/** A minute of 200 trackers at 100 Hz, with a datagram for each report. */
const MOST_DATAGRAMS = 1_200_000;
const STEP_M = 0.25;

export async function preflight(args: Arguments): Promise<number> {
  const faults: string[] = [];
  const seconds = listeningTime(args, faults);
  const markersFile = args.values.markers;
  const markers =
    typeof markersFile === 'string' ? readParsed(markersFile, parseMarkers, faults) : undefined;
  const recorded = recordingOf(args.values.recording, faults);
  if (faults.length > 0) return misuse(...faults);
  const file = args.positionals[0] ?? '';
  const loaded = loadShow(file);
  if (!loaded.ok) {
    const code = refuse(loaded.problems);
    complain('Correct the show first: nothing else was checked.');
    return code;
  }
  const own = ownOutputs(loaded.show, outputNames(args.values.outputs));
  if (!own.ok) return misuse(...own.problems);
  const { show } = own;
  const farOff = markers === undefined ? undefined : markersFault(markers, show.bounds);
  if (farOff !== undefined) return misuse(`${markersFile}: ${farOff}`);
  const report = args.values.report;
  const folder = typeof report === 'string' ? report : '.';
  if (typeof report === 'string') {
    try {
      makeFolderNow(report);
    } catch (error) {
      return misuse(`can't make ${report}: ${messageOf(error)}`);
    }
  }
  const asJson = args.values.json === true;
  if (!asJson) complain(`listening for ${seconds} s; let the performers walk their zones ...`);
  const machine = watchMachine(folder);
  const walk = new Walk(show, unixOffsetS());
  let came = false;
  const progress = asJson ? undefined : new WaitingLine(show, walk, seconds);
  const facts = await hearShow(show, seconds, args.values.simulate === true, datagram => {
    came = true;
    walk.take(datagram);
  });
  progress?.end();
  walk.runTo(monotonicS());
  if (!asJson) complain('simulating losses, cue by cue ...');
  const checks = walkThrough(show, {
    file,
    networks: { ...facts, offStage: walk.offStage },
    machine: await machine(),
    our: ourselves(show, facts),
    live: came ? walk.walked() : undefined,
    recorded,
    markers,
    surveys: show.anchors.length === 0 ? undefined : surveyAll(planOptions(show, STEP_M)),
  });
  const ok = checks.every(one => one.state !== 'fail');
  if (asJson) {
    print(JSON.stringify({ ok, show: show.name, checks, facts: plainFacts(facts) }, undefined, 2));
  } else {
    print(`${styled('bold', show.name)}: before the doors, ${dayAndClock(Date.now() / 1e3)}`);
    for (const line of checkTable(checks)) print(line);
  }
  if (typeof report === 'string' && !writePage(report, show, checks)) return EXIT.usage;
  return ok ? EXIT.ok : EXIT.failed;
}

function writePage(folder: string, show: Show, checks: readonly Check[]): boolean {
  const day = dayAndClock(Date.now() / 1e3);
  const slug =
    show.name
      .toLowerCase()
      .replace(/[^a-z0-9]+/g, '-')
      .replace(/^-|-$/g, '') || 'show';
  const stamp = day.replace(' ', '-').replaceAll(':', '');
  const file = join(folder, `preflight-${slug}-${stamp}.html`);
  const why = writeText(file, preflightPage(show.name, day, checks));
  if (why !== undefined) {
    misuse(`can't write ${file}: ${why}.`);
    return false;
  }
  complain(`the page for the stage manager: ${file}`);
  return true;
}

/** The datagrams of the last run in a recording. */
function recordingOf(path: string | boolean | undefined, faults: string[]): Stretch | undefined {
  if (typeof path !== 'string') return undefined;
  const found = findRecording(path);
  if (!found.ok) {
    faults.push(found.fault);
    return undefined;
  }
  let datagrams: Datagram[] = [];
  let offsetS = 0;
  const { fault } = readParts(found.files.engine, item => {
    if (item.type !== 'absorb' && item.type !== 'tick') return undefined;
    offsetS = item.unixOffsetS;
    for (const datagram of item.datagrams) {
      // After another start of the machine the clock is another one; a walk is one stretch of time.
      if (datagram.arrivalS < (datagrams.at(-1)?.arrivalS ?? 0) - 1) datagrams = [];
      datagrams.push(datagram);
    }
    return datagrams.length > MOST_DATAGRAMS
      ? `it holds more than ${MOST_DATAGRAMS} datagrams; give one part of it`
      : undefined;
  });
  if (fault !== undefined) faults.push(fault);
  else if (datagrams.length === 0) faults.push(`${path} holds no input.`);
  return { datagrams, unixOffsetS: offsetS };
}
