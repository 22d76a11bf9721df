import type { AimSample, Pose } from '../../calibration/aim-model.js';
import { type AimRow, sampleOf } from '../../calibration/aims.js';
import { type Finding, hasError } from '../../calibration/finding.js';
import { type FixtureFit, fitFixture, poseValues } from '../../calibration/fixture.js';
import { fixtureJson, fixturePicture, fixtureTable } from '../../calibration/fixture-report.js';
import type { Change } from '../../editing/propose.js';
import { trimmedChannel } from '../../fixtures/profile.js';
import type { FixturePlan, Show } from '../../show/model/model.js';
import { findNamed, nameMeant } from '../../show/problems/names.js';
import { enumerated } from '../../stage/enumerated.js';
import { type Degrees, toDegrees, toRadians } from '../../stage/units.js';
import { printFindings } from '../files/calibrate-options.js';
import { handOver, proposalFor, writeFor } from '../files/proposal.js';
import { type LoadedShow, loadShow } from '../files/show-file.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { misuseWithHelpOf } from '../terminal/misuse.js';
import { numberOption, textOption } from '../terminal/option-values.js';
import { refuse } from '../terminal/refuse.js';
import { complain, print, styled } from '../terminal/terminal.js';
import { day } from '../terminal/times.js';
import { gatherAims, waysFaults } from './gather-aims.js';

const misuse = misuseWithHelpOf('calibrate fixture');

export const CALIBRATE_FIXTURE_HELP = `usage: lampwright calibrate fixture SHOW [FIXTURE...] --samples FILE.csv [OPTIONS]
       lampwright calibrate fixture SHOW FIXTURE --ask [OPTIONS]
       lampwright calibrate fixture SHOW FIXTURE --live [--tracker ID] [OPTIONS]

Finds where moving heads hang and how they are turned, from aims at known points of the stage, and
proposes \`position\` and \`orientation\` as a diff. Five samples spread over the whole stage, at two heights,
are good; eight are better. Says how sure it is, which samples disagree, and where another would help.

  --samples FILE    x,y,z and the levels sent to the head: pan,tilt (degrees), pan_raw,tilt_raw, or
                    pan_coarse,pan_fine,tilt_coarse,tilt_fine; and fixture, where there are several
  --ask             type the samples: x y z pan tilt; an empty line ends
  --live            a tracker stands at the point, the desk aims: Enter takes the tracker's place (input of
                    the show) and the desk's levels (sACN or Art-Net, as the show sends the fixture)
  --tracker ID      the tracker at the point, where several are heard
  --input NAME      the input it is heard on, where the show has several
  --seconds S       how long both are measured, seconds (3)
  --universe N      the universe in which the desk has the fixture, if not the show's
  --address N       its first slot there, if not the show's
  --save FILE       write the samples that were typed or captured, for use with --samples
  --reading DEG     how exactly pan and tilt were set, standard deviation, degrees (0.2)
  --point M         how exactly the points are known and the beam was centred, metres (0.03)
  --keep-position   the position in the show is right: solve only the orientation (two samples are enough)
  --trim            also solve an offset of the tilt (\`trim\` of the fixture)
  --leave-out N,N   lines of the file to leave out
  --patch FILE      write the proposed change to a new file, for \`patch\` or \`git apply -p0\`
  --plot FILE.svg   the stage from above: samples, expected aim error, where another would help (one fixture)
  --json            { ok, fixtures: [{ name, ok, position, orientation, ..., findings }], patch }

examples:
  lampwright calibrate fixture config/salt-lantern.show.yaml --samples config/examples/salt-lantern.aims.csv
  lampwright calibrate fixture config/salt-lantern.show.yaml head-right \\
    --samples config/examples/salt-lantern.aims.csv --plot head-right.svg --patch heads.patch
  lampwright calibrate fixture my.show.yaml spot-1 --ask
  lampwright calibrate fixture my.show.yaml spot-1 --live --tracker 21 --save spot-1.csv

The lamp is lit and the head moves while you aim: nobody may look into it or work beside it. Measure from the
floor; only the venue's staff may climb to what hangs overhead.

exit codes: 0 found, 1 not all were found (it says why), 2 bad usage or file, 3 a fault while listening`;

interface FixtureCommand {
  readonly noise: { readonly reading: number; readonly pointM: number };
  readonly keepPosition: boolean;
  readonly trim: boolean;
}

/** The result for one fixture. */
interface Outcome {
  readonly fixture: FixturePlan;
  readonly now: Pose | undefined;
  readonly samples: readonly AimSample[];
  readonly fit: FixtureFit | undefined;
  readonly findings: readonly Finding[];
}

