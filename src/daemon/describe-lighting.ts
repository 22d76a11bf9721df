import { unreachable } from '../stage/unreachable.js';
import { ERRAND_WORDS } from './lighting/errand-words.js';
import type { LightingEvent } from './lighting/events.js';
import { unsteadyNodes } from './lighting/node-words.js';
import type { Entry } from './log-entry.js';

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
        text: `output "${event.output}": ${event.count === 1 ? '1 packet' : `${event.count} packets`} could not be sent from ${event.interface}${event.sent > 0 ? `, ${event.sent} could` : ''}: ${event.reason}`,
        data: event,
      };
    case 'sent-again':
      return {
        level: 'info',
        text: `output "${event.output}" sends from ${event.interface} again: ${event.count === 1 ? '1 packet' : `${event.count} packets`} could not be sent, over ${event.forS.toFixed(0)} s`,
        data: event,
      };
    case 'errand-failed':
      return {
        level: 'warn',
        text: `${event.errand} can't be sent from ${event.interface}: ${event.reason}. ${ERRAND_WORDS[event.errand]}; levels are not affected`,
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
          ? `Art-Net on ${event.interface} is held back: the other machine of the pair sends it, or may`
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
        text: `${event.name} at ${event.address} no longer sends on our universes`,
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

function describeOther(event: Extract<LightingEvent, { kind: 'other-source' }>): Entry {
  const { protocol, universes, name, address, priority, conflict, sameIdentity, otherShow } = event;
  const what = protocol === 'sacn' ? 'universe' : 'Port-Address';
  const where = `${what}${universes.length === 1 ? '' : 'es'} ${universes.join(', ')}`;
  const rank = priority === undefined ? '' : `, priority ${priority}`;
  const also = `"${name}" at ${address} sends on our ${where} too${rank}`;
  if (otherShow && !conflict) {
    const text = `${also}: the other machine of the pair runs a show of another name; is it the same show?`;
    return { level: 'warn', text, data: event };
  }
  if (!conflict) return { level: 'info', text: `${also}: receivers take ours`, data: event };
  const why = sameIdentity
    ? 'with our own CID, as a copy of this machine would: receivers mix the two up'
    : 'receivers take it instead of us, or mix the two';
  return { level: 'error', text: `${also}: ${why}`, data: event };
}
