import { type ChildProcess, execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { Daemon, until } from '../system/support.js';
import { spawn } from '../tethered.js';

/**
 * Two machines of a show on one switch, over the light of a desk (npm `sacn`), which both hear. The fourth host is a gateway that arbitrates as
 * E1.31 6.2.3 and 6.7.1 say, and the tracking server. Needs root and iproute2.
 */
const ip = (...args: string[]) => execFileSync('ip', args, { stdio: 'pipe' });
const HOSTS = {
  lwxa: '10.88.0.1',
  lwxb: '10.88.0.2',
  lwxd: '10.88.0.3',
  lwxg: '10.88.0.4',
} as const;
const SWITCH = 'lwxs';
const DESKS = 201;
/** Slots from 1: ours, with somebody in it; at the desk's value, for nobody is; the desk's by its ground; of no fixture. */
const [LIT, RESTS, DESK, FREE] = [1, 2, 3, 100];

const SHOW = `lampwright: 1
name: A pair over a desk
stage: { x: [0, 6], y: [0, 4] }
inputs: { tracking: { listen: 0.0.0.0, port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] }, tobias: { trackers: [2] } }
zones: { stove: { circle: { centre: [2, 3], radius: 0.8 } } }
fixtures:
  lit: { profile: dimmer, universe: 1, address: ${LIT}, safe: { Dimmer: 20 }, ground: safe }
  rests: { profile: dimmer, universe: 1, address: ${RESTS}, safe: { Dimmer: 20 }, ground: safe }
  desks: { profile: dimmer, universe: 1, address: ${DESK}, ground: [Dimmer] }
mappings:
  - { zone: stove, performers: [ines], fixtures: [lit], set: { Dimmer: 100 } }
  - { zone: stove, performers: [tobias], fixtures: [rests], set: { Dimmer: 100 } }
desk: { stage: { protocol: sacn, universe: ${DESKS}, interface: lw0, ground: 1, fade: 1 } }
outputs: { lamps: { protocol: sacn, interface: lw0, to: multicast, universes: [1] } }
`;

/** Prints what comes of universe 1: priority (a termination: -1), address, and the levels of the slots in turn. */
const GATEWAY = `
const socket = require('node:dgram').createSocket({ type: 'udp4', reuseAddr: true });
socket.on('message', (b, from) => {
  if (b.readUInt32BE(18) !== 4 || b.readUInt16BE(113) !== 1) return;
  console.log((b[112] & 0x40) ? -1 : b[108], from.address, ...[${[LIT, RESTS, DESK, FREE]}].map(slot => b[125 + slot]));
});
socket.bind(5568, () => { socket.addMembership('239.255.0.1', '${HOSTS.lwxg}'); console.log('ready'); });`;

const FEED = `
const socket = require('node:dgram').createSocket('udp4');
const text = s => Buffer.from(s + '\\0'.repeat(4 - s.length % 4));
const float = v => { const b = Buffer.alloc(4); b.writeFloatBE(v); return b; };
const bytes = Buffer.concat([text('/tracker/1/position'), text(',fff'), float(2), float(3), float(1.4)]);
setInterval(() => { for (const to of ['${HOSTS.lwxa}', '${HOSTS.lwxb}']) socket.send(bytes, 9010, to); }, 25);`;

interface Heard {
  readonly atS: number;
  readonly priority: number;
  readonly from: string;
  readonly levels: readonly number[];
}
const heard: Heard[] = [];
const children: ChildProcess[] = [];
const daemons: Daemon[] = [];
const nowS = () => performance.now() / 1000;
let folder: string;
let desk: ChildProcess;

const removeHosts = () => {
  for (const name of [...Object.keys(HOSTS), SWITCH]) {
    try {
      ip('netns', 'del', name);
    } catch {
      // Not there: nothing is left of an earlier run.
    }
  }
};

function on(host: keyof typeof HOSTS, ...args: readonly string[]): ChildProcess {
  const child = spawn('ip', ['netns', 'exec', host, process.execPath, ...args]);
  children.push(child);
  return child;
}

beforeAll(async () => {
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
  folder = mkdtempSync(join(tmpdir(), 'lampwright-pair-desk-'));
  writeFileSync(join(folder, 'show.yaml'), SHOW);
  const gateway = on('lwxg', '-e', GATEWAY);
  on('lwxg', '-e', FEED);
  let ready = false;
  createInterface({ input: gateway.stdout as NodeJS.ReadableStream }).on('line', line => {
    if (line === 'ready') ready = true;
    const [priority, from = '', ...levels] = line.split(' ');
    heard.push({ atS: nowS(), priority: Number(priority), from, levels: levels.map(Number) });
  });
  await until('the gateway listens', () => ready);
  desk = on('lwxd', 'tests/peers/sacn-desk.mjs', String(DESKS), HOSTS.lwxd);
  say({ [LIT]: 180, [RESTS]: 200, [DESK]: 40, [FREE]: 77 });
}, 30_000);

afterAll(async () => {
  for (const daemon of daemons) await daemon.stop().catch(() => undefined);
  for (const child of children) child.kill('SIGKILL');
  removeHosts();
  rmSync(folder, { recursive: true });
}, 30_000);

const say = (slots: Record<number, number>) => desk.stdin?.write(`${JSON.stringify({ slots })}\n`);
const of = (from: string) => heard.findLast(one => one.from === from);

function start(host: 'lwxa' | 'lwxb', ...options: string[]): Daemon {
  const daemon = Daemon.inNamespace(host, join(folder, 'show.yaml'), options);
  daemons.push(daemon);
  return daemon;
}

/** What a receiver shows: of those heard within 2.5 s the one of the highest priority. */
function shown(): Heard[] {
  const sources = new Map<string, Heard>();
  return heard.flatMap(packet => {
    if (packet.levels.length === 0) return [];
    sources.set(packet.from, packet);
    if (packet.priority < 0) sources.delete(packet.from);
    const there = [...sources.values()].filter(one => packet.atS - one.atS <= 2.5);
    const [best] = there.sort((a, b) => b.priority - a.priority);
    return best === undefined ? [] : [{ ...best, atS: packet.atS }];
  });
}

it('the main machine dies, and the desk while the standby takes over: ours makes no jump, and nothing of the desk is held back', async () => {
  const { lwxa: A, lwxb: B } = HOSTS;
  const isLive = (from: string, priority: number) => {
    const last = of(from);
    return last?.priority === priority && last.levels.join() === '255,200,40,77';
  };
  const main = start('lwxa');
  await until('the main machine leads, over the desk', () => isLive(A, 100), 20);
  const standby = start('lwxb', '--standby');
  await until('the standby has the same below it', () => isLive(B, 99), 20);
  heard.length = 0;

  main.signal('SIGKILL');
  await sleep(300);
  // What receivers still show of the main machine is its last look; what the standby sends has it at once.
  const movedS = nowS();
  say({ [DESK]: 240, [FREE]: 210 });
  await until('it is in the light of the standby', () => of(B)?.levels.at(-1) === 210, 2);
  expect(of(B)?.levels).toEqual([255, 200, 240, 210]);
  expect(nowS() - movedS).toBeLessThan(0.5);
  // Both are lost within a second: the desk after 2.5 s, as the main machine's stream is for receivers.
  desk.kill('SIGKILL');
  await until('the standby has lost the desk', () =>
    standby.log.some(({ kind }) => kind === 'desk-gone'),
  );
  await until(
    'receivers show the standby, and the show its own safe value',
    () => {
      const last = shown().at(-1);
      return last?.from === B && last.levels[1] === 51;
    },
    10,
  );

  const all = shown();
  // Somebody is in it: ours all the time. The other goes from the desk's value to the show's over `fade`.
  expect(Math.min(...all.map(({ levels }) => levels[0] ?? 0))).toBe(255);
  const rests = all.map(({ levels }) => levels[1] ?? 0);
  expect(rests).toEqual(rests.toSorted((a, b) => b - a));
  // 149 of 255 in a second, in beats of 25 ms; three of them late.
  const steps = rests.map((level, i) => (rests[i - 1] ?? level) - level);
  expect(Math.max(...steps)).toBeLessThan(16);
  // The desk's own: what it said last, with no fade, and held.
  const desks = [...new Set(all.map(({ levels }) => levels.slice(2).join()))];
  expect(desks).toEqual(['40,77', '240,210']);
}, 60_000);
