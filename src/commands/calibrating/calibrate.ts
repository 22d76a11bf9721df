import type { Arguments } from '../terminal/dispatch.js';
import { EXIT } from '../terminal/exit-codes.js';
import { complain } from '../terminal/terminal.js';
import { CALIBRATE_FIXTURE_HELP, calibrateFixture } from './calibrate-fixture.js';
import { CALIBRATE_STAGE_HELP, calibrateStage } from './calibrate-stage.js';

export const CALIBRATE_HELP = `usage: lampwright calibrate stage SHOW ...
       lampwright calibrate fixture SHOW [FIXTURE...] ...

Works out where things are from measurements, and proposes a change to the show file as a diff. The show file itself
is never written, and no light is sent.

  stage      fits the tracking frame to the stage frame, from markers on the floor
  fixture    finds where moving heads hang, from aims at known points

  lampwright calibrate stage --help      options, with examples
  lampwright calibrate fixture --help

exit codes: 0 found, 1 what was measured is not good enough (it says why), 2 bad usage or file,
3 a fault while listening`;

const text = { type: 'string' } as const;
const flag = { type: 'boolean' } as const;
const COMMON = { patch: text, plot: text, json: flag };
const STAGE = {
  points: text,
  markers: text,
  recording: text,
  seconds: text,
  input: text,
  tracker: text,
  tolerance: text,
  level: flag,
  scale: flag,
  save: text,
};
const FIXTURE = {
  samples: text,
  ask: flag,
  live: flag,
  tracker: text,
  input: text,
  seconds: text,
  universe: text,
  address: text,
  save: text,
  reading: text,
  point: text,
  'keep-position': flag,
  trim: flag,
  'leave-out': text,
};
export const CALIBRATE_OPTIONS = { ...COMMON, ...STAGE, ...FIXTURE };

const KINDS = {
  stage: { run: calibrateStage, help: CALIBRATE_STAGE_HELP, options: { ...COMMON, ...STAGE } },
  fixture: {
    run: calibrateFixture,
    help: CALIBRATE_FIXTURE_HELP,
    options: { ...COMMON, ...FIXTURE },
  },
} as const;

function kindOf(word: string | undefined) {
  return word === 'stage' || word === 'fixture' ? KINDS[word] : undefined;
}

/** `calibrate stage --help` prints the help for the stage. */
export function calibrateHelp({ positionals }: Arguments): string {
  return kindOf(positionals[0])?.help ?? CALIBRATE_HELP;
}

export async function calibrate(args: Arguments): Promise<number> {
  const [what, ...rest] = args.positionals;
  const kind = kindOf(what);
  if (kind === undefined) {
    complain(`lampwright calibrate: say "stage" or "fixture", not "${what}".`);
    complain('lampwright calibrate --help shows its usage.');
    return EXIT.usage;
  }
  const foreign = Object.keys(args.values).find(
    name => name !== 'force' && !Object.hasOwn(kind.options, name),
  );
  if (foreign !== undefined) {
    complain(`lampwright calibrate ${what} has no option --${foreign}.`);
    complain(`lampwright calibrate ${what} --help shows its usage.`);
    return EXIT.usage;
  }
  return kind.run({ ...args, positionals: rest });
}
