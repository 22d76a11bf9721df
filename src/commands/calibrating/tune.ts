import { parseDocument } from 'yaml';
import { tickHzOf } from '../../daemon/beats/show-lighting.js';
import { type Change, proposeChanges } from '../../editing/propose.js';
import { type Tuning, tune as tuneShow } from '../../rehearsal/tuning/tune.js';
import type { Feed } from '../../rehearsal/tuning/tune-feed.js';
import type { Show } from '../../show/model/model.js';
import { parseShow } from '../../show/parse.js';
import { inputOf } from '../files/calibrate-options.js';
import { handOver, proposalFor } from '../files/proposal.js';
import { type LoadedShow, loadShow } from '../files/show-file.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseOf } from '../terminal/misuse.js';
import { textOption } from '../terminal/option-values.js';
import { refuse } from '../terminal/refuse.js';
import { complain, print } from '../terminal/terminal.js';
import { type TuneFeed, tuneFeed } from './tune-feeds.js';
import { tuningJson, tuningText } from './tune-text.js';

const misuse = misuseOf('tune');

export const TUNE_HELP = `usage: lampwright tune SHOW RECORDING|FILE.csv... [--clocks-agree] [--patch FILE] [--json]
                      [--input NAME] [--tracker ID]

Looks for better settings of the show in recordings from this stage; they need no known truth. The settings are
noise, reacquire and frozen times, the latency of the sensor, and the offset of a second tracker.
It says what each would have changed, and proposes it as a diff. The show file is never written.

The reference is a smoother that has seen all reports, later ones too. A setting is proposed only if it is
closer to that with confidence, and takes nobody's light away more often.

  RECORDING         a recording of \`run --record\` or \`rehearse --record\`: its folder, or a part
  FILE.csv          t_s,tracker,x,y,z: reports as the input's routes read them; or a table for assess
                    with measured places (t_s,mx,my,mz,tx,ty,tz), of one tracker, on the stage
  --clocks-agree    the tracking system's stamps and this machine's clock follow one time server:
                    then their difference is the age of a report
  --input NAME      the input that a table belongs to, if the show has several
  --tracker ID      the tracker that a table for assess belongs to (the first of the show)
  --patch FILE      write the proposed change to a new file, for \`patch\` or \`git apply -p0\`
  --json            { ok, tooShort, lengthS, isCut, leftOut, walkedS, trackers, twins, figures,
                    outcomes, changes, patch }

  scatter           standard deviation of reports along one axis; the noise is never proposed below it
  off               share of the reports that the smoother rejects
  silence           the longest time without a report
  repeats, frozen   the longest time with one repeated position, before it went on from there; and from elsewhere
  off by            RMS distance of the aim from the performer at the moment of light
  still, rough      RMS movement of the aim from tick to tick while they stand; its RMS acceleration, m/s²
  gated, jumps      reports rejected; how often a track restarted elsewhere
  losses, false     how often somebody lost their light; and how often without cause
  missed            for how long the light followed somebody from more than a metre away

examples:
  lampwright tune my.show.yaml recordings/2026-11-25T19-30-00Z-my-show
  lampwright tune my.show.yaml rehearsal.csv --patch tuned.patch
  lampwright tune my.show.yaml recordings --clocks-agree --json | jq .outcomes

exit codes: 0 the recordings were judged, 1 they are too short to choose from, 2 bad usage or a file that
can't be read`;

export async function tune(args: Arguments): Promise<number> {
  const { values, positionals } = args;
  const [file = '', ...paths] = positionals;
  const loaded = loadShow(file);
  if (!loaded.ok) return refuse(loaded.problems);
  const { show } = loaded;
  const feeds = readFeeds(args, show, paths);
  if (typeof feeds === 'number') return feeds;
  const progress = progressLine();
  const tuning = tuneShow({
    show,
    feed: inTurn(feeds),
    changed: changes => changedShow(loaded, file, changes),
    clocksAgree: values['clocks-agree'] === true,
    isTable: feeds.every(({ isTable }) => isTable),
    progress: progress.say,
  });
  progress.end();
  return conclude(args, file, loaded, show, tuning);
}

function readFeeds({ values }: Arguments, show: Show, paths: readonly string[]) {
  const input = inputOf(show, textOption(values.input));
  if (typeof input === 'string') return misuse(input);
  const tracker = textOption(values.tracker) ?? show.performers[0]?.trackers[0]?.id ?? '';
  const reading = { input, index: show.inputs.indexOf(input), tracker, tickHz: tickHzOf(show) };
  const read = paths.map(path => tuneFeed(path, show, reading));
  const faults = read.filter(one => typeof one === 'string');
  if (faults.length > 0) return misuse(...faults);
  const feeds = read.filter((one): one is TuneFeed => typeof one !== 'string');
  for (const line of feeds.flatMap(({ cut }) => cut)) complain(line);
  return feeds;
}

/** Plays one recording after the other, each with a new engine. */
function inTurn(feeds: readonly TuneFeed[]): Feed {
  return taker => {
    for (const { feed } of feeds) feed(taker);
  };
}

function changedShow(
  { text, parts }: LoadedShow,
  file: string,
  changes: readonly Change[],
): Show | string {
  const proposal = proposeChanges(text, file, asWritten(text, changes), parts);
  if (!proposal.ok) return proposal.why;
  const parsed = parseShow(proposal.text, file, parts);
  return parsed.ok ? parsed.show : (parsed.problems[0]?.message ?? 'the show would not be right');
}

/** A file without `tracking` gets the whole block. */
function asWritten(text: string, changes: readonly Change[]): readonly Change[] {
  const has = parseDocument(text, { version: '1.2', logLevel: 'error' }).has('tracking');
  const own = changes.filter(({ path }) => path[0] === 'tracking');
  if (has || own.length === 0) return changes;
  const value = Object.fromEntries(own.map(change => [change.path[1] ?? '', Number(change.value)]));
  const block: Change = { path: ['tracking'], value, after: ['inputs'] };
  return [...changes.filter(change => !own.includes(change)), block];
}

function conclude(
  { values }: Arguments,
  file: string,
  loaded: LoadedShow,
  show: Show,
  tuning: Tuning,
): number {
  const isJson = values.json === true;
  const { changes } = tuning;
  const proposal =
    changes.length === 0 ? undefined : proposalFor(loaded, file, asWritten(loaded.text, changes));
  // Each change has already been made to this show, to judge it.
  if (typeof proposal === 'string') throw new Error(proposal);
  print(isJson ? tuningJson(tuning, proposal?.patch) : tuningText(tuning, show));
  if (proposal !== undefined) {
    if (!isJson) print('');
    if (!handOver(proposal, file, textOption(values.patch), isJson)) return EXIT.usage;
  } else if (!isJson) print('\nNothing to change.');
  return tuning.tooShort === undefined ? EXIT.ok : EXIT.failed;
}

/** Shows on a terminal what is being computed: a recording of an hour takes minutes. */
function progressLine() {
  const { stderr } = process;
  const isShown = stderr.isTTY === true;
  return {
    say: (what: string) => {
      if (isShown) stderr.write(`\r\x1b[K${what} …`);
    },
    end: () => {
      if (isShown) stderr.write('\r\x1b[K');
    },
  };
}
