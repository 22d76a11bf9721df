import { isService } from '../service/service.js';

/**
 * Has the kernel end a child with the process that started it (PR_SET_PDEATHSIG, prctl(2)): one that is stopped or in
 * an endless loop doesn't see its standard input close, and would keep ports and memory. Where a service manager
 * watches it is the manager who ends what is left, and the unit's filter of system calls stops setpriv.
 */
export const TETHER = ['setpriv', '--pdeathsig', 'KILL', '--'] as const;
/** It isn't installed, or must not be run. */
const NO_TETHER: ReadonlySet<string> = new Set(['ENOENT', 'EACCES', 'EPERM']);

/** Whether children are to be tethered, as far as is known before the first. */
export function mayTether(): boolean {
  return !isService(process.env);
}

/** Whether it was setpriv that could not be started: no descriptor or no process left says nothing of it. */
export function isNoTether(error: Error): boolean {
  const { code, syscall } = error as NodeJS.ErrnoException;
  return syscall === `spawn ${TETHER[0]}` && NO_TETHER.has(code ?? '');
}

/**
 * Whether a line on its standard error is setpriv's complaint; that it could not start Node is Node's fault, or one of
 * the machine that passes.
 */
export function isTethersWord(line: string): boolean {
  return line.startsWith(`${TETHER[0]}:`) && !line.includes('failed to execute');
}
