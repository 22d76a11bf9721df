import {
  actionInWords,
  actionSentInWords,
  askedBy,
  batteryUnitInWords,
  enableInWords,
  exitInWords,
  fadeInWords,
  highlightInWords,
  listed,
  mappingInWords,
  pinInWords,
  trackersNamed,
  whereaboutsInWords,
  whoAsked,
} from '../../engine/events/event-words.js';
import type { EngineEvent } from '../../engine/events/events.js';
import { HEARD_BUT_WORDS } from '../../safety/heard-but.js';
import type { Labels } from '../../show/model/labels.js';
import { unreachable } from '../../stage/unreachable.js';

/**
 * An event of the engine as a sentence for the list of what happened, with the labels of the show.
 * @returns undefined for events that a report has elsewhere, or that would fill it
 */
export function happeningOf(
  event: EngineEvent,
  labels: Pick<Labels, 'performer' | 'fixture' | 'cue' | 'exit' | 'receiver'>,
): string | undefined {
  const { performer: label, fixture, cue } = labels;
  switch (event.kind) {
    case 'feed':
      if (!event.silent) return 'the tracking system was heard';
      if (event.neverHeard === true) return 'no position had come since the engine started';
      return event.performers.length === 0
        ? 'nobody was heard any more'
        : `nobody was heard any more: the light of ${listed(event.performers.map(label))} began to fade to its safe values`;
    case 'signal':
      if (!event.silent) return `signal ${event.signal} was heard`;
      return event.neverHeard === true
        ? `signal ${event.signal} had not been heard since the engine started`
        : `signal ${event.signal} was not heard any more`;
    case 'desk':
      return event.lost
        ? `the desk was not heard any more${fromWhere(event)}`
        : `the desk was heard${fromWhere(event)}`;
    case 'stopped':
    case 'resumed': {
      // For "resumed" it means that nobody is stopped any more, whoever it was.
      const all = event.everybody && (event.kind === 'stopped' || event.performers.length === 0);
      const whom = all ? 'everybody' : listed(event.performers.map(label));
      const were = all || event.performers.length === 1 ? 'was' : 'were';
      if (event.cause === 'restored') {
        return `${whom} ${were} ${event.kind === 'stopped' ? 'still stopped' : 'resumed'}, as before`;
      }
      return `${whom} ${were} ${event.kind} by ${whoAsked(event) ?? 'an operator'}`;
    }
    case 'action':
      return actionSentInWords(event, labels).replace(' is sent ', ' was sent ');
    case 'off-stage':
      return offStageWas(event, labels);
    case 'tracker': {
      const { tracker, change, takenFrom } = event;
      const from = takenFrom === undefined ? '' : `taken from ${label(takenFrom)} and `;
      const done = change === 'assigned' ? `${from}given to` : 'taken from';
      const how = event.cause === 'restored' ? ', as before' : askedBy(event);
      const performer = label(event.performer);
      const where =
        event.unheard === true
          ? ', but nothing had come from it'
          : whereaboutsInWords(event, performer);
      return `tracker ${tracker} was ${done} ${performer}${how}${where}`;
    }
    case 'tracker-contact': {
      const { tracker, performer, heard, others } = event;
      if (event.told === true) return undefined;
      if (heard) return `${label(performer)}: tracker ${tracker} was heard again`;
      const light = others.length === 0 ? '' : `; the light followed ${trackersNamed(others)}`;
      return `${label(performer)}: tracker ${tracker} was not heard any more${light}`;
    }
    case 'battery': {
      const whose = event.performer === undefined ? 'spare' : label(event.performer);
      const left = `${Math.round(100 * event.charge)} %`;
      return event.low
        ? `${whose}: the battery of tracker ${event.tracker} was low, ${left} left`
        : `${whose}: tracker ${event.tracker} had been charged or its battery changed, ${left}`;
    }
    case 'battery-unit':
      return batteryUnitInWords(event, label);
    case 'tracker-frozen': {
      const what = event.frozen ? 'was frozen (it repeated the same position)' : 'moved again';
      return `${label(event.performer)}: tracker ${event.tracker} ${what}`;
    }
    case 'trackers-apart':
      return event.trackers.length === 0
        ? `${label(event.performer)}: ${event.wearsOne === true ? 'wore one tracker again' : 'the trackers agreed again'}`
        : `${trackersNamed(event.trackers)} of ${label(event.performer)} were ${event.apartM.toFixed(1)} m apart`;
    case 'heard-but':
      return event.but === undefined
        ? undefined
        : `${label(event.performer)} was heard, but ${HEARD_BUT_WORDS[event.but].long}`;
    case 'sensor-clock':
      return `input ${event.input}: the tracking system's clock jumped by ${event.steppedS.toFixed(2)} s`;
    case 'enable':
      return enableInWords(event, fixture);
    case 'operator-refused':
      return `refused: ${actionInWords(event.action, label, cue)}${askedBy(event.action)}: ${event.reason}`;
    case 'cue': {
      if (event.cause === 'restored') return `cue ${cue(event.cue)} was on, as before`;
      return `cue ${cue(event.cue)} came on ${fadeInWords(event.fadeS)}, after ${cue(event.previous)}${askedBy(event)}`;
    }
    case 'pin':
      return pinInWords(event, labels);
    case 'mapping':
      return mappingInWords(event);
    case 'highlight':
      return highlightInWords(event, fixture, 'was');
    case 'operator-done': {
      const { action, changed } = event;
      if (action.kind !== 'stop' || changed) return undefined;
      return `${actionInWords(action, label)}${askedBy(action)}: already stopped`;
    }
    case 'stalled':
      return `the engine stood still for ${event.stalledS.toFixed(2)} s: it began anew, from the safe values`;
    // The phases of performers are in the list of losses; the rest has lists and figures of its own.
    case 'performer':
    case 'zone':
    case 'entered':
    case 'turn':
    case 'keep-out':
    case 'hand-over':
    case 'reach':
      return undefined;
    default:
      return unreachable(event);
  }
}

function offStageWas(
  { performers, state, exit, ...asked }: Extract<EngineEvent, { kind: 'off-stage' }>,
  labels: Pick<Labels, 'performer' | 'exit'>,
): string {
  const names = listed(performers.map(labels.performer));
  const who = `${names} ${performers.length === 1 ? 'was' : 'were'}`;
  const { cause } = asked;
  const how = cause === 'restored' ? ', as before' : askedBy(asked);
  if (state === 'on') {
    return cause === undefined
      ? `${who} heard on the stage again`
      : `${who} on stage after all${how}`;
  }
  if (exit !== undefined) return `${names} left the stage by ${exitInWords(labels.exit(exit))}`;
  if (cause === 'restored') return `${who} off stage, as before`;
  // Somebody who was sent off earlier has now left the stage.
  return cause === undefined
    ? `${who} no longer heard on the stage`
    : `${who} sent off stage${how}`;
}

/** Whose packets they were, in brackets. */
function fromWhere({ by }: { readonly by?: string | undefined }): string {
  return by === undefined ? '' : ` (${by})`;
}

/** Whether no light depended on it and nobody ordered it: such events are left out first if there are too many. */
export function isMinor({ kind }: EngineEvent): boolean {
  return [
    'tracker-contact',
    'tracker-frozen',
    'battery',
    'battery-unit',
    'heard-but',
    'sensor-clock',
    'enable',
    'operator-refused',
    'action',
  ].includes(kind);
}
