import { unreachable } from '../../stage/unreachable.js';
import { ERRAND_WORDS } from '../lighting/errand-words.js';
import type { LightingEvent, PairMachine, Taken } from '../lighting/events.js';
import { sendFaultInWords } from '../lighting/send-fault-words.js';
import type { Entry } from '../log/log-entry.js';

function oftenInWords({ changes }: { readonly changes?: number }): string {
  return changes === undefined ? '' : ` (it has come or gone ${changes} times since the last line)`;
}

function endedInWords(event: Extract<LightingEvent, { kind: 'sends-ended' }>): string {
  const outputs = event.outputs.map(
    ({ output, count, forS }) =>
      `of output "${output}" ${count === 1 ? '1 packet' : `${count} packets`} could not be sent, over ${forS.toFixed(0)} s`,
  );
  return [...outputs, ...event.errands.map(one => `${one} could not be sent`)].join('; ');
}

function unsentInWords(event: Extract<LightingEvent, { kind: 'send-failed' }>): string {
  const { began, count, sent } = event;
  if (began === true)
    return `${sent > 0 ? 'some ' : ''}packets can't be sent from ${event.interface}`;
  const could = sent > 0 ? `, ${sent} could` : '';
  return `${count === 1 ? '1 packet' : `${count} packets`} could not be sent from ${event.interface}${could}`;
}

/** An event of the lighting sockets in words, with its weight. */
export function describeLighting(event: LightingEvent): Entry {
  const entry = entryOf(event);
  return 'quiet' in event ? { ...entry, level: 'debug' } : entry;
}

