import { ENABLE_WORDS } from '../engine/enable-words.js';
import { unreachable } from '../stage/unreachable.js';
import {
  describeBattery,
  describeClock,
  describeContact,
  describeFrozen,
} from './describe-trackers.js';
import type { EngineCounters, EngineNews } from './engine-link.js';
import type { LightingEvent } from './lighting/events.js';
import { answerInWords, stopsInWords } from './operator/answers.js';
import type { PairPhase } from './pair.js';
import type { SupervisorEvent } from './supervisor.js';

type LostFrames = Extract<SupervisorEvent, { kind: 'frames-lost' }>;

export interface Entry {
  readonly level: 'debug' | 'info' | 'warn' | 'error';
  readonly text: string;
  /** The event as data, for a machine that reads the log. */
  readonly data: object;
}

const PAIR_WORDS: Readonly<Record<PairPhase, Omit<Entry, 'data'>>> = {
  listening: { level: 'info', text: 'pair: listening for a standby' },
  joining: {
    level: 'info',
    text: 'pair: a standby has taken over: this machine sends below it until its light is the same',
  },
  leading: { level: 'info', text: 'pair: this machine leads' },
  'standing-by': { level: 'info', text: 'pair: the main machine is heard: standing by' },
  'standing-in': {
    level: 'error',
    text: 'pair: the main machine is silent: receivers take this one',
  },
};

/** An event in words, with its weight: what the log and the live view show. */
export function describe(event: SupervisorEvent): Entry {
  switch (event.kind) {
    case 'lights': {
      const { from, to, cause } = event;
      const level = to === 'losing' ? 'error' : 'info';
      return { level, text: `lights: ${from} -> ${to} (${cause})`, data: event };
    }
    case 'engine-started':
      return { level: 'info', text: `engine started, process ${event.pid}`, data: event };
    case 'engine-ended':
      return {
        level: 'error',
        text: `engine gone: ${event.reason}; starting it again in ${event.again} s`,
        data: event,
      };
    case 'engine-said':
      return { level: 'warn', text: `engine says: ${event.line}`, data: event };
    case 'engine':
      return describeEngine(event.event);
    case 'lighting':
      return describeLighting(event.event);
    case 'engine-too-large':
      return {
        level: 'error',
        text: `engine has ${event.rssMiB} MiB of memory, where ${event.limitMiB} are the limit: it is started anew`,
        data: event,
      };
    case 'ticks-late':
      return {
        level: 'warn',
        text: `${event.late} ticks were late in the last ${event.inS} s: the machine is too slow, or busy with something else`,
        data: event,
      };
    case 'frames-lost':
      return { level: 'warn', text: lostInWords(event), data: event };
    case 'realtime-policy':
      return {
        level: 'warn',
        text: `this process runs under the real-time policy ${event.policy}: a garbage collection may then take the whole machine for minutes; run it at nice -10 instead`,
        data: event,
      };
    case 'state-restored':
      return {
        level: 'info',
        text: `what was changed before the restart is done again: ${event.entries} orders, from ${event.file}`,
        data: event,
      };
    case 'state-unreadable':
      return {
        level: 'error',
        text: `${event.file} can't be used, all begins as the show says: ${event.reason}`,
        data: event,
      };
    case 'state-unsaved':
      return {
        level: 'error',
        text: `what was changed can't be kept in ${event.file}: ${event.reason}; it is tried again`,
        data: event,
      };
    case 'state-saved':
      return {
        level: 'info',
        text: `what was changed is kept in ${event.file} again`,
        data: event,
      };
    case 'input-blocked':
      return {
        level: 'error',
        text: `nobody can be tracked yet: ${event.problems.join(' | ')} The safe look is out, and it is tried again`,
        data: event,
      };
    case 'show-stale':
      return {
        level: 'error',
        text: `the show file can't be used: the show that was accepted last runs in its place. Mend the file and reload: ${event.problems.join(' | ')}`,
        data: event,
      };
    case 'accepted-unsaved':
      return {
        level: 'error',
        text: `the show can't be kept in ${event.file}, for a restart when its file is broken: ${event.reason}`,
        data: event,
      };
    case 'identity-unkept':
      return {
        level: 'error',
        text: `the identity of this source can't be kept in ${event.file}, one made of machine and show file is used: ${event.reason}`,
        data: event,
      };
    case 'reloaded':
      return {
        level: 'info',
        text: `show "${event.show}" is loaded${askedBy(event)}: fading to its safe look, then it takes over`,
        data: event,
      };
    case 'reload-refused':
      return {
        level: 'error',
        text: `not loaded${askedBy(event)}, the show that was running runs on: ${event.problems.map(withoutExcerpt).join(' | ')}`,
        data: event,
      };
    case 'stood-still':
      return {
        level: 'error',
        text: `stood still for ${event.forS.toFixed(2)} s: nothing was sent in that time`,
        data: event,
      };
    case 'service-fault':
      return {
        level: 'error',
        text: `the service manager can't be told how the daemon is: systemd-notify: ${event.reason}`,
        data: event,
      };
    case 'flashes-held':
      return {
        level: 'warn',
        text: `flash limit: ${event.fixtures === 1 ? 'a lamp that was to rise is' : `${event.fixtures} lamps that were to rise are`} held back`,
        data: event,
      };
    case 'light-resumed':
      return {
        level: 'error',
        text: 'a daemon with this show has died just now: its light goes on from where it was to the safe look',
        data: event,
      };
    case 'pair':
      return { ...PAIR_WORDS[event.to], data: event };
    case 'stopping':
      return { level: 'info', text: 'stopping: fading to the safe look', data: event };
    case 'stopped':
      return { level: 'info', text: 'stopped', data: event };
    default:
      return unreachable(event);
  }
}

