import { type ChildProcess, execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { afterAll, afterEach, beforeAll } from 'vitest';
import { Daemon, lampwright, until, variantOf } from '../system/support.js';
import { spawn } from '../tethered.js';

/**
 * Three hosts of the test's own on one switch (a bridge): two run the show, the third is a gateway that
 * arbitrates as E1.31 6.2.3 and 6.7.1 say, and hears Art-Net. Needs root and iproute2.
 */
export const ip = (...args: string[]) => execFileSync('ip', args, { stdio: 'pipe' });
export const HOSTS = { lwpa: '10.79.0.1', lwpb: '10.79.0.2', lwpg: '10.79.0.3' } as const;

function removeHosts() {
  for (const name of [...Object.keys(HOSTS), 'lwps']) {
    try {
      ip('netns', 'del', name);
    } catch {
      // Not there: nothing is left of an earlier run.
    }
  }
}

/** Prints what comes: protocol, priority, address, the first two slots; a termination as priority -1. */
const GATEWAY = `
const { createSocket } = require('node:dgram');
const sacn = createSocket({ type: 'udp4', reuseAddr: true });
sacn.on('message', (b, from) => {
  if (b.readUInt32BE(18) === 4) console.log('sacn', (b[112] & 0x40) ? -1 : b[108], from.address, b[126], b[127]);
});
sacn.bind(5568, () => { sacn.addMembership('239.255.0.1', '${HOSTS.lwpg}'); });
const artnet = createSocket('udp4');
artnet.on('message', (b, from) => {
  if (b.readUInt16LE(8) === 0x5000) console.log('artnet', 0, from.address, b[18], b[19]);
});
artnet.bind(6454, '${HOSTS.lwpg}', () => console.log('ready'));`;

/** Reports a tracker to both machines, as a tracking server that knows two receivers does. */
export const FEED = `
const socket = require('node:dgram').createSocket('udp4');
const text = s => Buffer.from(s + '\\0'.repeat(4 - s.length % 4));
const float = v => { const b = Buffer.alloc(4); b.writeFloatBE(v); return b; };
const bytes = Buffer.concat([text('/tracker/1/position'), text(',fff'), float(2), float(3), float(1.4)]);
setInterval(() => { for (const to of ['${HOSTS.lwpa}', '${HOSTS.lwpb}']) socket.send(bytes, 9010, to); }, 25);`;

const CUES = `
operator: { port: 9011, listen: 0.0.0.0, allow: [${HOSTS.lwpa}, ${HOSTS.lwpb}], standby: ${HOSTS.lwpb}, main: ${HOSTS.lwpa} }
cues:
  prologue: { mappings: [stove], fade: 1 }
  storm: { mappings: [stove], base: { sea: { Dimmer: 100 } }, fade: 4 }
`;

interface Heard {
  readonly atS: number;
  readonly protocol: string;
  readonly priority: number;
  readonly from: string;
  /** Of the stove, and of the sea. */
  readonly level: number;
  readonly sea: number;
}
export const heard: Heard[] = [];
export const children: ChildProcess[] = [];
export let show: ReturnType<typeof variantOf>;
export let folder: string;
let daemons: Daemon[] = [];
export const nowS = () => performance.now() / 1000;

/** Makes the hosts before the first test of a file, and ends its daemons after each. */
export function onThreeHosts(): void {
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'lampwright-pair-'));
    removeHosts();
    ip('netns', 'add', 'lwps');
    ip('-n', 'lwps', 'link', 'add', 'br0', 'type', 'bridge', 'mcast_snooping', '0');
    ip('-n', 'lwps', 'link', 'set', 'br0', 'up');
    for (const [name, address] of Object.entries(HOSTS)) {
      ip('netns', 'add', name);
      ip(
        'link',
        'add',
        'lw0',
        'netns',
        name,
        'type',
        'veth',
        'peer',
        'name',
        name,
        'netns',
        'lwps',
      );
      ip('-n', 'lwps', 'link', 'set', name, 'master', 'br0', 'up');
      ip('-n', name, 'addr', 'add', `${address}/24`, 'brd', '+', 'dev', 'lw0');
      ip('-n', name, 'link', 'set', 'lw0', 'up');
      ip('-n', name, 'link', 'set', 'lo', 'up');
    }
    show = variantOf('config/minimal.show.yaml', [
      ['port: 9010', 'port: 9010\n    listen: 0.0.0.0'],
      ['interface: 127.0.0.1, to: [127.0.0.1]', 'interface: lw0, to: multicast'],
      // The sea is lit in the storm, for nobody.
      [
        'mappings:\n  -',
        `  sea: { profile: dimmer, universe: 1, address: 2 }\n${CUES}mappings:\n  - name: stove\n   `,
      ],
      [
        'outputs:',
        `outputs:\n  heads: { protocol: artnet, interface: lw0, to: [${Object.values(HOSTS).join(', ')}], universes: [1] }`,
      ],
    ]);
    const gateway = spawn('ip', ['netns', 'exec', 'lwpg', process.execPath, '-e', GATEWAY]);
    const feed = spawn('ip', ['netns', 'exec', 'lwpg', process.execPath, '-e', FEED]);
    children.push(gateway, feed);
    let ready = false;
    createInterface({ input: gateway.stdout }).on('line', line => {
      if (line === 'ready') ready = true;
      const [protocol = '', priority, from = '', level, sea] = line.split(' ');
      heard.push({
        atS: nowS(),
        protocol,
        priority: Number(priority),
        from,
        level: Number(level),
        sea: Number(sea),
      });
    });
    await until('the gateway listens', () => ready);
  });
  afterEach(async () => {
    for (const daemon of daemons) await daemon.stop().catch(() => undefined);
    daemons = [];
    // Not before: they write in them to the end.
    for (const host of ['lwpa', 'lwpb'] as const) {
      rmSync(stateOf(host), { recursive: true, force: true });
    }
    heard.length = 0;
  });
  afterAll(() => {
    for (const child of children) child.kill();
    removeHosts();
    show.remove();
    rmSync(folder, { recursive: true });
  });
}

