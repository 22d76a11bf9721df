import { isAbsolute, join } from 'node:path';

/**
 * Where Node may keep what it has compiled: the folder that systemd gives the service (systemd.exec(5),
 * CacheDirectory=), or the user's own by the XDG Base Directory Specification. Never one that others can write to:
 * the code in it is run.
 * @returns undefined if there is none
 */
export function compiledFolder(env: NodeJS.ProcessEnv): string | undefined {
  const given = env.CACHE_DIRECTORY?.split(':')[0];
  if (given !== undefined && isAbsolute(given)) return given;
  const { XDG_CACHE_HOME: cache, HOME: home } = env;
  if (cache !== undefined && isAbsolute(cache)) return join(cache, 'lampwright');
  return home !== undefined && isAbsolute(home) ? join(home, '.cache', 'lampwright') : undefined;
}
