import {
  actionInWords,
  actionSentInWords,
  askedBy,
  enableInWords,
  fadeInWords,
  highlightInWords,
  isForWantOfTracker,
  listed,
  mappingInWords,
  offStageInWords,
  pinInWords,
  whereaboutsInWords,
} from '../../engine/events/event-words.js';
import type { FallbackPhase } from '../../safety/fallback.js';
import type { Phase } from '../../safety/watchdog.js';
import { WATCHDOG_TABLE } from '../../safety/watchdog-table.js';
import { type Labels, withLabels } from '../../show/model/labels.js';
import { unreachable } from '../../stage/unreachable.js';
import { answerInWords, stopsInWords } from '../asking/answers.js';
import type { EngineNews } from '../engine/engine-link.js';
import type { Entry } from '../log/log-entry.js';
import {
  describeApart,
  describeBattery,
  describeBatteryUnit,
  describeClock,
  describeContact,
  describeFrozen,
  describeHeardBut,
} from './describe-trackers.js';

/** An event of the engine in words: with labels in the text, and names and labels in the data. */
export function describeEngine(event: EngineNews, labels: Labels, light: FallbackPhase): Entry {
  const entry = inWords(event, labels, light);
  return { ...entry, data: withLabels(entry.data, labels) };
}

function inWords(event: EngineNews, labels: Labels, light: FallbackPhase): Entry {
  switch (event.kind) {
    case 'performer':
      return describePerformer(event, labels, light);
    case 'off-stage':
      return { level: 'info', text: offStageInWords(event, labels), data: event };
    case 'action':
      return { level: 'info', text: actionSentInWords(event, labels), data: event };
    case 'entered': {
      const text = `condition ${event.condition} was ${event.entered ? 'entered' : 'left'}`;
      return { level: 'debug', text, data: event };
    }
    case 'feed':
      return describeFeed(event);
    case 'zone':
      return {
        level: 'debug',
        text: `${labels.performer(event.performer)} ${event.inside ? 'enters' : 'leaves'} ${labels.zone(event.zone)}`,
        data: event,
      };
    case 'signal':
      return describeSignal(event);
    case 'tracker':
      return describeTracker(event, labels);
    case 'tracker-contact':
      return describeContact(event, labels);
    case 'battery':
      return describeBattery(event, labels);
    case 'battery-unit':
      return describeBatteryUnit(event, labels);
    case 'tracker-frozen':
      return describeFrozen(event, labels);
    case 'trackers-apart':
      return describeApart(event, labels);
    case 'heard-but':
      return describeHeardBut(event, labels);
    case 'sensor-clock':
      return describeClock(event);
    case 'operator-done': {
      // Its effects are reported by themselves; a repeated stop is reported too.
      const isAgain = event.action.kind === 'stop' && !event.changed;
      const text = answerInWords(event, labels);
      return isAgain
        ? {
            level: 'info',
            text: text.replace('already stopped', so => `${so}${askedBy(event.action)}`),
            data: event,
          }
        : { level: 'debug', text, data: event };
    }
    case 'operator-refused':
      return describeRefused(event, labels);
    case 'stopped':
    case 'resumed':
      return describeStop(event, labels);
    case 'cue':
      return describeCue(event, labels);
    case 'pin':
      return {
        level: event.reason === undefined ? 'info' : 'warn',
        text: pinInWords(event, labels),
        data: event,
      };
    case 'mapping':
      return { level: 'warn', text: mappingInWords(event), data: event };
    case 'highlight':
      return { level: 'info', text: highlightInWords(event, labels.fixture), data: event };
    case 'stalled':
      return {
        level: 'error',
        text: `the engine stood still for ${event.stalledS.toFixed(2)} s: it begins anew, from the safe values`,
        data: event,
      };
    case 'desk':
      return event.lost
        ? {
            level: event.required ? 'error' : 'warn',
            text: `the desk is silent${event.required ? ': all light fades to its safe values' : ''}`,
            data: event,
          }
        : { level: 'info', text: `the desk is heard${askedBy(event)}`, data: event };
    case 'enable':
      return describeEnable(event, labels);
    case 'turn':
      return {
        level: 'info',
        text: `${labels.fixture(event.fixture)} goes dark and turns back: ${labels.performer(event.performer)} is past the end of its pan`,
        data: event,
      };
    case 'hand-over': {
      const { fixture, performer, previous, mapping } = event;
      const whom = performer === undefined ? 'nobody' : labels.performer(performer);
      const before = previous === undefined ? '' : ` (before: ${labels.performer(previous)})`;
      return {
        level: 'info',
        text: `${labels.fixture(fixture)} ${mapping === undefined ? `is on ${whom}` : `follows mapping ${mapping}`}${before}`,
        data: event,
      };
    }
    case 'keep-out': {
      const { fixture, keepOut, barred } = event;
      const text = barred
        ? `${labels.fixture(fixture)} is dark: its beam would touch the keep-out ${keepOut}`
        : `${labels.fixture(fixture)} is clear of the keep-out ${keepOut}`;
      return { level: 'info', text, data: event };
    }
    case 'reach':
      return event.reachable
        ? {
            level: 'info',
            text: `${labels.fixture(event.fixture)} can reach its point again`,
            data: event,
          }
        : {
            level: 'warn',
            text: `${labels.fixture(event.fixture)} can't reach its point: ${event.missedByDeg.toFixed(1)} degrees short`,
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

function describeSignal(event: Extract<EngineNews, { kind: 'signal' }>): Entry {
  const { signal, silent, silentForS, neverHeard } = event;
  if (!silent) return { level: 'info', text: `signal ${signal} is heard`, data: event };
  const since = neverHeard ? 'has not been heard yet' : `is no longer heard`;
  return {
    level: 'warn',
    text: `signal ${signal} ${since} (${silentForS.toFixed(1)} s): whatever depends on it goes to its safe values`,
    data: event,
  };
}

function describeEnable(event: Extract<EngineNews, { kind: 'enable' }>, labels: Labels): Entry {
  const level = event.gate === 'latched-off' ? 'warn' : 'info';
  return { level, text: enableInWords(event, labels.fixture), data: event };
}

function describeStop(
  event: Extract<EngineNews, { kind: 'stopped' | 'resumed' }>,
  labels: Labels,
): Entry {
  const { performers, everybody, stillStopped, stopOfEverybody } = event;
  // For "resumed" it says that nobody is stopped any more, whoever was.
  const all = everybody && (event.kind === 'stopped' || performers.length === 0);
  const who = all ? 'everybody' : listed(performers.map(labels.performer));
  const others = stillStopped.filter(name => !performers.includes(name));
  const rest = everybody ? '' : stopsInWords(others.map(labels.performer), stopOfEverybody);
  const restored = event.cause === 'restored';
  const still = event.kind === 'stopped' ? 'still stopped, as before' : 'resumed, as before';
  const done = restored ? still : `${event.kind}${askedBy(event)}`;
  return { level: 'warn', text: `${who} ${done}.${rest}`, data: event };
}

function describePerformer(
  event: Extract<EngineNews, { kind: 'performer' }>,
  labels: Labels,
  light: FallbackPhase,
): Entry {
  const { performer, from, to, confidence } = event;
  // The light stays away, for another cause than before.
  const stays = from === to && (to === 'losing' || to === 'safe');
  const level = to === 'losing' || stays ? 'warn' : to === 'off' ? 'debug' : 'info';
  // Back at its safe values from half way: why is told with the loss.
  const why = to === 'losing' || to === 'safe' ? ` (${causeOf(event)})` : '';
  const what = stays
    ? `lost, the light ${to === 'safe' ? 'stays at' : 'goes on fading to'} its safe values`
    : from === 'rearming' && to === 'safe'
      ? event.cause === 'operator-stop'
        ? 'the light stays at its safe values'
        : 'lost again'
      : from === 'losing' && to === 'waiting'
        ? 'the light is at its safe values; not heard since the engine started'
        : to === 'safe' && (from === 'live' || from === 'returning')
          ? 'the light goes to its safe values with all light'
          : wordsFor(to, light);
  // For light that comes or stays the figure means nothing: it may still be low for a moment.
  const figure = to === 'losing' || to === 'safe' ? `, confidence ${confidence.toFixed(2)}` : '';
  const text = `${labels.performer(performer)}: ${what}${why}${figure}`;
  return { level, text, data: event };
}

function wordsFor(to: Phase, light: FallbackPhase): string {
  const isFollowed = light === 'live' || light === 'returning';
  return (isFollowed ? undefined : HELD_WORDS[to]) ?? PERFORMER_WORDS[to];
}

/** While all light is at the safe look, or on its way there. */
const HELD_WORDS: Readonly<Partial<Record<Phase, string>>> = {
  returning: 'tracked well again; all light is held at the safe look',
  live: 'the light would follow; all light is held at the safe look',
  losing: 'no longer followed; all light is held at the safe look',
};

const PERFORMER_WORDS: Readonly<Record<Phase, string>> = {
  waiting: 'not tracked yet',
  rearming: 'tracked well, waiting a moment before the light returns',
  returning: 'the light begins to return',
  live: 'the light follows',
  losing: 'the light fades to its safe values',
  safe: 'the light is at its safe values',
  off: 'off stage, in no zone',
};

function causeOf(event: Extract<EngineNews, { kind: 'performer' }>): string {
  if (isForWantOfTracker(event)) return 'wears no tracker';
  return (
    WATCHDOG_TABLE.find(row => row.condition === event.cause)?.title ?? 'no longer tracked well'
  );
}

function describeFeed(event: Extract<EngineNews, { kind: 'feed' }>): Entry {
  if (!event.silent) return { level: 'info', text: 'tracking is heard', data: event };
  if (event.neverHeard === true) {
    return { level: 'warn', text: 'no position has come since the engine started', data: event };
  }
  return { level: 'error', text: 'tracking is silent: nobody is heard', data: event };
}

function describeTracker(event: Extract<EngineNews, { kind: 'tracker' }>, labels: Labels): Entry {
  const { tracker, performer, change, takenFrom, cause } = event;
  const from = takenFrom === undefined ? '' : ` taken from ${labels.performer(takenFrom)} and`;
  const done =
    change === 'assigned'
      ? `tracker ${tracker}${from} given to ${labels.performer(performer)}`
      : `tracker ${tracker} taken from ${labels.performer(performer)}`;
  const how = cause === 'restored' ? ', as before' : askedBy(event);
  const where = whereaboutsInWords(event, labels.performer(performer));
  return { level: 'info', text: `${done}${how}${where}`, data: event };
}

function describeCue(event: Extract<EngineNews, { kind: 'cue' }>, labels: Labels): Entry {
  const cue = labels.cue(event.cue);
  const text =
    event.cause === 'restored'
      ? `cue ${cue} is on, as before`
      : `cue ${cue} comes on ${fadeInWords(event.fadeS)}, after ${labels.cue(event.previous)}${askedBy(event)}`;
  return { level: 'info', text, data: event };
}

function describeRefused(
  event: Extract<EngineNews, { kind: 'operator-refused' }>,
  labels: Labels,
): Entry {
  const { action, reason } = event;
  const text = `${actionInWords(action, labels.performer, labels.cue)} refused${askedBy(action)}: ${reason}`;
  return { level: 'warn', text, data: event };
}
