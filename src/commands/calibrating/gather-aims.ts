import { type AimRow, aimsText, parseAims } from '../../calibration/aims.js';
import type { DeskOptions } from '../../daemon/listening/desk-levels.js';
import { trimmedChannel } from '../../fixtures/profile.js';
import { type FixturePlan, type Show, SLOTS_PER_UNIVERSE } from '../../show/model/model.js';
import { farOffFault } from '../../stage/unit-guess.js';
import { toDegrees } from '../../stage/units.js';
import { inputOf, readFile } from '../files/calibrate-options.js';
import { writeFor } from '../files/proposal.js';
import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { numberOption, textOption } from '../terminal/option-values.js';
import { complain } from '../terminal/terminal.js';
import { askForAims } from './ask-aims.js';
import { captureAims } from './capture-aims.js';

const WAYS = ['samples', 'ask', 'live'] as const;
/** Options that only --live takes. */
const LIVE_ONLY = ['tracker', 'input', 'seconds', 'universe', 'address'] as const;

/** Faults in the choice of where samples come from. */
export function waysFaults({ values }: Arguments, names: readonly string[]): string[] {
  const ways = WAYS.filter(way => values[way] !== undefined);
  const faults = ways.length === 1 ? [] : ['give one of --samples, --ask and --live.'];
  for (const way of ['ask', 'live'] as const) {
    if (values[way] === true && names.length !== 1) {
      faults.push(`--${way} is for one fixture; name it.`);
    }
  }
  const stray = LIVE_ONLY.filter(name => values[name] !== undefined);
  if (values.live !== true && stray.length > 0) faults.push(`--${stray[0]} goes with --live.`);
  if (values.save !== undefined && values.samples !== undefined) {
    faults.push('--save goes with --ask and --live.');
  }
  return faults;
}

/**
 * The samples from a file, from typed answers or captured live, as the options say.
 * @param judge says in one line how good the samples so far are
 * @returns the samples, or the exit code
 */
export async function gatherAims(
  args: Arguments,
  show: Show,
  chosen: readonly FixturePlan[],
  judge: (fixture: FixturePlan, rows: readonly AimRow[]) => string,
): Promise<readonly AimRow[] | number> {
  const samples = textOption(args.values.samples);
  if (samples !== undefined) {
    const read = readFile(samples, parseAims);
    if (read === undefined) return EXIT.usage;
    const points = read.map(({ line, point }) => ({ what: `line ${line}: the point`, at: point }));
    const fault = farOffFault(points, show.bounds);
    if (fault === undefined) return read;
    complain(`lampwright calibrate fixture: ${samples}: ${fault}`);
    return EXIT.usage;
  }
  const [fixture] = chosen;
  if (fixture === undefined) return [];
  const rows =
    args.values.live === true
      ? await capture(args, show, fixture, judge)
      : await askForAims(fixture.name, some => judge(fixture, some));
  const save = textOption(args.values.save);
  if (typeof rows !== 'number' && save !== undefined) {
    if (!writeFor(save, aimsText(fixture.name, rows), '--save')) return EXIT.usage;
  }
  return rows;
}

async function capture(
  { values }: Arguments,
  show: Show,
  fixture: FixturePlan,
  judge: (fixture: FixturePlan, rows: readonly AimRow[]) => string,
): Promise<readonly AimRow[] | number> {
  const faults: string[] = [];
  const input = inputOf(show, textOption(values.input));
  if (typeof input === 'string') faults.push(input);
  const pan = fixture.profile.channels[fixture.panChannel];
  const tilt = fixture.profile.channels[fixture.tiltChannel];
  const ownAddress = (fixture.firstSlot % SLOTS_PER_UNIVERSE) + 1;
  const address = wholeOption(values.address, 'address', ownAddress, 1, 512, faults);
  const seconds = numberOption(values.seconds, 'seconds', 3, 1, 60, faults);
  const desk = deskOf(show, fixture);
  const universe = wholeOption(values.universe, 'universe', desk.universe, 0, 63_999, faults);
  if (typeof input === 'string' || pan === undefined || tilt === undefined || faults.length > 0) {
    for (const fault of faults) complain(`lampwright calibrate fixture: ${fault}`);
    return EXIT.usage;
  }
  const captured = await captureAims(show, {
    fixture: fixture.name,
    pan,
    tilt: trimmedChannel(tilt, -toDegrees(fixture.tiltTrim)),
    address,
    desk: { ...desk, universe },
    input,
    tracker: textOption(values.tracker),
    seconds,
    judge: rows => judge(fixture, rows),
  });
  if (captured.ok) return captured.rows;
  complain(`lampwright calibrate fixture: ${captured.why}`);
  return captured.code;
}

/** The desk is expected where the show itself sends the fixture: on the first output with its universe. */
function deskOf(show: Show, fixture: FixturePlan): DeskOptions {
  for (const output of show.outputs) {
    const found = output.universes.find(one => one.index === fixture.universe);
    if (found === undefined) continue;
    return { protocol: output.protocol, universe: found.onWire, interface: output.interface };
  }
  // The check of the show has refused a fixture that no output sends.
  throw new Error(`no output sends fixture ${fixture.name}`);
}

function wholeOption(
  value: string | boolean | undefined,
  name: string,
  fallback: number,
  least: number,
  most: number,
  faults: string[],
): number {
  const number = numberOption(value, name, fallback, least, most, faults);
  if (!Number.isInteger(number)) faults.push(`--${name} is a whole number, not "${value}".`);
  return number;
}
