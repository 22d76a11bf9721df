import { findInterface, interfacesThere, isDown } from '../../daemon/lighting/interfaces.js';
import type { Show } from '../../show/model/model.js';
import { formatFindings, placedIn, saidIn } from '../../show/parse.js';
import type { Problem } from '../../show/problems/problem.js';
import {
  type MachineAddresses,
  missingAddresses,
  warningsOf,
} from '../../show/warnings/warnings.js';

/** Warnings about a show without errors, also about this machine's interfaces, each at its place. */
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

/** Problems where the show names an interface or address that this machine doesn't have. */
export function missingPlaces(
  show: Show,
  text: string,
  file: string,
  machine = thisMachine(),
): Problem[] {
  const findings = missingAddresses(show, machine);
  return findings.length === 0 ? [] : placedIn(text, file, findings);
}
