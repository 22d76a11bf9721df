import type { Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import { type Check, fail, pass, unknown, warn } from './check.js';
import type { InterfaceFact, NetworkFacts } from './facts.js';
import { checkInterfaces } from './interface-checks.js';
import { checkMachine, type MachineFacts } from './machine-checks.js';
import { type UnitFacts, unitLacks } from './unit.js';

/** What a machine shows of itself before a show; no judgement. */
export interface DoctorFacts {
  readonly machine: MachineFacts;
  /** The least version of Node, as `20.19`. */
  readonly leastNode: string;
  readonly totalMemoryBytes: number;
  /** How many files a process started here may have open; undefined: any number, or the system does not tell. */
  readonly mostOpenFiles: number | undefined;
  readonly interfaces: readonly InterfaceFact[];
  /** Names of those that are there, but not up. */
  readonly down?: readonly string[];
  readonly routes: NetworkFacts['routes'];
  /** Each port that the show listens on. */
  readonly ports: readonly PortFact[];
  /** Each interface on which a multicast group was joined for a moment. */
  readonly groups: readonly { readonly interface: string; readonly fault: string | undefined }[];
  /** What was asked of the system for a socket that receives, and what it gave, bytes; undefined: no socket was had. */
  readonly receiveBuffer: { readonly askedBytes: number; readonly gotBytes: number } | undefined;
  /** What the kernel reads the time from; undefined where it does not tell. */
  readonly clockSource: string | undefined;
  /** The governors of the processors, each once; undefined where there are none to be seen. */
  readonly governors: readonly string[] | undefined;
  readonly mayRaisePriority: boolean;
  /** The real-time policy that a process here would run under; undefined for the usual ones. */
  readonly realtime: string | undefined;
  /** Folders that somebody has named. */
  readonly folders: readonly FolderFact[];
  /** Processes that hold a universe or a state folder here. */
  readonly others: readonly OtherFact[];
  readonly unit: UnitFacts | undefined;
}

export interface PortFact {
  readonly input: string;
  readonly at: string;
  readonly fault: string | undefined;
  /** Who has it; undefined where the system does not tell. */
  readonly holder: { readonly pid: number; readonly parent: number | undefined } | undefined;
}

export interface FolderFact {
  /** The option that names it. */
  readonly option: string;
  readonly path: string;
  readonly fault: string | undefined;
  /** It is not there, and `run` makes it. */
  readonly willBeMade?: boolean;
}

export interface OtherFact {
  readonly pid: number | undefined;
  /** What it holds, as `sacn/1/eth0`. */
  readonly holds: readonly string[];
}

/** Reading these costs some tens of nanoseconds; others are devices beside the processor (kernel, timekeeping.rst). */
const QUICK_CLOCKS = ['tsc', 'arch_sys_counter', 'kvm-clock', 'hyperv_clocksource_tsc_page', 'xen'];
/** `MemoryMax=` of the unit. */
const MEMORY_BYTES = 2 * 2 ** 30;
/** The panel takes on 256 connections, which act by as many more for a moment, and has some twenty for itself. */
const OPEN_FILES = 512;
/** With fewer the daemon ends at its start, or can't start its engine again: measured with one input and two outputs. */
const LEAST_OPEN_FILES = 64;

/** A machine before a show. @param show undefined: without one, as far as that goes */
export function checkDoctor(show: Show | undefined, facts: DoctorFacts): Check[] {
  return [
    node(facts),
    ...checkMachine(facts.machine),
    whole(facts),
    openFiles(facts),
    clockSource(facts),
    governor(facts),
    priority(facts),
    receiveBuffer(facts),
    ...facts.folders.map(folder),
    ...(show === undefined ? facts.interfaces.map(link) : checkInterfaces(show, facts)),
    ...facts.groups.map(group),
    ...facts.ports.map(one => port(one, facts.others)),
    others(facts),
    ...unit(facts),
  ];
}

function node({ machine, leastNode }: DoctorFacts): Check {
  const [major = 0, minor = 0] = machine.node.split('.').map(Number);
  const [leastMajor = 0, leastMinor = 0] = leastNode.split('.').map(Number);
  const isEnough = major > leastMajor || (major === leastMajor && minor >= leastMinor);
  return isEnough
    ? pass('machine', 'Node', `${machine.node}.`)
    : fail('machine', 'Node', `${machine.node}.`, `Install Node ${leastNode} or later.`);
}

function whole({ totalMemoryBytes }: DoctorFacts): Check {
  const found = `${(totalMemoryBytes / 2 ** 30).toFixed(1)} GiB in all.`;
  return totalMemoryBytes >= MEMORY_BYTES
    ? pass('machine', 'memory in all', found)
    : warn(
        'machine',
        'memory in all',
        found,
        'The unit lets a show have 2 GiB. A small one needs 0.3 GiB: set `MemoryMax=` to what there is, 1 GiB at least.',
      );
}

function openFiles({ mostOpenFiles, unit: service }: DoctorFacts): Check {
  const name = 'open files';
  const given = Number(service?.directives.get('LimitNOFILE')?.split(':').at(-1));
  if (given >= OPEN_FILES) return pass('machine', name, `the unit allows ${given} a process.`);
  const most = Number.isFinite(given) ? given : mostOpenFiles;
  if (most === undefined) {
    return unknown('machine', name, 'the system does not say how many a process may have.');
  }
  const found = `${most} a process${Number.isFinite(given) ? ', by the unit' : ''}.`;
  if (most >= OPEN_FILES) return pass('machine', name, found);
  const act =
    'Allow more: `LimitNOFILE=4096` in the unit; by hand `ulimit -n 4096`, and where the shell refuses that, a line in /etc/security/limits.conf.';
  return most < LEAST_OPEN_FILES
    ? fail(
        'machine',
        name,
        `${found} The daemon may not start, or not start its engine again.`,
        act,
      )
    : warn('machine', name, `${found} Fewer pages of the panel can look at a time.`, act);
}

function clockSource({ clockSource: source }: DoctorFacts): Check {
  const name = 'clock source';
  if (source === undefined) {
    return unknown('machine', name, 'the system does not say which clock source it uses.');
  }
  return QUICK_CLOCKS.includes(source)
    ? pass('machine', name, `${source}.`)
    : warn(
        'machine',
        name,
        `${source}: reading the clock is slow.`,
        'The kernel log (`journalctl -k | grep -i clocksource`) says why it does not trust the processor clock; a firmware update often fixes it.',
      );
}

function governor({ governors }: DoctorFacts): Check {
  const name = 'processor clock';
  if (governors === undefined) {
    return unknown(
      'machine',
      name,
      'the system has no governor, as is usual in a virtual machine.',
    );
  }
  const found = `governor ${enumerated(governors)}.`;
  return governors.every(one => one === 'performance')
    ? pass('machine', name, found)
    : warn(
        'machine',
        name,
        found,
        'It slows the processor down when it is idle, and the next work is late. For the show: `sudo cpupower frequency-set --governor performance`.',
      );
}

function priority({ mayRaisePriority, realtime, unit: service }: DoctorFacts): Check {
  const name = 'priority';
  if (realtime !== undefined) {
    return fail(
      'machine',
      name,
      `programs started here run under ${realtime}.`,
      'Start it under the usual policy (`chrt --other 0 ...`): under a real-time one two processes can take the whole machine.',
    );
  }
  const given = service?.directives.get('Nice');
  if (given !== undefined) return pass('machine', name, `the unit gives it Nice=${given}.`);
  return mayRaisePriority
    ? pass('machine', name, 'you may raise it: start it with `nice -n -10`.')
    : warn(
        'machine',
        name,
        'when started by hand it shares the processor with everything else.',
        'Run it as a service: the unit gives it priority.',
      );
}

function receiveBuffer({ receiveBuffer: buffer }: DoctorFacts): Check {
  const name = 'receive buffer';
  if (buffer === undefined) return unknown('machine', name, 'no socket could be opened.');
  const { askedBytes, gotBytes } = buffer;
  const found = `${Math.round(gotBytes / 1024)} KiB of ${Math.round(askedBytes / 1024)} KiB requested.`;
  return gotBytes >= askedBytes
    ? pass('machine', name, found)
    : warn(
        'machine',
        name,
        found,
        `A burst of positions may be lost while the machine is busy. As root: \`sysctl -w net.core.rmem_max=${askedBytes}\`, and the same line in /etc/sysctl.d/lampwright.conf.`,
      );
}

function folder({ option, path, fault, willBeMade }: FolderFact): Check {
  const name = `--${option}`;
  return fault === undefined
    ? pass(
        'machine',
        name,
        willBeMade === true
          ? `${path} is not there yet: it will be made.`
          : `${path} can be written.`,
      )
    : fail(
        'machine',
        name,
        `${path} can't be written: ${fault}.`,
        'Name a folder that the user who runs the show can write to.',
      );
}

function link({ name, address, loopback, carrier, multicast }: InterfaceFact): Check {
  const at = `${name}, ${address}`;
  if (loopback) return pass('networks', name, `${at}: this machine itself.`);
  if (carrier === false) {
    return warn(
      'networks',
      name,
      `${at}: no link; the cable is out or the switch is off.`,
      'Follow the cable to the switch.',
    );
  }
  if (multicast === false) {
    return warn(
      'networks',
      name,
      `${at}: multicast is switched off.`,
      `Switch it on (as root: ip link set ${name} multicast on); or use another interface, or addresses instead of multicast groups.`,
    );
  }
  return pass('networks', name, `${at}.`);
}

function group({ interface: name, fault }: DoctorFacts['groups'][number]): Check {
  return fault === undefined
    ? pass('networks', `multicast on ${name}`, 'a group can be joined.')
    : warn(
        'networks',
        `multicast on ${name}`,
        `a group can't be joined: ${fault}.`,
        'Set the interface up, or use unicast there.',
      );
}

function port({ input, at, fault, holder }: PortFact, others: readonly OtherFact[]): Check {
  const name = `port of ${input}`;
  if (fault === undefined) return pass('networks', name, `${at} is free.`);
  // The engine has the ports, and its supervisor the universes; both are called the same.
  if (
    holder !== undefined &&
    others.some(({ pid }) => pid === holder.pid || pid === holder.parent)
  ) {
    return pass(
      'networks',
      name,
      `${at} is used by the running lampwright (process ${holder.pid}).`,
    );
  }
  // The system tells an ordinary user nothing of other users' processes, and the service has a user of its own.
  if (holder === undefined && others.length > 0) {
    return unknown(
      'networks',
      name,
      `${at} is taken, and this user may not see by whom: perhaps by a running lampwright. Ask again with sudo.`,
    );
  }
  return fail('networks', name, fault, 'What listens there is not lampwright, or not this show.');
}

function others({ others: found }: DoctorFacts): Check {
  const name = 'another lampwright';
  if (found.length === 0) return pass('service', name, 'none runs here.');
  const words = found.map(
    ({ pid, holds }) =>
      `${pid === undefined ? "another user's process" : `process ${pid}`} has ${heldInWords(holds)}`,
  );
  return warn(
    'service',
    name,
    `${words.join('; ')}.`,
    'That is right if it is your show. Stop it before you run another one with the same universes.',
  );
}

/** A lock's name is `sacn/UNIVERSE/INTERFACE`, `artnet/PORT-ADDRESS/INTERFACE` or `state/DEVICE:INODE`. */
function heldInWords(holds: readonly string[]): string {
  const words = holds.map(one => {
    const [kind, number, ...rest] = one.split('/');
    if (kind === 'sacn') return `sACN universe ${number} on ${rest.join('/')}`;
    if (kind === 'artnet') return `Art-Net Port-Address ${number} on ${rest.join('/')}`;
    return kind === 'state' ? 'a state folder' : one;
  });
  const each = [...new Set(words)];
  return `${enumerated(each.slice(0, 4))}${each.length > 4 ? ' and more' : ''}`;
}

function unit({ unit: facts }: DoctorFacts): Check[] {
  if (facts === undefined) {
    return [
      warn(
        'service',
        'unit',
        'none is installed: after a restart of this machine nothing is sent.',
        'Install the service: docs/guides/install-as-a-service.md.',
      ),
    ];
  }
  const { lacks, differs } = unitLacks(facts);
  const act = `Compare ${facts.path} with ${facts.shippedPath}.`;
  return [
    lacks.length === 0
      ? pass('service', 'unit', `${facts.path} has all that this version's has.`)
      : warn('service', 'unit', `${facts.path} lacks ${enumerated(lacks)}.`, act),
    ...(differs.length === 0
      ? []
      : [
          warn(
            'service',
            'unit, changed here',
            `${enumerated(differs)}.`,
            `That is right if you meant it. ${act}`,
          ),
        ]),
    facts.enabled.length === 0
      ? warn(
          'service',
          'start with the machine',
          'no show is enabled.',
          '`sudo systemctl enable lampwright@main` for /etc/lampwright/main.show.yaml.',
        )
      : pass('service', 'start with the machine', `${enumerated(facts.enabled)}.`),
  ];
}
