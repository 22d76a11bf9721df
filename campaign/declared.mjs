// Within what time the light has to be safe, and how to wait for what the log says.
import { until } from './rig.mjs';
import { TIMES, wayToSafeS } from './show.mjs';

/** A beat of the output when frames have stopped, the one in which it is sent, and the capture's own time. */
const SLACK_S = 0.15;
export const wayS = wayToSafeS() + SLACK_S;
export const engineLateS = TIMES.engineAfter + wayS;
export const lostS = TIMES.after + wayS;
/** The service manager starts it again after a tenth of a second; then it reads the show and opens its sockets. */
export const restartS = 2 + wayS;

export const engineSpeaksOf = (rig, kind, count = 1) =>
  until(`the log says ${kind}`, () => rig.daemon.told(kind).length >= count, 15);

/** The network is back: what is shown from here on is news. */
export async function heardAgain(rig) {
  const before = rig.capture.packets.length;
  await until('packets come again', () => rig.capture.packets.length > before + 8, 10);
}
