import { type ChildProcess, execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { Ola } from '../../campaign/ola.mjs';
import { Daemon, until } from '../system/support.js';
import { spawn } from '../tethered.js';
import { Capture } from './capture.js';

/**
 * docs/guides/back-a-desk.md, with OLA (Debian's `ola`) as the gateway, npm `sacn` as the desk, and tshark. Two hosts of the
 * test's own: lwba has daemon and desk, lwbb the gateway. Needs root, iproute2, setpriv.
 */
const ip = (...args: string[]) => execFileSync('ip', args, { stdio: 'pipe' });
const HOSTS = { lwba: '10.83.0.1', lwbb: '10.83.0.2' } as const;
const UNIVERSE = 1;

/** Nobody is tracked: the safe look, 20 per cent of one lamp, which is 51. */
const SHOW = `lampwright: 1
name: Backing
stage: { x: [0, 6], y: [0, 4] }
inputs: { tracking: { port: 9010, routes: [{ address: "/tracker/{tracker}/position" }] } }
performers: { ines: { trackers: [1] } }
zones: { stove: { circle: { centre: [2, 3], radius: 0.8 } } }
fixtures: { glow: { profile: dimmer, universe: 1, address: 1, safe: { Dimmer: 20 } } }
mappings: [{ zone: stove, fixtures: [glow], set: { Dimmer: 100 } }]
outputs: { lamps: { protocol: sacn, interface: lw0, universes: [1], addressPriority: true, sync: 7962 } }
`;
const OURS = 51;
const DESKS = 200;

const removeHosts = () => {
  for (const name of Object.keys(HOSTS)) {
    try {
      ip('netns', 'del', name);
    } catch {
      // Not there: nothing is left of an earlier run.
    }
  }
};

let folder: string;
let desk: ChildProcess | undefined;
let daemon: Daemon | undefined;
let ola: Ola | undefined;
let capture: Capture | undefined;

beforeEach(() => {
  removeHosts();
  folder = mkdtempSync(join(tmpdir(), 'lampwright-backing-'));
  writeFileSync(join(folder, 'show.yaml'), SHOW);
  for (const name of Object.keys(HOSTS)) ip('netns', 'add', name);
  ip('link', 'add', 'lw0', 'netns', 'lwba', 'type', 'veth', 'peer', 'name', 'lw0', 'netns', 'lwbb');
  for (const [name, address] of Object.entries(HOSTS)) {
    ip('-n', name, 'addr', 'add', `${address}/24`, 'brd', '+', 'dev', 'lw0');
    ip('-n', name, 'link', 'set', 'lw0', 'up');
    ip('-n', name, 'link', 'set', 'lo', 'up');
  }
});

afterEach(async () => {
  desk?.kill('SIGKILL');
  await daemon?.stop();
  capture?.remove();
  await ola?.close();
  removeHosts();
  rmSync(folder, { recursive: true });
});

function startDesk(priority: number): ChildProcess {
  const args = ['netns', 'exec', 'lwba', process.execPath, 'tests/peers/sacn-desk.mjs'];
  const one = spawn('ip', [...args, String(UNIVERSE), HOSTS.lwba], {
    stdio: ['pipe', 'inherit', 'inherit'],
  });
  one.stdin?.write(`${JSON.stringify({ priority, slots: { 1: DESKS, 2: 99 } })}\n`);
  return one;
}

it('the other one has the light 2.5 s after one of two has died, whoever is above', async () => {
  ola = await Ola.open('lwbb', { sacn: UNIVERSE });
  capture = await Capture.open('udp port 5568', { host: 'lwbb', interface: 'lw0' });
  const running = Daemon.inNamespace('lwba', join(folder, 'show.yaml'));
  daemon = running;
  await until('the engine runs', () => running.enginePid > 0);
  // Gateways let a source go after 2.5 s (E1.31 6.7.1): wall time is waited for, and OLA's recording read at the end.
  await sleep(500);
  // The desk comes at 90, below our 100.
  desk = startDesk(90);
  await sleep(1000);
  // Our process is killed.
  process.kill(running.pid, 'SIGKILL');
  await sleep(3800);
  // The desk at 110, above us; our process is started again.
  desk.stdin?.write('{"priority":110}\n');
  const again = Daemon.inNamespace('lwba', join(folder, 'show.yaml'));
  daemon = again;
  await until('the engine runs', () => again.enginePid > 0);
  await sleep(500);
  // The desk is killed.
  desk.kill('SIGKILL');
  await sleep(3800);
  await daemon.stop();
  daemon = undefined;
  const frames = await ola.close();
  const recorded = capture;
  await recorded.end();

  const rows = recorded.fields('acn.dmx.universe == 1', [
    'frame.time_relative',
    'acn.dmx.source_name',
    'acn.dmx.start_code2',
    'acn.dmx.count',
    'acn.dmx.priority',
    'udp.payload',
  ]);
  const lastOf = (name: string, beforeS: number) =>
    Math.max(
      ...rows.filter(([at, who]) => who === name && Number(at) < beforeS).map(([at]) => Number(at)),
    );
  const changes = frames.filter(({ slots }, n) => n === 0 || slots[0] !== frames[n - 1]?.slots[0]);
  // Ours, with nothing in the slots that are not ours; the desk's, whole; and ours again, when the desk is gone.
  expect(changes.map(({ slots }) => [slots[0], slots[1]])).toEqual([
    [OURS, 0],
    [DESKS, 99],
    [OURS, 0],
  ]);
  const [, toDesk, toUs] = changes.map(({ atS }) => atS) as [number, number, number];
  const gaps = [toDesk - lastOf('lampwright Backing', toDesk), toUs - lastOf('a desk', toUs)];
  // A gateway looks when it has a packet of the other: ours come each 0.9 s where nothing changes.
  for (const gap of gaps) {
    expect(gap).toBeGreaterThan(2.3);
    expect(gap).toBeLessThan(3.8);
  }

  // Before the first levels: which slots are ours. OLA passes it over, as it does the synchronization.
  expect(rows.slice(0, 2).map(([, , code]) => code)).toEqual(['221', '0']);
  const [, , , count, priority, payload = ''] = rows[0] ?? [];
  // A START code and 512 slots: the one that is ours has the priority of the packet, the others have none. They begin at octet 126 (Table 4-1).
  const ours = Number(priority).toString(16);
  expect([count, payload.slice(2 * 126)]).toEqual(['513', `${ours}${'00'.repeat(511)}`]);
  const syncs = recorded.fields('udp.length == 57', ['ip.dst']);
  // The group of universe 7962 (E1.31 Table 9-10).
  expect(new Set(syncs.flat())).toEqual(new Set(['239.255.31.26']));
});
