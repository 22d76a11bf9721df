import { CALIBRATE_STAGE_HELP, calibrateStage } from './calibrate-stage.js';
import type { Arguments } from './cli.js';
import { EXIT } from './exit-codes.js';
import { complain } from './terminal.js';

export const CALIBRATE_HELP = `usage: lampwright calibrate stage SHOW ...

Measures where things are, and proposes a change of the show file as a diff. The show file itself is
never written, and no light is sent.

  stage    fits the tracking frame to the stage frame, from markers on the floor

  lampwright calibrate stage --help    what it takes, with examples

exit codes: 0 a frame was found, 1 the markers are not good enough (it says why), 2 bad usage or file,
3 a fault while listening`;

/** `calibrate stage --help` is about the stage. */
export function calibrateHelp({ positionals }: Arguments): string {
  return positionals[0] === 'stage' ? CALIBRATE_STAGE_HELP : CALIBRATE_HELP;
}

export async function calibrate(args: Arguments): Promise<number> {
  const [what, ...rest] = args.positionals;
  if (what === 'stage') return calibrateStage({ ...args, positionals: rest });
  complain(`lampwright calibrate: there is no "${what}" to calibrate; it is "stage".`);
  complain('lampwright calibrate --help says what it takes.');
  return EXIT.usage;
}
