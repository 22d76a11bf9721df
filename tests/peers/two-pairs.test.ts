import { type ChildProcess, execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { Daemon, lampwright, until, variantOf } from '../system/support.js';
import { spawn } from '../tethered.js';

/**
 * Two pairs of machines that share the outputs of one show file, on one switch. The fifth host is a gateway that
 * arbitrates as E1.31 6.2.3 and 6.7.1 say, and the tracking server. Needs root and iproute2.
 */
const ip = (...args: string[]) => execFileSync('ip', args, { stdio: 'pipe' });
const HOSTS = {
  lwqla: '10.89.0.1',
  lwqlb: '10.89.0.2',
  lwqra: '10.89.0.3',
  lwqrb: '10.89.0.4',
  lwqg: '10.89.0.5',
} as const;
type Host = keyof typeof HOSTS;
const SWITCH = 'lwqs';
/** Of the pair on the right. */
const UNIVERSE = 2;
const [FULL, SAFE] = [255, 51];

/** Prints what comes of the universe: priority (a termination: -1), address, the first slot. */
const GATEWAY = `
const socket = require('node:dgram').createSocket({ type: 'udp4', reuseAddr: true });
socket.on('message', (b, from) => {
  if (b.readUInt32BE(18) !== 4 || b.readUInt16BE(113) !== ${UNIVERSE}) return;
  console.log((b[112] & 0x40) ? -1 : b[108], from.address, b[126]);
});
socket.bind(5568, () => { socket.addMembership('239.255.0.${UNIVERSE}', '${HOSTS.lwqg}'); console.log('ready'); });`;

const FEED = `
const socket = require('node:dgram').createSocket('udp4');
const text = s => Buffer.from(s + '\\0'.repeat(4 - s.length % 4));
const float = v => { const b = Buffer.alloc(4); b.writeFloatBE(v); return b; };
const bytes = Buffer.concat([text('/tracker/1/position'), text(',fff'), float(2), float(3), float(1.4)]);
setInterval(() => { for (const to of ${JSON.stringify(Object.values(HOSTS))}) socket.send(bytes, 9010, to); }, 25);`;

interface Heard {
  readonly atS: number;
  readonly priority: number;
  readonly from: string;
  readonly level: number;
}
const heard: Heard[] = [];
const children: ChildProcess[] = [];
const daemons: Daemon[] = [];
let show: ReturnType<typeof variantOf>;
let folder: string;

function removeHosts() {
  for (const name of [...Object.keys(HOSTS), SWITCH]) {
    try {
      ip('netns', 'del', name);
    } catch {
      // Not there: nothing is left of an earlier run.
    }
  }
}

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'lampwright-pairs-'));
  removeHosts();
  ip('netns', 'add', SWITCH);
  ip('-n', SWITCH, 'link', 'add', 'br0', 'type', 'bridge', 'mcast_snooping', '0');
  ip('-n', SWITCH, 'link', 'set', 'br0', 'up');
  for (const [name, address] of Object.entries(HOSTS)) {
    ip('netns', 'add', name);
    ip('link', 'add', 'lw0', 'netns', name, 'type', 'veth', 'peer', 'name', name, 'netns', SWITCH);
    ip('-n', SWITCH, 'link', 'set', name, 'master', 'br0', 'up');
    ip('-n', name, 'addr', 'add', `${address}/24`, 'brd', '+', 'dev', 'lw0');
    ip('-n', name, 'link', 'set', 'lw0', 'up');
    ip('-n', name, 'link', 'set', 'lo', 'up');
  }
  const { lwqla, lwqlb, lwqra, lwqrb } = HOSTS;
  show = variantOf('config/minimal.show.yaml', [
    ['port: 9010', 'port: 9010\n    listen: 0.0.0.0'],
    [
      'mappings:\n  -',
      `  window: { profile: dimmer, universe: ${UNIVERSE}, address: 1, safe: { Dimmer: 20 } }
operator:
  { port: 9011, listen: 0.0.0.0, allow: [10.89.0.0/24], standby: { left: ${lwqlb}, right: ${lwqrb} }, main: { left: ${lwqla}, right: ${lwqra} } }
cues:
  prologue: { mappings: [stove], fade: 1 }
  storm: { mappings: [stove], fade: 1 }
mappings:
  - name: stove
   `,
    ],
    ['fixtures: [stove-glow]', 'fixtures: [stove-glow, window]'],
    [
      '  lamps: { protocol: sacn, interface: 127.0.0.1, to: [127.0.0.1], universes: [1] }',
      `  left: { protocol: sacn, interface: lw0, to: multicast, universes: [1] }
  right: { protocol: sacn, interface: lw0, to: multicast, universes: [${UNIVERSE}] }`,
    ],
  ]);
  const gateway = spawn('ip', ['netns', 'exec', 'lwqg', process.execPath, '-e', GATEWAY]);
  children.push(gateway, spawn('ip', ['netns', 'exec', 'lwqg', process.execPath, '-e', FEED]));
  let ready = false;
  createInterface({ input: gateway.stdout }).on('line', line => {
    if (line === 'ready') ready = true;
    const [priority, from = '', level] = line.split(' ');
    const atS = performance.now() / 1000;
    if (line !== 'ready')
      heard.push({ atS, priority: Number(priority), from, level: Number(level) });
  });
  await until('the gateway listens', () => ready);
});
afterAll(async () => {
  for (const daemon of daemons) await daemon.stop().catch(() => undefined);
  for (const child of children) child.kill();
  removeHosts();
  show.remove();
  rmSync(folder, { recursive: true });
});

