import type { Observation } from '../../src/safety/watchdog.js';

/** A performer with whom nothing is wrong. */
export const WELL: Observation = {
  seen: true,
  offStage: false,
  stopped: false,
  deskLost: false,
  feedSilent: false,
  silentForS: 0,
  clockGone: false,
  jumped: false,
  fresh: 1,
  outsideM: 0,
  confidence: 1,
  settled: true,
};
