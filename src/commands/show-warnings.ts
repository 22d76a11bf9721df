import { findInterface, interfacesThere } from '../daemon/lighting/interfaces.js';
import type { Show } from '../show/model.js';
import { placedIn, saidIn } from '../show/parse.js';
import type { Problem } from '../show/problem.js';
import { warningsOf } from '../show/warnings.js';

/** What is to be asked about a show that is right, on this machine, each at its place. */
export function showWarnings(show: Show, text: string, file: string): Problem[] {
  const says = saidIn(text);
  const machine = {
    interfaceOf: (wanted: string) => findInterface(wanted)?.name,
    broadcastOf: (wanted: string) => findInterface(wanted)?.broadcast,
    there: interfacesThere(),
  };
  const saysSafe = (fixture: string) => says(['fixtures', fixture, 'safe', 'Dimmer']);
  return placedIn(text, file, warningsOf(show, saysSafe, machine));
}