function start(host: Host, ...options: string[]): Daemon {
  const daemon = Daemon.inNamespace(host, show.file, [
    '--state-dir',
    join(folder, host),
    ...options,
  ]);
  daemons.push(daemon);
  return daemon;
}
const tell = (host: Host, ...words: string[]) => lampwright(['tell', join(folder, host), ...words]);
const latest = (from: string) => heard.findLast(one => one.from === from);
const isAt = (host: Host, level: number, priority: number) => () => {
  const last = latest(HOSTS[host]);
  return last?.level === level && last.priority === priority;
};

/** What a receiver shows: the level of the highest priority among the sources heard within 2.5 s. */
function arbitrated(): { level: number; from: string }[] {
  const sources = new Map<string, Heard>();
  return heard.flatMap(packet => {
    sources.set(packet.from, packet);
    if (packet.priority < 0) sources.delete(packet.from);
    const there = [...sources.values()].filter(one => packet.atS - one.atS <= 2.5);
    const best = there.sort((a, b) => b.priority - a.priority)[0];
    return best === undefined ? [] : [{ level: best.level, from: best.from }];
  });
}

it('the second pair of a show tells its own machines who is stopped, and the cue; nobody is lit after a take-over or a return', async () => {
  start('lwqla', '--outputs', 'left');
  const main = start('lwqra', '--outputs', 'right');
  await until('the second main machine leads, live', isAt('lwqra', FULL, 100), 40);
  start('lwqlb', '--outputs', 'left', '--standby');
  const standby = start('lwqrb', '--outputs', 'right', '--standby');
  await until('its standby is live below it', isAt('lwqrb', FULL, 99), 40);

  await tell('lwqra', 'cue', 'storm');
  const cues = () => standby.log.flatMap(({ kind, cue }) => (kind === 'cue' ? [cue] : []));
  await until('its standby is in the same cue', () => cues().at(-1) === 'storm', 10);
  await tell('lwqra', 'stop', 'ines');
  await until('its standby has stopped her too', isAt('lwqrb', SAFE, 99), 10);
  const { lwqra: A, lwqrb: B } = HOSTS;
  expect(standby.log.findLast(({ kind }) => kind === 'stopped')).toMatchObject({
    performers: ['ines'],
    by: `the main machine, ${A}`,
  });
  heard.splice(0, heard.length, ...[latest(A), latest(B)].filter(one => one !== undefined));
  main.signal('SIGKILL');
  await until('receivers take the standby', () => arbitrated().at(-1)?.from === B, 5);
  await sleep(3000); // a stop that was lost would have been re-armed by then
  expect(Math.max(...arbitrated().map(({ level }) => level))).toBe(SAFE);

  // And what is stopped at the standby meanwhile holds at the main machine of its own pair.
  await tell('lwqrb', 'resume', 'ines');
  await until('she is back', isAt('lwqrb', FULL, 99), 10);
  await tell('lwqrb', 'stop', 'ines');
  await until('and stopped again', isAt('lwqrb', SAFE, 99), 10);
  rmSync(join(folder, 'lwqra'), { recursive: true });
  heard.splice(0, heard.length, ...heard.slice(-1));
  start('lwqra', '--outputs', 'right');
  await until('the main machine leads again', () => latest(A)?.priority === 100, 40);
  await sleep(4000); // a stop that is lost would have been re-armed by then
  expect(arbitrated().at(-1)?.from).toBe(A);
  expect(Math.max(...arbitrated().map(({ level }) => level))).toBe(SAFE);
}, 180_000);
