import { readdirSync, readFileSync, readlinkSync } from 'node:fs';

/** A process of this machine that has something open, as far as this user may see. */
export interface SocketOwner {
  readonly pid: number;
  /** The name of its program. */
  readonly program: string;
}

// Below /proc/self, which a unit with ProcSubset=pid has too.

/** Which process listens on a UDP port of this machine; undefined where /proc doesn't tell. */
export function udpPortOwner(port: number): SocketOwner | undefined {
  const inodes = ['udp', 'udp6'].flatMap(table =>
    rows(`/proc/self/net/${table}`)
      // sl local_address rem_address st tx:rx tr:when retrnsmt uid timeout inode ...; proc(5)
      .filter(columns => Number.parseInt(columns[1]?.split(':')[1] ?? '', 16) === port)
      .map(columns => columns[9] ?? ''),
  );
  return ownerOf(new Set(inodes));
}

/** Which process has bound an abstract Unix socket. @param name without the leading zero byte */
export function abstractSocketOwner(name: string): SocketOwner | undefined {
  // Num RefCount Protocol Flags Type St Inode Path, where the path of an abstract one begins with @.
  const found = rows('/proc/self/net/unix').filter(columns => columns[7] === `@${name}`);
  return ownerOf(new Set(found.map(columns => columns[6] ?? '')));
}

/**
 * Abstract Unix sockets that processes of this machine have bound, by process.
 * @param prefix with which their names begin, without the leading zero byte; it is left out of what is returned
 */
export function heldNames(
  prefix: string,
): { readonly pid: number | undefined; readonly holds: string[] }[] {
  const byPid = new Map<number | undefined, string[]>();
  for (const columns of rows('/proc/self/net/unix')) {
    const [, name] = /^@(.*?)\/*$/.exec(columns[7] ?? '') ?? [];
    if (name === undefined || !name.startsWith(prefix)) continue;
    const pid = ownerOf(new Set([columns[6] ?? '']))?.pid;
    const held = byPid.get(pid);
    if (held === undefined) byPid.set(pid, [name.slice(prefix.length)]);
    // One that asks leaves a connection with the same name.
    else if (!held.includes(name.slice(prefix.length))) held.push(name.slice(prefix.length));
  }
  return [...byPid].map(([pid, holds]) => ({ pid, holds }));
}

function ownerOf(inodes: ReadonlySet<string>): SocketOwner | undefined {
  if (inodes.size === 0) return undefined;
  const links = new Set([...inodes].map(inode => `socket:[${inode}]`));
  for (const entry of list('/proc')) {
    const pid = Number(entry);
    if (!Number.isInteger(pid)) continue;
    const files = `/proc/${pid}/fd`;
    if (list(files).some(file => links.has(linkOf(`${files}/${file}`)))) {
      return { pid, program: text(`/proc/${pid}/comm`).trim() };
    }
  }
  return undefined;
}

function rows(file: string): string[][] {
  return text(file)
    .split('\n')
    .slice(1)
    .map(line => line.trim().split(/ +/));
}

/** Processes come and go, and those of others may not be looked into: what can't be read is empty. */
function text(file: string): string {
  try {
    return readFileSync(file, 'utf8');
  } catch {
    return '';
  }
}

function list(folder: string): string[] {
  try {
    return readdirSync(folder);
  } catch {
    return [];
  }
}

function linkOf(file: string): string {
  try {
    return readlinkSync(file);
  } catch {
    return '';
  }
}
