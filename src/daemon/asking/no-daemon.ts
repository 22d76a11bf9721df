/** Why nobody answers in a folder, and what to do, by the error of the connection. */
export function noDaemonText(folder: string, error: NodeJS.ErrnoException): string {
  const none = `No daemon answers in ${folder}`;
  switch (error.code) {
    case 'ENOENT':
      return `${none}: there is no control socket. Name the folder that it was started with (run --state-dir), or start one.`;
    case 'ENOTDIR':
      return `${none}: it is not a folder. Name the one that the daemon was started with (run --state-dir).`;
    case 'ECONNREFUSED':
      return `${none}: the one that was started there has ended; or, if it still runs, the folder was moved: put it back, and ask again in a few seconds.`;
    case 'EACCES':
    case 'EPERM':
      return `You may not ask the daemon in ${folder}: ask as the user that it runs as, or with sudo.`;
    default:
      return `${none}: ${error.message}.`;
  }
}
