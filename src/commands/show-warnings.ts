import { findInterface, interfacesThere, isDown } from '../daemon/lighting/interfaces.js';
import type { Show } from '../show/model/model.js';
import { formatFindings, placedIn, saidIn } from '../show/parse.js';
import type { Problem } from '../show/problems/problem.js';
import { type MachineAddresses, missingAddresses, warningsOf } from '../show/warnings/warnings.js';

/** What is to be asked about a show that is right, on this machine, each at its place. */
export function showWarnings(show: Show, text: string, file: string): Problem[] {
  return placedIn(text, file, [
    ...formatFindings(text),
    ...warningsOf(show, saidIn(text), thisMachine()),
  ]);
}

function thisMachine(): MachineAddresses {
  return {
    interfaceOf: wanted => findInterface(wanted)?.name,
    broadcastOf: wanted => findInterface(wanted)?.broadcast,
    isDown,
    there: interfacesThere(),
  };
}

/** Where the show names an interface or address that this machine does not have. */
export function missingPlaces(
  show: Show,
  text: string,
  file: string,
  machine = thisMachine(),
): Problem[] {
  const findings = missingAddresses(show, machine);
  return findings.length === 0 ? [] : placedIn(text, file, findings);
}
