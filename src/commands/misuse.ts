import { EXIT } from './exit-codes.js';
import { complain } from './terminal.js';

/** Says what a command was asked wrongly. */
type Misuse = (...faults: readonly string[]) => typeof EXIT.usage;

export function misuseOf(command: string): Misuse {
  return (...faults) => {
    for (const fault of faults) complain(`lampwright ${command}: ${fault}`);
    return EXIT.usage;
  };
}

/** The same, and where to read what would be right. */
export function misuseWithHelpOf(command: string): Misuse {
  return (...faults) => {
    misuseOf(command)(...faults);
    complain(`lampwright ${command} --help shows its usage.`);
    return EXIT.usage;
  };
}