/** A line of log is one line; where a file is wrong is in the data as well. */
function withoutExcerpt(problem: string): string {
  return problem.split('\n')[0] ?? '';
}

function describeEnable(event: Extract<EngineNews, { kind: 'enable' }>): Entry {
  const { fixture, hazard, gate, wasOn, reason } = event;
  const done = gate === 'on' ? 'on' : gate === 'off' ? 'off' : wasOn ? 'dropped' : 'refused';
  const why = reason === undefined ? '' : `: ${ENABLE_WORDS[reason]}`;
  const level = gate === 'spent' ? 'warn' : 'info';
  return { level, text: `${fixture}: ${hazard} ${done}${why}${askedBy(event)}`, data: event };
}

function describeStop(event: Extract<EngineNews, { kind: 'stopped' | 'resumed' }>): Entry {
  const { performers, everybody, stillStopped, stopOfEverybody } = event;
  // Of "resumed" it says that nobody is stopped any more, whoever it was.
  const all = everybody && (event.kind === 'stopped' || performers.length === 0);
  const who = all ? 'everybody' : performers.join(', ');
  const others = stillStopped.filter(name => !performers.includes(name));
  const rest = everybody ? '' : stopsInWords(others, stopOfEverybody);
  const how = event.cause === 'restored' ? ', as before the restart' : askedBy(event);
  return { level: 'warn', text: `${who} ${event.kind}${how}.${rest}`, data: event };
}

function askedBy({ by }: { readonly by?: string | undefined }): string {
  return by === undefined ? '' : ` (by ${by})`;
}

function describeEngine(event: EngineNews): Entry {
  switch (event.kind) {
    case 'performer': {
      const cause = event.cause === undefined ? '' : ` (${event.cause})`;
      const level = event.to === 'losing' ? 'warn' : 'info';
      return {
        level,
        text: `${event.performer}: ${event.from} -> ${event.to}${cause}, confidence ${event.confidence.toFixed(2)}`,
        data: event,
      };
    }
    case 'feed':
      return event.silent
        ? { level: 'error', text: 'tracking feed is silent: nobody is heard', data: event }
        : { level: 'info', text: 'tracking feed is heard', data: event };
    case 'zone':
      return {
        level: 'debug',
        text: `${event.performer} ${event.inside ? 'enters' : 'leaves'} ${event.zone}`,
        data: event,
      };
    case 'tracker': {
      const done = event.change === 'assigned' ? 'given to' : 'taken from';
      return {
        level: 'info',
        text: `tracker ${event.tracker} ${done} ${event.performer}${event.cause === 'restored' ? ', as before the restart' : askedBy(event)}`,
        data: event,
      };
    }
    case 'tracker-contact':
      return describeContact(event);
    case 'battery':
      return describeBattery(event);
    case 'tracker-frozen':
      return describeFrozen(event);
    case 'sensor-clock':
      return describeClock(event);
    case 'operator-done':
      return { level: 'debug', text: answerInWords(event), data: event };
    case 'operator-refused':
      return {
        level: 'warn',
        text: `${event.action.kind} refused: ${event.reason}${askedBy(event.action)}`,
        data: event,
      };
    case 'stopped':
    case 'resumed':
      return describeStop(event);
    case 'stalled':
      return {
        level: 'error',
        text: `engine: a tick came ${event.stalledS.toFixed(2)} s late; all light begins at its safe values`,
        data: event,
      };
    case 'desk':
      return event.lost
        ? {
            level: event.required ? 'error' : 'warn',
            text: `nothing is heard from the desk${event.required ? ': all light to its safe values' : ''}`,
            data: event,
          }
        : { level: 'info', text: `the desk is heard${askedBy(event)}`, data: event };
    case 'enable':
      return describeEnable(event);
    case 'turn':
      return {
        level: 'info',
        text: `${event.fixture} turns back in the dark: ${event.performer} is past the end of its pan`,
        data: event,
      };
    case 'reach':
      return event.reachable
        ? { level: 'info', text: `${event.fixture} can reach its point again`, data: event }
        : {
            level: 'warn',
            text: `${event.fixture} can't reach its point: ${event.missedByDeg.toFixed(1)} degrees short`,
            data: event,
          };
    case 'recording': {
      const level = event.state === 'well' ? 'info' : 'error';
      return { level, text: event.message, data: event };
    }
    case 'input-fault':
      return { level: 'error', text: event.message, data: event };
    case 'input-back':
      return { level: 'info', text: event.message, data: event };
    case 'tick':
      return { level: 'info', text: 'tick', data: event };
    default:
      return unreachable(event);
  }
}

