import { EXIT } from './exit-codes.js';
import { complain } from './terminal.js';

/** Prints what is wrong with a call. @returns the exit code for it */
type Misuse = (...faults: readonly string[]) => typeof EXIT.usage;

export function misuseOf(command: string): Misuse {
  return (...faults) => {
    for (const fault of faults) complain(`lampwright ${command}: ${fault}`);
    return EXIT.usage;
  };
}

/** The same, and points to the help. */
export function misuseWithHelpOf(command: string): Misuse {
  return (...faults) => {
    misuseOf(command)(...faults);
    complain(`lampwright ${command} --help shows its usage.`);
    return EXIT.usage;
  };
}