export function start(host: keyof typeof HOSTS, ...options: string[]): Daemon {
  const daemon = Daemon.inNamespace(host, show.file, options);
  daemons.push(daemon);
  return daemon;
}

/** Each machine has a state folder of its own, as on two machines. */
export const stateOf = (host: keyof typeof HOSTS) => join(folder, host);
export const tell = async (host: keyof typeof HOSTS, ...words: string[]) =>
  (await lampwright(['tell', stateOf(host), ...words])).stdout;
export const cuesOf = ({ log }: Daemon) =>
  log.flatMap(({ kind, cue }) => (kind === 'cue' ? [cue] : []));

/** What a receiver shows: the level of the highest priority among the sources heard within 2.5 s. */
export function arbitrated(
  packets: readonly Heard[],
): { atS: number; level: number; sea: number; from: string }[] {
  const sources = new Map<string, Heard>();
  const shown: { atS: number; level: number; sea: number; from: string }[] = [];
  for (const packet of packets) {
    if (packet.protocol !== 'sacn') continue;
    sources.set(packet.from, packet);
    if (packet.priority < 0) sources.delete(packet.from);
    const there = [...sources.values()].filter(one => packet.atS - one.atS <= 2.5);
    const best = there.sort((a, b) => b.priority - a.priority)[0];
    if (best !== undefined)
      shown.push({ atS: packet.atS, level: best.level, sea: best.sea, from: best.from });
  }
  return shown;
}

export const latest = (protocol: string, from: string) =>
  heard.findLast(one => one.protocol === protocol && one.from === from);
/** Forgets what was heard but the last of each, which a receiver shows until the next one. */
export function keepLatest(): void {
  const { lwpa, lwpb } = HOSTS;
  const last = [latest('sacn', lwpa), latest('sacn', lwpb)].filter(one => one !== undefined);
  heard.splice(0, heard.length, ...last);
}
export const greatestStep = (shown: readonly { level: number }[]) =>
  Math.max(0, ...shown.map(({ level }, i) => Math.abs(level - (shown[i - 1]?.level ?? level))));

/**
 * A first machine that leads and is live, and a standby below it, live too.
 * @param options of the main machine
 */
export async function pairOf(...options: string[]): Promise<{ main: Daemon; standby: Daemon }> {
  const { lwpa: A, lwpb: B } = HOSTS;
  const main = start('lwpa', '--state-dir', stateOf('lwpa'), ...options);
  const isLive = (from: string, priority: number) => {
    const last = latest('sacn', from);
    return last?.priority === priority && last.level === 255;
  };
  await until('the main machine leads, live', () => isLive(A, 100), 30);
  const standby = start('lwpb', '--standby', '--state-dir', stateOf('lwpb'));
  await until('the standby is live below it', () => isLive(B, 99), 30);
  return { main, standby };
}