function lostInWords({ late, skipped, messages, inS }: LostFrames): string {
  const parts = [
    [late, 'came after their time'],
    [skipped, 'were not handed over, as those before had not been taken'],
    [messages, 'messages had no room'],
  ] as const;
  const told = parts.flatMap(([count, what]) => (count === 0 ? [] : [`${count} ${what}`]));
  return `frames of the engine, in the last ${inS} s: ${told.join(', ')}: the machine is too slow, or busy with something else`;
}

function describeLighting(event: LightingEvent): Entry {
  switch (event.kind) {
    case 'interface-lost':
      return {
        level: 'error',
        text: `lighting interface ${event.interface} is lost: ${event.reason}`,
        data: event,
      };
    case 'interface-back':
      return {
        level: 'info',
        text: `lighting interface ${event.interface} is back, at ${event.address}`,
        data: event,
      };
    case 'send-failed':
      return {
        level: 'error',
        text: `${event.count === 1 ? '1 packet' : `${event.count} packets`} could not be sent from ${event.interface}: ${event.reason}`,
        data: event,
      };
    case 'poll-port-taken':
      return {
        level: 'warn',
        text: `another program on this machine uses the Art-Net port on ${event.interface}: levels are sent, but nodes can't be asked who they are`,
        data: event,
      };
    case 'node-found':
      return {
        level: 'info',
        text: `Art-Net node ${event.name} at ${event.ip} answers, Port-Addresses ${event.portAddresses.join(', ') || 'none'}`,
        data: event,
      };
    case 'node-gone':
      return {
        level: 'warn',
        text: `Art-Net node ${event.name} at ${event.ip} no longer answers`,
        data: event,
      };
    case 'node-silent':
      return {
        level: 'warn',
        text: `no Art-Net node answers at ${event.ip}, where output "${event.output}" sends`,
        data: event,
      };
    case 'port-address-unheard':
      return {
        level: 'warn',
        text: `no Art-Net node that answers puts out Port-Address ${event.portAddress} of output "${event.output}"`,
        data: event,
      };
    case 'broadcast-left-out':
      return {
        level: 'error',
        text: `output "${event.output}" lists ${event.address}, the broadcast address of interface ${event.interface}: nothing is sent there; levels go to receivers, and to no network as a whole`,
        data: event,
      };
    case 'carrier-lost':
      return {
        level: 'error',
        text: `lighting interface ${event.interface} has no carrier: is its cable out, or its switch off?`,
        data: event,
      };
    case 'carrier-back':
      return {
        level: 'info',
        text: `lighting interface ${event.interface} has its carrier back`,
        data: event,
      };
    case 'interfaces-unread':
      return {
        level: 'error',
        text: `the interfaces of this machine can't be listed (${event.reason}): those last known count`,
        data: event,
      };
    case 'interfaces-read':
      return {
        level: 'info',
        text: 'the interfaces of this machine are listed again',
        data: event,
      };
    case 'other-source':
      return describeOther(event);
    case 'other-source-gone':
      return {
        level: 'info',
        text: `${event.name} at ${event.address} no longer sends on our universes`,
        data: event,
      };
    case 'ears-closed':
      return {
        level: 'warn',
        text: `too much comes in on our universes by ${event.interface}: other sources are not listened to for ${event.forS} s`,
        data: event,
      };
    default:
      return unreachable(event);
  }
}

function describeOther(event: Extract<LightingEvent, { kind: 'other-source' }>): Entry {
  const { protocol, universes, name, address, priority, conflict, sameIdentity } = event;
  const what = protocol === 'sacn' ? 'universe' : 'Port-Address';
  const where = `${what}${universes.length === 1 ? '' : 'es'} ${universes.join(', ')}`;
  const rank = priority === undefined ? '' : `, priority ${priority}`;
  const also = `"${name}" at ${address} sends on our ${where} too${rank}`;
  if (!conflict) return { level: 'info', text: `${also}: ours is taken`, data: event };
  const why = sameIdentity
    ? 'with our own CID, as a copy of this machine would: receivers mix the two up'
    : 'receivers take it instead of us, or mix the two';
  return { level: 'error', text: `${also}: ${why}`, data: event };
}

/** What was dropped since the last report, in words; undefined where nothing was. */
export function describeDrops(
  now: EngineCounters,
  before: EngineCounters | undefined,
): Entry | undefined {
  const drops: Record<string, number> = {};
  for (const [reason, count] of Object.entries(now.drops)) {
    const since = count - (before?.drops[reason as keyof typeof now.drops] ?? 0);
    if (since > 0) drops[reason] = since;
  }
  const names = Object.entries(drops);
  if (names.length === 0) return undefined;
  const text = `input dropped: ${names.map(([reason, count]) => `${count} ${reason}`).join(', ')}`;
  return { level: 'warn', text, data: { kind: 'dropped', drops } };
}
