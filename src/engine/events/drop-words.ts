import type { DropReason } from '../values/counters.js';
import { counted } from './event-words.js';

/** What was dropped, in the singular, and why: "message", "with an address that no route of the show has". */
const WORDS: Readonly<Record<DropReason, readonly [thing: string, why: string]>> = {
  'too-long': ['datagram', 'longer than the input takes'],
  'not-multiple-of-4': ['datagram', 'of a length that no OSC packet has'],
  'not-osc': ['datagram', 'of something other than OSC'],
  'bundle-structure': ['bundle', 'with a broken structure'],
  'bundle-too-deep': ['bundle', 'nested too deeply'],
  'time-tag-order': ['bundle', 'timed before the one around it'],
  'message-malformed': ['message', 'with a broken structure'],
  'unknown-type-tag': ['message', 'with an argument of an unknown type'],
  'nested-array': ['message', 'with an array in an array'],
  'too-many-brackets': ['message', 'with too many arrays'],
  'no-route': ['message', 'with an address that no route of the show has'],
  'pattern-address': ['message', 'with an address pattern that does not name a single tracker'],
  'argument-count': ['message', 'with fewer or more arguments than their route'],
  'argument-type': ['message', 'with an argument that is not a number'],
  'not-finite': ['position', 'with a number that is not finite'],
  'quality-range': ['position', 'with a quality outside its scale'],
  'tracker-name': [
    'position',
    'with a name of a tracker that is empty, too long, or not printable',
  ],
  'axis-missing': ['position', 'with an axis missing'],
  'not-psn': ['datagram', 'of something other than PosiStageNet 2'],
  'psn-version': ['datagram', 'of another version of PosiStageNet'],
  'psn-structure': ['datagram', 'of PosiStageNet with a broken structure'],
  'no-position': ['tracker report', 'without a position'],
  'no-order': ['message', 'with an address that is not an order'],
  'order-arguments': ['order', 'with arguments that it does not take'],
  'position-range': ['position', 'farther away than any stage: a unit, or a broken sensor'],
  'battery-range': ['battery charge', 'outside 0 to 1, the positions were used: is it per cent?'],
  'unknown-tracker': ['position', 'of a tracker that nobody in the show wears'],
  'unknown-performer': ['order', 'for a performer whom the show does not have'],
  'unknown-hazard': ['order', 'to enable a class of hazard that the show has nothing of'],
  'unknown-cue': ['order', 'for a cue that the show does not have'],
  'unknown-mapping': ['order', 'of the main machine, about a mapping that the show does not have'],
  'pin-impossible': ['order', "to pin a head that does not choose, or to somebody it can't follow"],
  'order-too-late': [
    'order',
    'read after the engine had stood still for more than 3 s, so that nobody knows how old they were',
  ],
  'order-lost': ['order', 'that came while no engine answered: give them again'],
  'time-tag-too-late': ['message', 'to be held for too long: the clock of the sender is wrong'],
  'too-many-held': ['message', 'too many to be held for their time tag'],
  'inbox-full': ['datagram', 'more at once than there was room for'],
  'socket-full': [
    'datagram',
    'dropped by the system before this program could read them: a flood, or a machine that is too busy',
  ],
  'sender-not-allowed': ['datagram', 'from a machine that the show does not allow'],
};

/** "3 messages with an address that no route of the show has". */
export function dropInWords(reason: DropReason, count: number): string {
  const [thing, why] = WORDS[reason];
  return `${counted(count, thing)} ${why}`;
}

/** The same without a number, for a list. */
export function dropsNamed(reason: DropReason): string {
  const [thing, why] = WORDS[reason];
  return `${thing}s ${why}`;
}