export async function calibrateFixture(args: Arguments): Promise<number> {
  const { values, positionals } = args;
  const [file, ...names] = positionals;
  if (file === undefined) return misuse('the path of a show file is missing.');
  const faults: string[] = [];
  const readingDeg = numberOption(values.reading, 'reading', 0.2, 0.001, 10, faults);
  const options: FixtureCommand = {
    noise: {
      reading: toRadians(readingDeg as Degrees),
      pointM: numberOption(values.point, 'point', 0.03, 0.001, 1, faults),
    },
    keepPosition: values['keep-position'] === true,
    trim: values.trim === true,
  };
  const leftOut = linesOf(textOption(values['leave-out']), faults);
  faults.push(...waysFaults(args, names));
  if (faults.length > 0) return misuse(...faults);

  const loaded = loadShow(file);
  if (!loaded.ok) return refuse(loaded.problems);
  const { show } = loaded;
  const chosen = fixturesOf(show, names, faults);
  if (faults.length > 0) return misuse(...faults);
  const rows = await gatherAims(args, show, chosen, (fixture, some) =>
    judge(show, fixture, some, options),
  );
  if (typeof rows === 'number') return rows;
  const used = rows.filter(row => !leftOut.includes(row.line));
  const missing = leftOut.filter(line => !rows.some(row => row.line === line));
  if (missing.length > 0) faults.push(`--leave-out: line ${missing.join(', ')} has no sample.`);

  const groups = groupsOf(show, chosen, used, faults);
  const sampled = groups.map(
    ([fixture, own]) => [fixture, samplesOf(fixture, own, faults)] as const,
  );
  if (values.plot !== undefined && groups.length > 1) {
    return misuse(
      `--plot draws one fixture, but there are samples of ${groups.length}: name one of ${enumerated(groups.map(([fixture]) => fixture.name))}.`,
    );
  }
  if (faults.length > 0) {
    const from = textOption(values.samples) ?? 'lampwright calibrate fixture';
    for (const fault of faults) complain(`${from}: ${fault}`);
    return EXIT.usage;
  }
  const outcomes = sampled.map(([fixture, samples]) => outcomeOf(show, fixture, samples, options));
  return conclude(args, show, loaded, file, outcomes, options);
}

/** How good the samples so far are, in one line. */
function judge(
  show: Show,
  fixture: FixturePlan,
  rows: readonly AimRow[],
  options: FixtureCommand,
): string {
  const faults: string[] = [];
  const samples = samplesOf(fixture, rows, faults);
  const [fault] = faults;
  if (fault !== undefined) return `${fault} Type "undo", then the right line.`;
  const { fit, findings } = outcomeOf(show, fixture, samples, options);
  const error = findings.find(one => one.level === 'error');
  if (error !== undefined) return `${samples.length}: ${error.what}`;
  if (fit === undefined) return String(samples.length);
  const [wish] = fit.wishes;
  const next =
    wish === undefined
      ? ''
      : `; the next best at about (${wish.x.toFixed(1)}, ${wish.y.toFixed(1)}, ${wish.z.toFixed(1)})`;
  return `${samples.length}: aim error about ${(100 * fit.typicalM).toFixed(0)} cm over the stage${next}`;
}

function outcomeOf(
  show: Show,
  fixture: FixturePlan,
  samples: readonly AimSample[],
  options: FixtureCommand,
): Outcome {
  const now =
    fixture.head === undefined
      ? undefined
      : {
          position: fixture.head.position,
          rotation: fixture.head.rotation,
          tiltTrim: fixture.tiltTrim as number,
        };
  const result = fitFixture(samples, { ...options, now, bounds: show.bounds });
  return result.ok
    ? { fixture, now, samples, fit: result.fit, findings: result.fit.findings }
    : { fixture, now, samples, fit: undefined, findings: result.findings };
}

function conclude(
  { values }: Arguments,
  show: Show,
  loaded: LoadedShow,
  file: string,
  outcomes: readonly Outcome[],
  options: FixtureCommand,
): number {
  const good = outcomes.filter(one => one.fit !== undefined && !hasError(one.findings));
  const changes = good.flatMap(one => changesOf(one, options));
  const proposed = good.length === 0 ? undefined : proposalFor(loaded, file, changes);
  const failed = good.length < outcomes.length || typeof proposed === 'string';
  const json = values.json === true;
  if (json) {
    const fixtures = outcomes.map(({ fixture, fit, findings }) => ({
      name: fixture.name,
      ok: fit !== undefined && !hasError(findings),
      ...(fit === undefined ? {} : fixtureJson(fit, options.trim)),
      findings,
    }));
    const patch = typeof proposed === 'object' ? proposed.patch : null;
    const why = typeof proposed === 'string' ? { notWritten: proposed } : {};
    print(JSON.stringify({ ok: !failed, fixtures, patch, ...why }, undefined, 2));
  } else {
    outcomes.forEach((outcome, i) => {
      if (i > 0) print('');
      printOutcome(show, outcome, options);
    });
  }
  const plot = textOption(values.plot);
  const [first] = outcomes;
  if (plot !== undefined && first?.fit !== undefined) {
    const { fixture, fit, samples } = first;
    const picture = fixturePicture(show.name, fixture.name, fit, samples, show.bounds);
    if (!writeFor(plot, picture, '--plot')) return EXIT.usage;
  }
  if (typeof proposed === 'string') complain(proposed);
  else if (proposed !== undefined) {
    if (!json) print('');
    if (!handOver(proposed, file, textOption(values.patch), json)) return EXIT.usage;
  }
  return failed ? EXIT.failed : EXIT.ok;
}

