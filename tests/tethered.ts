import { spawnSync, spawn as untethered } from 'node:child_process';
import { TETHER } from '../src/daemon/engine/tether.js';

const [SETPRIV, ...OPTIONS] = TETHER;
const CAN_TETHER = spawnSync(SETPRIV, [...OPTIONS, 'true']).status === 0;

/**
 * Node's `spawn` for tests: the kernel ends the child with the process that runs the test. A run that is killed (a time
 * limit, SIGKILL) does no cleaning up, and would leave daemons that hold ports. Signals and the pid are those of the
 * child, as setpriv becomes it. Where setpriv of util-linux is missing it is plain `spawn`.
 */
export const spawn = ((command: string, args: readonly string[], options: object = {}) =>
  CAN_TETHER
    ? untethered(SETPRIV, [...OPTIONS, command, ...args], options)
    : untethered(command, args, options)) as typeof untethered;
