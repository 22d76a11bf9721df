// A flood of datagrams by trafgen (of netsniff-ng): every other one noise, the rest well-formed reports of
// trackers that the show does not know; and what became of them by the kernel's own counters.
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { HOSTS, ip, PORT, udpSockets } from './hosts.mjs';

/** Datagrams a second; trafgen keeps a little below. */
const RATE_HZ = 120_000;
const LASTS_S = 6;
/** What the flood has to be for its name. */
export const LEAST_HZ = 100_000;
const INPUT_PORT = 9010;
/** RFC 894, 791, 768. */
const ETHERNET_HEAD = 14;
const IP_HEAD = 20;
const UDP_HEAD = 8;

/** Counters of the interface and of the socket of a host, as they are now. */
function countersOf(host) {
  const { rx } = JSON.parse(ip('-n', host, '-s', '-j', 'link', 'show', PORT))[0].stats64;
  const sockets = udpSockets(host).filter(({ port }) => port === INPUT_PORT);
  return {
    came: rx.packets,
    droppedByInterface: rx.dropped + rx.over_errors,
    droppedAtSocket: sockets.reduce((sum, { dropped }) => sum + dropped, 0),
  };
}

/** The flood; ends once all is sent. */
export async function flood(rig, from, to) {
  const file = join(rig.show.folder, 'flood.cfg');
  writeFileSync(file, packets(from, to));
  const before = countersOf(to);
  const fromS = Date.now() / 1000;
  const child = rig.beside(from, [
    'trafgen',
    ...['--dev', PORT, '--conf', file, '--cpus', '1', '--notouch-irq', '--no-cpu-stats'],
    ...['--rate', `${RATE_HZ}pps`, '--num', String(RATE_HZ * LASTS_S)],
  ]);
  let said = '';
  child.stderr.on('data', text => {
    said += text;
  });
  child.stdout.resume();
  const code = await new Promise(resolve => child.once('exit', resolve));
  if (code !== 0) throw new Error(`trafgen ended with ${code}: ${said}`);
  const toS = Date.now() / 1000;
  const after = countersOf(to);
  const since = what => after[what] - before[what];
  return {
    fromS,
    toS,
    sent: RATE_HZ * LASTS_S,
    cameHz: since('came') / (toS - fromS),
    droppedByInterface: since('droppedByInterface'),
    droppedAtSocket: since('droppedAtSocket'),
  };
}

/** In trafgen's language. */
function packets(from, to) {
  const noise = packet(from, to, 48, 'drnd(48)');
  // OSC 1.0. Ten trackers from 900 to 999, at places of any bits at all.
  const strangers = [
    bytes('/tracker/9'),
    'dinc(0x30, 0x39, 1), dinc(0x30, 0x39, 3)',
    bytes('/position\0\0\0,fff\0\0\0\0'),
    'drnd(12)',
  ];
  return `${noise}\n${packet(from, to, 44, strangers.join(', '))}\n`;
}

function packet(from, to, length, body) {
  const numbers = [
    [mac(to), mac(from), 'const16(0x0800)'],
    ['0x45, 0', `const16(${IP_HEAD + UDP_HEAD + length})`, 'drnd(2), 0x40, 0, 64, 17'],
    [`csumip(${ETHERNET_HEAD}, ${ETHERNET_HEAD + IP_HEAD - 1})`, address(from), address(to)],
    ['const16(40000)', `const16(${INPUT_PORT})`, `const16(${UDP_HEAD + length})`, 'const16(0)'],
    [body],
  ];
  return `{ ${numbers.flat().join(', ')} }`;
}

const bytes = text => [...Buffer.from(text, 'latin1')].join(', ');
const address = host => HOSTS[host].split('.').join(', ');

function mac(host) {
  const { address: written } = JSON.parse(ip('-n', host, '-j', 'link', 'show', PORT))[0];
  return written
    .split(':')
    .map(byte => `0x${byte}`)
    .join(', ');
}
