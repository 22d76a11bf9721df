import { readFileSync } from 'node:fs';
import { SocketAddress } from 'node:net';
import { endianness } from 'node:os';

/** The kernel's tables of TCP connections (proc_net_tcp of its documentation). */
const TABLES = ['/proc/net/tcp', '/proc/net/tcp6'] as const;

/**
 * Connections at this port whose other end has not acknowledged what was sent to it more than once: a machine that has
 * left without a word, which looks to Node as any other. Each is "address port" of the other end, as Node writes them. None where
 * the system has no such tables.
 */
export function unacknowledged(port: number): string[] {
  try {
    return TABLES.flatMap(table => unacknowledgedIn(readFileSync(table, 'latin1'), port));
  } catch {
    return [];
  }
}

/** @param table as the kernel prints it @param order of the bytes in its words */
export function unacknowledgedIn(table: string, port: number, order = endianness()): string[] {
  const at = `:${port.toString(16).toUpperCase().padStart(4, '0')}`;
  return table.split('\n').flatMap(line => {
    const [, local = '', remote = '', , , , again = '', , probes = ''] = line.trim().split(/\s+/);
    if (!local.endsWith(at)) return [];
    // What was sent again, in base 16, and probes that were sent, in base 10, since the other end was heard last.
    if (Number.parseInt(again, 16) === 0 && Number(probes) === 0) return [];
    const [address = '', remotePort = ''] = remote.split(':');
    return [`${addressOf(address, order)} ${Number.parseInt(remotePort, 16)}`];
  });
}

/** Words of four bytes, each in the order of the machine. */
function addressOf(hex: string, order: 'LE' | 'BE'): string {
  const bytes = Buffer.from(hex, 'hex');
  if (order === 'LE') bytes.swap32();
  if (bytes.length === 4) return [...bytes].join('.');
  const groups = Array.from({ length: 8 }, (_, i) => bytes.readUInt16BE(2 * i).toString(16));
  return new SocketAddress({ address: groups.join(':'), family: 'ipv6' }).address;
}
