// Hosts of the campaign's own: network namespaces on one switch. Nothing leaves this machine.
import { execFileSync, spawn } from 'node:child_process';

export const HOSTS = {
  lwca: '10.81.0.1', // the daemon
  lwcb: '10.81.0.2', // a second one
  lwcg: '10.81.0.3', // the tracking server, and the capture
  lwco: '10.81.0.4', // OLA
};
const SWITCH = 'lwcs';
/** The interface of every host. */
export const PORT = 'lw0';

export const ip = (...args) => execFileSync('ip', args, { stdio: 'pipe', encoding: 'utf8' });

export function removeHosts() {
  for (const name of [...Object.keys(HOSTS), SWITCH]) {
    try {
      ip('netns', 'del', name);
    } catch {
      // Not there: nothing is left of an earlier run.
    }
  }
}

export function makeHosts() {
  removeHosts();
  ip('netns', 'add', SWITCH);
  // Without snooping the switch floods multicast, as a simple one does.
  ip('-n', SWITCH, 'link', 'add', 'br0', 'type', 'bridge', 'mcast_snooping', '0');
  ip('-n', SWITCH, 'link', 'set', 'br0', 'up');
  for (const [name, address] of Object.entries(HOSTS)) {
    ip('netns', 'add', name);
    ip('link', 'add', PORT, 'netns', name, 'type', 'veth', 'peer', 'name', name, 'netns', SWITCH);
    ip('-n', SWITCH, 'link', 'set', name, 'master', 'br0', 'up');
    giveAddress(name, address);
    ip('-n', name, 'link', 'set', PORT, 'up');
    ip('-n', name, 'link', 'set', 'lo', 'up');
  }
}

export const giveAddress = (host, address) =>
  ip('-n', host, 'addr', 'add', `${address}/24`, 'brd', '+', 'dev', PORT);
export const takeAddress = (host, address) =>
  ip('-n', host, 'addr', 'del', `${address}/24`, 'dev', PORT);
export const setInterface = (host, state) => ip('-n', host, 'link', 'set', PORT, state);
/** The other end of a host's cable. */
export const setCable = (host, state) => ip('-n', SWITCH, 'link', 'set', host, state);

/** What a host may send: so much, with room for all that waits (tc-tbf(8)). */
export function setRate(host, rate) {
  const bucket = ['rate', rate, 'burst', '4kb', 'limit', '4mb'];
  const line = ['netns', 'exec', host, 'tc', 'qdisc', 'replace', 'dev', PORT, 'root', 'tbf'];
  ip(...line, ...bucket);
}

/**
 * A bad cable to a host: `program` (shims/wire.c) between it and the switch.
 * @returns mends it
 */
export async function spoilCable(host, program, loss, delayMs, seed) {
  const [here, there] = ['bad0', 'bad1'];
  ip('-n', SWITCH, 'link', 'add', here, 'type', 'veth', 'peer', 'name', there);
  ip('-n', SWITCH, 'link', 'set', there, 'master', 'br0', 'up');
  ip('-n', SWITCH, 'link', 'set', here, 'up');
  ip('-n', SWITCH, 'link', 'set', host, 'nomaster');
  const child = spawnOn(SWITCH, [program, host, here, String(loss), String(delayMs), String(seed)]);
  await new Promise((resolve, reject) => {
    child.stdout.once('data', resolve);
    child.stderr.once('data', text => reject(new Error(`wire: ${text}`)));
  });
  return () => {
    child.kill('SIGKILL');
    ip('-n', SWITCH, 'link', 'del', here);
    ip('-n', SWITCH, 'link', 'set', host, 'master', 'br0');
  };
}

/** The UDP sockets of a host, by the table of proc(5). */
export function udpSockets(host) {
  const [, ...lines] = ip('netns', 'exec', host, 'cat', '/proc/net/udp').trim().split('\n');
  return lines.map(line => {
    const [, local, , , queues, ...more] = line.trim().split(/\s+/);
    return {
      port: Number.parseInt(local.split(':')[1], 16),
      toSendBytes: Number.parseInt(queues.split(':')[0], 16),
      dropped: Number(more.at(-1)),
    };
  });
}

/** Runs a program on a host; `ip netns exec` becomes it, so that signals reach it. */
export function spawnOn(host, command, options = {}) {
  const child = spawn('ip', ['netns', 'exec', host, ...command], {
    stdio: ['pipe', 'pipe', 'pipe'],
    ...options,
  });
  process.once('exit', () => child.kill('SIGKILL'));
  return child;
}
