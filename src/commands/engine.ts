import { runEngine } from '../daemon/engine/engine-process.js';

/** The engine process: not a command for people, the supervisor starts it. */
export function engine(): Promise<number> {
  return runEngine();
}
