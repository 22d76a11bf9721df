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
/** Where it comes to, and a well-formed report of trackers from 900 to 999, at places of any bits at all, with its length in bytes. */
export const OSC = {
  port: 9010,
  // OSC 1.0.
  report: [
    [...Buffer.from('/tracker/9', 'latin1')],
    'dinc(0x30, 0x39, 1), dinc(0x30, 0x39, 3)',
    [...Buffer.from('/position\0\0\0,fff\0\0\0\0', 'latin1')],
    'drnd(12)',
  ],
  reportBytes: 44,
};
export const PSN = {
  port: 56_565,
  // PosiStageNet 2.03: a data packet with its header, and a list of one tracker, which has a position.
  report: [
    [...Buffer.from('556728800000 0c000100000000000000 0203 0101'.replaceAll(' ', ''), 'hex')],
    [...Buffer.from('01001480', 'hex')],
    'dinc(0x84, 0xe7, 1), 0x03',
    [...Buffer.from('1080 00000c00'.replace(' ', ''), 'hex')],
    'drnd(12)',
  ],
  reportBytes: 44,
};
/** RFC 894, 791, 768. */
const ETHERNET_HEAD = 14;
const IP_HEAD = 20;
const UDP_HEAD = 8;

/** Counters of the interface and of the socket of a host, as they are now. */
function countersOf(host, inputPort) {
  const { rx } = JSON.parse(ip('-n', host, '-s', '-j', 'link', 'show', PORT))[0].stats64;
  const sockets = udpSockets(host).filter(({ port }) => port === inputPort);
  return {
    came: rx.packets,
    droppedByInterface: rx.dropped + rx.over_errors,
    droppedAtSocket: sockets.reduce((sum, { dropped }) => sum + dropped, 0),
  };
}

/** The flood; ends once all is sent. */
export async function flood(rig, from, to, kind) {
  const before = countersOf(to, kind.port);
  const fromS = Date.now() / 1000;
  const { child, said } = startFlood(rig, from, to, kind, { rateHz: RATE_HZ, lastsS: LASTS_S });
  const code = await new Promise(resolve => child.once('exit', resolve));
  if (code !== 0) throw new Error(`trafgen ended with ${code}: ${said.join('')}`);
  const toS = Date.now() / 1000;
  const after = countersOf(to, kind.port);
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

/** @returns its process, and what that says */
export function startFlood(rig, from, to, kind, { rateHz, lastsS }) {
  const file = join(rig.show.folder, 'flood.cfg');
  writeFileSync(file, packets(from, to, kind));
  const child = rig.beside(from, [
    'trafgen',
    ...['--dev', PORT, '--conf', file, '--cpus', '1', '--notouch-irq', '--no-cpu-stats'],
    ...['--rate', `${rateHz}pps`, '--num', String(rateHz * lastsS)],
  ]);
  const said = [];
  child.stderr.on('data', text => said.push(String(text)));
  child.stdout.resume();
  return { child, said };
}

/** In trafgen's language. */
function packets(from, to, { port, report, reportBytes }) {
  const noise = packet(from, to, port, 48, 'drnd(48)');
  const strangers = packet(from, to, port, reportBytes, report.flat().join(', '));
  return `${noise}\n${strangers}\n`;
}

function packet(from, to, port, length, body) {
  const numbers = [
    [mac(to), mac(from), 'const16(0x0800)'],
    ['0x45, 0', `const16(${IP_HEAD + UDP_HEAD + length})`, 'drnd(2), 0x40, 0, 64, 17'],
    [`csumip(${ETHERNET_HEAD}, ${ETHERNET_HEAD + IP_HEAD - 1})`, address(from), address(to)],
    ['const16(40000)', `const16(${port})`, `const16(${UDP_HEAD + length})`, 'const16(0)'],
    [body],
  ];
  return `{ ${numbers.flat().join(', ')} }`;
}

const address = host => HOSTS[host].split('.').join(', ');

function mac(host) {
  const { address: written } = JSON.parse(ip('-n', host, '-j', 'link', 'show', PORT))[0];
  return written
    .split(':')
    .map(byte => `0x${byte}`)
    .join(', ');
}