function printOutcome(
  show: Show,
  { fixture, now, samples, fit, findings }: Outcome,
  { trim }: FixtureCommand,
): void {
  const count = `${samples.length} ${samples.length === 1 ? 'sample' : 'samples'}`;
  print(styled('bold', `${show.name}: ${fixture.name}, ${count}`));
  if (fit !== undefined) print(['', ...fixtureTable(fit, now, trim)].join('\n'));
  printFindings(findings);
}

function changesOf({ fixture, fit }: Outcome, { keepPosition, trim }: FixtureCommand): Change[] {
  if (fit === undefined) return [];
  const { position, orientation, tiltTrim } = poseValues(fit.pose);
  // A bar of cells hangs as one: its body is what is turned, and the file has it under the name of the whole bar.
  const at = (key: string) => ['fixtures', fixture.inFile, key];
  return [
    ...(keepPosition ? [] : [{ path: at('position'), value: position, after: ['address'] }]),
    { path: at('orientation'), value: orientation, after: ['position'] },
    ...(trim ? [{ path: at('trim'), value: { tilt: tiltTrim }, after: ['orientation'] }] : []),
    // `preflight` asks when it was last measured here.
    { path: at('calibrated'), value: day(Date.now() / 1e3), after: ['trim', 'orientation'] },
  ];
}

function canAim({ panChannel, tiltChannel }: FixturePlan): boolean {
  return panChannel >= 0 && tiltChannel >= 0;
}

/** A fixture by name or label; of one that is divided into cells, the part that turns. */
export function headNamed(name: string, { fixtures }: Show): FixturePlan | undefined {
  const parts = fixtures.filter(({ inFile }) => inFile === name);
  return findNamed(name, fixtures) ?? parts.find(canAim) ?? parts[0];
}

/** The named fixtures, or all heads of the show. */
function fixturesOf(show: Show, names: readonly string[], faults: string[]): FixturePlan[] {
  if (names.length === 0) return show.fixtures.filter(canAim);
  return names.flatMap(name => {
    const fixture = headNamed(name, show);
    if (fixture === undefined) {
      faults.push(`the show has no fixture "${name}".${nameMeant(name, show.fixtures)}`);
      return [];
    }
    if (!canAim(fixture)) faults.push(`fixture "${name}" has no Pan and Tilt.`);
    return [fixture];
  });
}

/** The rows of each fixture; without a column `fixture`, all belong to the only one named. */
function groupsOf(
  show: Show,
  chosen: readonly FixturePlan[],
  rows: readonly AimRow[],
  faults: string[],
): (readonly [FixturePlan, readonly AimRow[]])[] {
  const named = (row: AimRow) => headNamed(row.fixture ?? '', show)?.name;
  for (const row of rows) {
    if (row.fixture === undefined && chosen.length !== 1) {
      faults.push(
        `line ${row.line}: the fixture is missing; name one on the command line, or give the file a column "fixture".`,
      );
      return [];
    }
    if (row.fixture !== undefined && named(row) === undefined) {
      faults.push(
        `line ${row.line}: the show has no fixture "${row.fixture}".${nameMeant(row.fixture, show.fixtures)}`,
      );
    }
  }
  const all = chosen.map(
    fixture =>
      [
        fixture,
        rows.filter(row => row.fixture === undefined || named(row) === fixture.name),
      ] as const,
  );
  const some = all.filter(([, own]) => own.length > 0);
  // Report a fixture without samples if it was named; if none was, only those with samples are meant.
  return chosen.length === 1 ? all : some;
}

function samplesOf(fixture: FixturePlan, rows: readonly AimRow[], faults: string[]): AimSample[] {
  const pan = fixture.profile.channels[fixture.panChannel];
  const tilt = fixture.profile.channels[fixture.tiltChannel];
  if (pan === undefined || tilt === undefined) return [];
  const untrimmed = trimmedChannel(tilt, -toDegrees(fixture.tiltTrim));
  return rows.flatMap(row => {
    const sample = sampleOf(row, pan, untrimmed);
    if (typeof sample !== 'string') return [sample];
    faults.push(sample);
    return [];
  });
}

function linesOf(text: string | undefined, faults: string[]): number[] {
  if (text === undefined) return [];
  const lines = text.split(',').map(Number);
  if (lines.every(line => Number.isInteger(line) && line > 0)) return lines;
  faults.push(`--leave-out takes line numbers such as 4,7, not "${text}".`);
  return [];
}
