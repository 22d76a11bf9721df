// node bench/machines.mjs [MACHINES] [UNIVERSES] [--back]
// Machines that share the universes of one show, each with its standby, in network namespaces on one switch; one of
// them is killed, and with --back comes back. A gateway tells what it hears. Needs root and iproute2. Prints one line of JSON.
import { execFileSync, spawn } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { setPriority, tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { setTimeout as sleep } from 'node:timers/promises';
import { houseShow, OSC_PORT } from './house.mjs';
import { cpuS, family } from './processes.mjs';

const [machines = 4, universes = 512] = process.argv
  .slice(2)
  .filter(word => word !== '--back')
  .map(Number);
const comesBack = process.argv.includes('--back');
const PERFORMERS = 8;
const EACH = universes / machines;
const SWITCH = 'lwms';
const GATEWAY = { name: 'lwmg', address: '10.83.0.250' };
const mains = Array.from({ length: machines }, (_, i) => host(`lwm${i + 1}`, i + 1));
const standbys = mains.map((_, i) => host(`lwm${i + 1}s`, 101 + i));
const hosts = [...mains, ...standbys, GATEWAY];
const folder = mkdtempSync(join(tmpdir(), 'lampwright-machines-'));
const children = [];
const ip = (...args) => execFileSync('ip', args, { stdio: 'pipe' });

function host(name, last) {
  return { name, address: `10.83.0.${last}` };
}

function removeHosts() {
  for (const { name } of [...hosts, { name: SWITCH }]) {
    try {
      ip('netns', 'del', name);
    } catch {
      // Not there: nothing is left of an earlier run.
    }
  }
}

function makeHosts() {
  removeHosts();
  ip('netns', 'add', SWITCH);
  // As docs/reference/sizing.md asks: it snoops, and is the querier.
  const snoops = ['mcast_snooping', '1', 'mcast_querier', '1'];
  ip('-n', SWITCH, 'link', 'add', 'br0', 'type', 'bridge', ...snoops);
  ip('-n', SWITCH, 'addr', 'add', '10.83.0.254/24', 'dev', 'br0');
  ip('-n', SWITCH, 'link', 'set', 'br0', 'up');
  for (const { name, address } of hosts) {
    ip('netns', 'add', name);
    ip('link', 'add', 'lw0', 'netns', name, 'type', 'veth', 'peer', 'name', name, 'netns', SWITCH);
    ip('-n', SWITCH, 'link', 'set', name, 'master', 'br0', 'up');
    ip('-n', name, 'addr', 'add', `${address}/24`, 'brd', '+', 'dev', 'lw0');
    ip('-n', name, 'link', 'set', 'lw0', 'up');
    ip('-n', name, 'link', 'set', 'lo', 'up');
    ip('netns', 'exec', name, 'sysctl', '-qw', 'net.ipv4.igmp_max_memberships=1024');
  }
}

function on({ name }, args, stdio = ['ignore', 'ignore', 'inherit']) {
  const child = spawn('ip', ['netns', 'exec', name, process.execPath, ...args], { stdio });
  children.push(child);
  // As the service gives it (systemd/); the others run as far ahead, as they would on machines of their own.
  setPriority(child.pid, -10);
  return child;
}

const show = join(folder, 'shared.show.yaml');
const outputs = mains.map((_, i) => {
  const span = `["${i * EACH + 1}-${(i + 1) * EACH}"]`;
  return `  part-${i + 1}: { protocol: sacn, interface: lw0, to: multicast, universes: ${span} }`;
});
writeFileSync(
  show,
  houseShow({
    performers: PERFORMERS,
    fixtures: Math.max(universes, 4 * PERFORMERS),
    universes,
    outputHz: 40,
  })
    .replace(`port: ${OSC_PORT}`, `port: ${OSC_PORT}, listen: 0.0.0.0`)
    .replace(/outputs:\n[\s\S]*$/, `outputs:\n${outputs.join('\n')}\n`),
);

function run(where, i, ...options) {
  const state = ['--state-dir', join(folder, where.name), '--panel', 'off'];
  const args = ['dist/main.js', 'run', show, '--log', 'json', '--outputs', `part-${i + 1}`];
  return on(where, [...args, ...state, ...options]);
}

makeHosts();
const gateway = on(
  GATEWAY,
  ['bench/machines/gateway.mjs', String(universes), GATEWAY.address],
  ['pipe', 'pipe', 'inherit'],
);
const lines = createInterface({ input: gateway.stdout })[Symbol.asyncIterator]();
async function heard(order = '') {
  gateway.stdin.write(`${order}\n`);
  return JSON.parse((await lines.next()).value);
}

async function until(what, isSo, withinS = 120, mayFail = false) {
  const beganS = performance.now() / 1e3;
  for (;;) {
    const now = await heard();
    if (isSo(now.heard)) return performance.now() / 1e3 - beganS;
    if (performance.now() / 1e3 - beganS > withinS) {
      if (mayFail) return null;
      const some = now.heard.filter(({ owner }, u) => owner !== ownerOf(u)).length;
      throw new Error(`${what}: not within ${withinS} s (${some} universes are another's)`);
    }
    await sleep(500);
  }
}

const machineOf = universe => Math.floor(universe / EACH);
const ownerOf = universe => mains[machineOf(universe)].address;
const most = (list, key) => Math.max(0, ...list.map(one => one[key]));

try {
  await lines.next();
  on(GATEWAY, ['bench/machines/feed.mjs', String(PERFORMERS), ...hosts.map(h => h.address)]);
  const running = mains.map((where, i) => run(where, i));
  await until('each machine has its universes', all =>
    all.every(({ owner, priority }, u) => owner === ownerOf(u) && priority === 100),
  );
  const others = standbys.map((where, i) => run(where, i, '--standby'));
  await until('each universe has a standby', all => all.every(({ sources }) => sources === 2));
  await sleep(4000);
  await heard('begin');
  const pids = [...running, ...others].map(child => family(child.pid));
  const before = pids.map(cpuS);
  await sleep(5000);
  const steady = await heard();
  const cpu = pids.map((family, i) => (cpuS(family) - before[i]) / 5);

  await heard('begin');
  const lost = Math.min(1, machines - 1);
  running[lost].kill('SIGKILL');
  const takenS = await until(
    'its standby has its universes',
    all =>
      all.every(
        ({ owner }, u) => owner === (machineOf(u) === lost ? standbys[lost].address : ownerOf(u)),
      ),
    20,
  );
  await sleep(2000);
  const death = await heard('begin');
  let back;
  if (comesBack) {
    run(mains[lost], lost);
    const isBack = all => all.every(({ owner }, u) => owner === ownerOf(u));
    const backS = await until('it has them again', isBack, 120, true);
    back = { backS, ...(await heard()) };
  }
  const its = stretch => stretch.heard.filter((_, u) => machineOf(u) === lost);
  const rest = stretch => stretch.heard.filter((_, u) => machineOf(u) !== lost);
  console.log(
    JSON.stringify({
      machines,
      universes,
      packetsPerS: steady.packets / 5,
      cpuOfEach: cpu.map(share => Number(share.toFixed(3))),
      steady: { longestS: most(steady.heard, 'longestS'), changes: most(steady.heard, 'changes') },
      // Of the machine that dies: for how long its universes stood still, and how far levels jumped.
      death: { longestS: most(its(death), 'longestS'), step: most(its(death), 'step'), takenS },
      ...(back && {
        back: {
          longestS: most(its(back), 'longestS'),
          step: most(its(back), 'step'),
          backS: back.backS,
        },
      }),
      others: {
        longestS: most([...rest(death), ...(back ? rest(back) : [])], 'longestS'),
        changes: most([...rest(death), ...(back ? rest(back) : [])], 'changes'),
      },
    }),
  );
} finally {
  for (const child of children) child.kill('SIGKILL');
  await sleep(500);
  removeHosts();
  rmSync(folder, { recursive: true });
}
