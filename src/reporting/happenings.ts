import { ENABLE_WORDS } from '../engine/enable-reasons.js';
import type { EngineEvent } from '../engine/events.js';
import { unreachable } from '../stage/unreachable.js';

/**
 * An event of the engine in a sentence for the list of what happened, with the labels of the show.
 * @param label of a performer, by name
 * @returns undefined for what is told elsewhere in a report, or would fill it
 */
export function happeningOf(
  event: EngineEvent,
  label: (name: string) => string,
): string | undefined {
  switch (event.kind) {
    case 'feed':
      return event.silent
        ? `nobody was heard any more: the light of ${listed(event.performers.map(label))} began to fade to its safe values`
        : 'the tracking system was heard again';
    case 'desk':
      return event.lost
        ? `the desk was not heard any more${byWhom(event)}`
        : `the desk was heard${byWhom(event)}`;
    case 'stopped':
    case 'resumed': {
      // Of "resumed" it says that nobody is stopped any more, whoever it was.
      const all = event.everybody && (event.kind === 'stopped' || event.performers.length === 0);
      const whom = all ? 'everybody' : listed(event.performers.map(label));
      const how = event.cause === 'restored' ? ', as before the restart' : byWhom(event);
      return `${event.kind} by an operator: ${whom}${how}`;
    }
    case 'tracker': {
      const done = event.change === 'assigned' ? 'given to' : 'taken from';
      const how = event.cause === 'restored' ? ', as before the restart' : byWhom(event);
      return `tracker ${event.tracker} ${done} ${label(event.performer)}${how}`;
    }
    case 'tracker-contact': {
      const { tracker, performer, heard, others } = event;
      return heard
        ? `${label(performer)}: tracker ${tracker} was heard again`
        : `${label(performer)}: tracker ${tracker} was not heard any more, and followed by ${listed(others)} alone`;
    }
    case 'battery': {
      const whose = event.performer === undefined ? 'spare' : label(event.performer);
      const left = `${Math.round(100 * event.charge)} %`;
      return event.low
        ? `${whose}: the battery of tracker ${event.tracker} was low, ${left} left`
        : `${whose}: tracker ${event.tracker} had been charged, ${left}`;
    }
    case 'tracker-frozen': {
      const what = event.frozen ? 'repeated itself to the last bit' : 'moved again';
      return `${label(event.performer)}: tracker ${event.tracker} ${what}`;
    }
    case 'sensor-clock':
      return `input ${event.input}: the clock of the tracking system stepped by ${event.steppedS.toFixed(2)} s`;
    case 'enable': {
      const { fixture, hazard, gate, wasOn, reason } = event;
      const done = gate === 'on' ? 'on' : gate === 'off' ? 'off' : wasOn ? 'dropped' : 'refused';
      const why = reason === undefined ? '' : `: ${ENABLE_WORDS[reason]}`;
      return `${fixture} (${hazard}) ${done}${why}${byWhom(event)}`;
    }
    case 'operator-refused':
      return `an order (${event.action.kind}) was refused: ${event.reason}`;
    case 'stalled':
      return `the engine stood still for ${event.stalledS.toFixed(2)} s: all light began at its safe values`;
    // The phases of performers are told with their losses; the rest has lists and figures of its own.
    case 'performer':
    case 'zone':
    case 'operator-done':
    case 'turn':
    case 'reach':
      return undefined;
    default:
      return unreachable(event);
  }
}

function byWhom({ by }: { readonly by?: string | undefined }): string {
  return by === undefined ? '' : ` (${by})`;
}

export function listed(names: readonly string[]): string {
  if (names.length === 0) return 'everybody';
  if (names.length === 1) return names[0] ?? '';
  return `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
}
