import { createSocket, type Socket } from 'node:dgram';
import { accessSync, constants, readdirSync, readFileSync, statSync } from 'node:fs';
import { getPriority, constants as osConstants, setPriority, totalmem } from 'node:os';
import { dirname, resolve } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { multicastGroup } from '../../protocols/sacn/multicast.js';
import { DISCOVERY_UNIVERSE } from '../../protocols/sacn/options.js';
import type { DoctorFacts, FolderFact, PortFact } from '../../readiness/doctor.js';
import type { Show } from '../../show/model/model.js';
import { messageOf } from '../../stage/message-of.js';
import { blockedInputs, RECEIVE_BUFFER_BYTES } from '../engine/input-socket.js';
import { inPlainWords } from '../files/read-file.js';
import { interfacesDown } from '../lighting/interfaces.js';
import { descriptorLimit } from '../machine/descriptor-limit.js';
import { dropSocket } from '../machine/drop-socket.js';
import { heldNames, udpPortOwner } from '../machine/process-of.js';
import { realtimePolicy } from '../machine/scheduling.js';
import { lookAtUnit } from '../service/look-at-unit.js';
import { readInterfaces, readRoutes } from './machine.js';
import { watchMachine } from './watch-machine.js';

/** So long the clocks are watched. */
const WATCHED_MS = 1000;
const CLOCK_SOURCE = '/sys/devices/system/clocksource/clocksource0/current_clocksource';
const PROCESSORS = '/sys/devices/system/cpu';
/** A little above the usual: whether a process may do that at all is the question. */
const RAISED = osConstants.priority.PRIORITY_ABOVE_NORMAL;

/** What is to be looked at beside the machine itself. */
export interface DoctorQuestion {
  readonly show: Show | undefined;
  /** Folders that will be written, by the option that names them. */
  readonly folders: ReadonlyMap<string, string>;
  readonly leastNode: string;
  /** The unit of this version. */
  readonly shippedUnit: string;
}

/** Looks at this machine. Sends nothing; a port or a group is taken for a moment and given back. */
export async function lookAtMachine(question: DoctorQuestion): Promise<DoctorFacts> {
  const { show, folders, leastNode, shippedUnit } = question;
  const watched = watchMachine('.');
  const interfaces = readInterfaces();
  const [ports, probe] = await Promise.all([portsOf(show), probeSocket(), sleep(WATCHED_MS)]);
  const groups = interfaces
    .filter(({ loopback, multicast }) => !loopback && multicast !== false)
    .map(({ name, address }) => ({ interface: name, fault: joinFault(probe, address) }));
  const receiveBuffer = bufferOf(probe);
  if (probe !== undefined) dropSocket(probe);
  return {
    machine: await watched(),
    leastNode,
    totalMemoryBytes: totalmem(),
    mostOpenFiles: descriptorLimit(),
    interfaces,
    down: interfacesDown(),
    routes: readRoutes(),
    ports,
    groups,
    receiveBuffer,
    clockSource: lineOf(CLOCK_SOURCE),
    governors: governors(),
    mayRaisePriority: mayRaisePriority(),
    realtime: realtimePolicy(),
    folders: [...folders].map(([option, path]) => folderFact(option, path)),
    others: heldNames('lampwright/'),
    unit: lookAtUnit(shippedUnit),
  };
}

async function portsOf(show: Show | undefined): Promise<PortFact[]> {
  const facts: PortFact[] = [];
  for (const input of show?.inputs ?? []) {
    const [fault] = await blockedInputs([input]);
    const pid = fault === undefined ? undefined : udpPortOwner(input.port)?.pid;
    const holder = pid === undefined ? undefined : { pid, parent: parentOf(pid) };
    facts.push({ input: input.name, at: `${input.listen}:${input.port}`, fault, holder });
  }
  return facts;
}

/** proc_pid_stat(5): the fourth field, the second behind the name in brackets. */
function parentOf(pid: number): number | undefined {
  const stat = lineOf(`/proc/${pid}/stat`);
  return stat === undefined
    ? undefined
    : Number(stat.slice(stat.lastIndexOf(')') + 2).split(' ')[1]);
}

/** A socket on a port that the system chooses; undefined where it gives none. */
function probeSocket(): Promise<Socket | undefined> {
  return new Promise(resolve => {
    const socket = createSocket('udp4');
    socket.once('error', () => {
      dropSocket(socket);
      resolve(undefined);
    });
    socket.bind(0, () => resolve(socket));
  });
}

/** By the group of universe discovery, on which nothing but sources is heard. */
function joinFault(socket: Socket | undefined, address: string): string | undefined {
  if (socket === undefined) return 'no socket could be opened';
  const group = multicastGroup(DISCOVERY_UNIVERSE);
  try {
    socket.addMembership(group, address);
    socket.dropMembership(group, address);
    return undefined;
  } catch (error) {
    return messageOf(error);
  }
}

function bufferOf(socket: Socket | undefined): DoctorFacts['receiveBuffer'] {
  if (socket === undefined) return undefined;
  try {
    socket.setRecvBufferSize(RECEIVE_BUFFER_BYTES);
    // Linux doubles what was asked for, for its own use, and says so (socket(7)).
    return { askedBytes: RECEIVE_BUFFER_BYTES, gotBytes: socket.getRecvBufferSize() / 2 };
  } catch {
    return undefined;
  }
}

function governors(): string[] | undefined {
  let entries: string[];
  try {
    entries = readdirSync(PROCESSORS);
  } catch {
    return undefined;
  }
  const found = entries
    .filter(entry => /^cpu\d+$/.test(entry))
    .flatMap(entry => lineOf(`${PROCESSORS}/${entry}/cpufreq/scaling_governor`) ?? []);
  return found.length === 0 ? undefined : [...new Set(found)];
}

function lineOf(file: string): string | undefined {
  try {
    return readFileSync(file, 'utf8').trim();
  } catch {
    return undefined;
  }
}

function mayRaisePriority(): boolean {
  const usual = getPriority();
  if (usual <= RAISED) return true;
  try {
    setPriority(RAISED);
    setPriority(usual);
    return true;
  } catch {
    return false;
  }
}

function folderFact(option: string, path: string): FolderFact {
  try {
    if (!statSync(path).isDirectory()) return { option, path, fault: 'it is a file, not a folder' };
    accessSync(path, constants.W_OK | constants.X_OK);
    return { option, path, fault: undefined };
  } catch (error) {
    if (isMissing(error)) return unmadeFolder(option, path);
    return { option, path, fault: inPlainWords(error, 'written') };
  }
}

/** `run` makes a folder, and those above it: the nearest that is there has to let it. */
function unmadeFolder(option: string, path: string): FolderFact {
  let above = dirname(resolve(path));
  for (;;) {
    try {
      if (!statSync(above).isDirectory()) {
        return { option, path, fault: `${above} is a file, not a folder` };
      }
      accessSync(above, constants.W_OK | constants.X_OK);
      return { option, path, fault: undefined, willBeMade: true };
    } catch (error) {
      if (!isMissing(error) || above === dirname(above)) {
        return {
          option,
          path,
          fault: `it can't be made in ${above}: ${inPlainWords(error, 'written')}`,
        };
      }
      above = dirname(above);
    }
  }
}

function isMissing(error: unknown): boolean {
  return (error as NodeJS.ErrnoException).code === 'ENOENT';
}
