/** What a script can tell from the exit code of a command. */
export const EXIT = {
  ok: 0,
  /** The check failed: the show has errors. */
  failed: 1,
  /** Bad usage: an unknown option, a file that is not there. */
  usage: 2,
  /** A fault while running: another daemon sends these universes, a command can't have its port. */
  fault: 3,
} as const;