function entryOf(event: LightingEvent): Entry {
  switch (event.kind) {
    case 'interface-lost':
      return {
        level: 'error',
        text: `lighting interface ${event.interface} is lost: ${event.reason}${oftenInWords(event)}`,
        data: event,
      };
    case 'interface-back':
      return {
        level: 'info',
        text: `lighting interface ${event.interface} is back, at ${event.address}${oftenInWords(event)}`,
        data: event,
      };
    case 'send-failed':
      return {
        level: 'error',
        text: `output "${event.output}": ${unsentInWords(event)}: ${sendFaultInWords(event.reason)}`,
        data: event,
      };
    case 'sent-again':
      return {
        level: 'info',
        text: `output "${event.output}" sends from ${event.interface} again: ${event.count === 1 ? '1 packet' : `${event.count} packets`} could not be sent, over ${event.forS.toFixed(1)} s`,
        data: event,
      };
    case 'errand-failed':
      return {
        level: 'warn',
        text: `${event.errand} can't be sent from ${event.interface}: ${sendFaultInWords(event.reason)}. ${ERRAND_WORDS[event.errand]}; levels are not affected`,
        data: event,
      };
    case 'errand-sent':
      return {
        level: 'info',
        text: `${event.errand} is sent from ${event.interface} again`,
        data: event,
      };
    case 'sends-ended':
      return {
        level: 'info',
        text: `the sockets on ${event.interface} are closed: ${endedInWords(event)}`,
        data: event,
      };
    case 'left-ended':
      return {
        level: 'info',
        text: `ends sACN streams that the previous daemon left and this show does not have: universe ${event.universes.join(', ')}`,
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
    case 'nodes-unsteady':
      return {
        level: 'warn',
        text: `${unsteadyNodes(event)}: is a cable loose, or the network flooded?`,
        data: event,
      };
    case 'nodes-steady':
      return { level: 'info', text: 'Art-Net nodes no longer come and go', data: event };
    case 'nodes-displaced':
      return {
        level: 'warn',
        text: `more Art-Net nodes answer than the ${event.most} that can be kept: ${event.count} had to make room. Those listed in the show, and those that have answered longest, are kept. Is somebody forging answers?`,
        data: event,
      };
    case 'port-address-crowded':
      return {
        level: 'warn',
        text: `${event.nodes} Art-Net nodes say that they output Port-Address ${event.portAddress} of output "${event.output}": it goes to ${event.most} of them, those listed in the show first`,
        data: event,
      };
    case 'node-silent':
      return {
        level: 'warn',
        text: `no Art-Net node answers at ${event.ip}, where output "${event.output}" sends`,
        data: event,
      };
    case 'node-is-partner':
      return {
        level: 'info',
        text: `the other machine of the pair answers at ${event.ip}, where output "${event.output}" sends: no node is missing there`,
        data: event,
      };
    case 'port-address-unheard':
      return {
        level: 'warn',
        text: `no Art-Net node that answers outputs Port-Address ${event.portAddress} of output "${event.output}"`,
        data: event,
      };
    case 'broadcast-left-out':
      return {
        level: 'error',
        text: `output "${event.output}" lists ${event.address}, the broadcast address of interface ${event.interface}: nothing is sent there: levels are sent to receivers, never to a whole network`,
        data: event,
      };
    case 'output-rejoins': {
      const which = `${event.universes.length === 1 ? 'universe' : 'universes'} ${event.universes.join(', ')}`;
      return {
        level: 'warn',
        text: `output "${event.output}" sends ${which} again, which it could not while other outputs went on: what has changed meanwhile fades out where it was and comes up at its new values`,
        data: event,
      };
    }
    case 'artnet-held':
      return {
        level: 'debug',
        text: event.held
          ? `Art-Net on ${event.interface} is held back: another lampwright sends it, or may`
          : `Art-Net on ${event.interface} is no longer held back`,
        data: event,
      };
    case 'carrier-lost':
      return {
        level: 'error',
        text: `lighting interface ${event.interface} has no carrier: is its cable out, or its switch off?${oftenInWords(event)}`,
        data: event,
      };
    case 'carrier-back':
      return {
        level: 'info',
        text: `lighting interface ${event.interface} has its carrier back${oftenInWords(event)}`,
        data: event,
      };
    case 'interfaces-unread':
      return {
        level: 'error',
        text: `this machine's interfaces can't be listed (${event.reason}): the last known ones are used`,
        data: event,
      };
    case 'interfaces-read':
      return {
        level: 'info',
        text: "this machine's interfaces can be listed again",
        data: event,
      };
    case 'other-source':
      return describeOther(event);
    case 'other-source-gone':
      return {
        level: 'info',
        text: `${event.partner === undefined ? `${event.name} at ${event.address}` : partnerInWords(event, event.partner)} no longer sends ${event.universes === undefined ? 'on our universes' : whereOf({ ...event, universes: event.universes })}`,
        data: event,
      };
    case 'more-sources':
      return {
        level: 'warn',
        text: `${event.more} more ${event.more === 1 ? 'source sends' : 'sources send'} on our universes: is the network flooded?`,
        data: event,
      };
    case 'listener-closed':
      return {
        level: 'warn',
        text: `too much comes in on our universes on ${event.interface}: other sources are ignored for ${event.forS} s`,
        data: event,
      };
    default:
      return unreachable(event);
  }
}

type OtherSource = Extract<LightingEvent, { kind: 'other-source' }>;

function describeOther(event: OtherSource): Entry {
  if (event.partner !== undefined) return describePartner(event, event.partner);
  const { name, address, priority, conflict, sameIdentity } = event;
  const rank = priority === undefined ? '' : `, priority ${priority}`;
  const also = `"${name}" at ${address} sends on our ${whereOf(event)} too${rank}`;
  if (!conflict) {
    return { level: 'info', text: `${also}: that is below ours, and not taken`, data: event };
  }
  const why = sameIdentity
    ? 'with our own CID, as a copy of this machine would: receivers mix the two up'
    : 'receivers take it instead of us, or mix the two';
  return { level: 'error', text: `${also}: ${why}`, data: event };
}

function describePartner(event: OtherSource, partner: PairMachine): Entry {
  const { priority, ourPriority, taken, otherShow } = event;
  const above = { ours: 'below', theirs: 'above', both: 'the same as' }[taken];
  const rank = priority === undefined ? '' : `, priority ${priority}, ${above} our ${ourPriority}`;
  if (otherShow) {
    const which = partner === 'main' ? 'a main machine' : 'a standby';
    const text = `"${event.name}" at ${event.address} sends on our ${whereOf(event)} too${rank}: ${which} with a show of another name. If it is the other machine of this pair, load the same show on both; if not, give each pair its own universes`;
    return { level: 'warn', text, data: event };
  }
  const also = `${partnerInWords(event, partner)} sends on ${whereOf(event)}${rank}`;
  const words = PARTNER_WORDS[event.protocol][partner][taken];
  // Two that send alike are for the moment of a change of parts.
  const level = taken === 'both' ? 'warn' : 'info';
  return { level, text: `${also}: ${words}`, data: event };
}

/** What becomes of the light of the two, by which of them the other one is. */
const PARTNER_WORDS: Readonly<
  Record<OtherSource['protocol'], Record<PairMachine, Record<Taken, string>>>
> = {
  sacn: {
    main: {
      ours: 'receivers take this machine until that one leads',
      theirs: 'receivers take that one',
      both: 'receivers mix the two',
    },
    standby: {
      ours: 'receivers take this machine',
      theirs: 'receivers take that one until this machine leads',
      both: 'receivers mix the two',
    },
  },
  artnet: {
    main: {
      ours: 'nodes take this machine',
      theirs: 'this machine sends none',
      both: 'so does this machine, and nodes merge the two',
    },
    standby: {
      ours: 'nodes take this machine',
      theirs: 'this machine sends none until it leads',
      both: 'so does this machine, and nodes merge the two. Does the standby hear it (UDP 6454)?',
    },
  },
};

function partnerInWords(
  { name, address }: Pick<OtherSource, 'name' | 'address'>,
  partner: PairMachine,
): string {
  const which = partner === 'main' ? 'the main machine' : 'the standby';
  return `${which} of this pair ("${name}" at ${address})`;
}

function whereOf({ protocol, universes }: Pick<OtherSource, 'protocol' | 'universes'>): string {
  const [one, many] =
    protocol === 'sacn' ? ['universe', 'universes'] : ['Port-Address', 'Port-Addresses'];
  return `${universes.length === 1 ? one : many} ${universes.join(', ')}`;
}

/** Of nodes that were not told of one by one. */
function unsteadyNodes({ came, went }: { came: number; went: number }): string {
  return `Art-Net nodes come and go: besides those that are listed here ${came} came and ${went} went`;
}
