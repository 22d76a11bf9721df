/** The exit codes of all commands, for scripts. */
export const EXIT = {
  ok: 0,
  /** The check failed: the show has errors. */
  failed: 1,
  /** Bad usage: an unknown option, a file that is not there. */
  usage: 2,
  /** A fault while running: another daemon sends these universes, or a port is taken. */
  fault: 3,
} as const;
