import {
  actionInWords,
  askedBy,
  enableInWords,
  isForWantOfTracker,
} from '../engine/event-words.js';
import type { FallbackPhase } from '../safety/fallback.js';
import type { Phase } from '../safety/watchdog.js';
import { WATCHDOG_TABLE } from '../safety/watchdog-table.js';
import { unreachable } from '../stage/unreachable.js';
import {
  describeApart,
  describeBattery,
  describeClock,
  describeContact,
  describeFrozen,
} from './describe-trackers.js';
import type { EngineNews } from './engine-link.js';
import type { Entry } from './log-entry.js';
import { answerInWords, stopsInWords } from './operator/answers.js';

/** What the events of the engine are in words. */

export function describeEngine(event: EngineNews, light: FallbackPhase = 'live'): Entry {
  switch (event.kind) {
    case 'performer':
      return describePerformer(event, light);
    case 'feed':
      return describeFeed(event);
    case 'zone':
      return {
        level: 'debug',
        text: `${event.performer} ${event.inside ? 'enters' : 'leaves'} ${event.zone}`,
        data: event,
      };
    case 'tracker':
      return describeTracker(event);
    case 'tracker-contact':
      return describeContact(event);
    case 'battery':
      return describeBattery(event);
    case 'tracker-frozen':
      return describeFrozen(event);
    case 'trackers-apart':
      return describeApart(event);
    case 'sensor-clock':
      return describeClock(event);
    case 'operator-done':
      return { level: 'debug', text: answerInWords(event), data: event };
    case 'operator-refused':
      return describeRefused(event);
    case 'stopped':
    case 'resumed':
      return describeStop(event);
    case 'stalled':
      return {
        level: 'error',
        text: `the engine stood still for ${event.stalledS.toFixed(2)} s: all light begins at its safe values`,
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
      return describeEnable(event);
    case 'turn':
      return {
        level: 'info',
        text: `${event.fixture} goes dark and turns back: ${event.performer} is past the end of its pan`,
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

function describeEnable(event: Extract<EngineNews, { kind: 'enable' }>): Entry {
  const level = event.gate === 'spent' ? 'warn' : 'info';
  return { level, text: enableInWords(event), data: event };
}

function describeStop(event: Extract<EngineNews, { kind: 'stopped' | 'resumed' }>): Entry {
  const { performers, everybody, stillStopped, stopOfEverybody } = event;
  // Of "resumed" it says that nobody is stopped any more, whoever it was.
  const all = everybody && (event.kind === 'stopped' || performers.length === 0);
  const who = all ? 'everybody' : performers.join(', ');
  const others = stillStopped.filter(name => !performers.includes(name));
  const rest = everybody ? '' : stopsInWords(others, stopOfEverybody);
  const restored = event.cause === 'restored';
  const still = event.kind === 'stopped' ? 'still stopped, as before' : 'resumed, as before';
  const done = restored ? still : `${event.kind}${askedBy(event)}`;
  return { level: 'warn', text: `${who} ${done}.${rest}`, data: event };
}

function describePerformer(
  event: Extract<EngineNews, { kind: 'performer' }>,
  light: FallbackPhase,
): Entry {
  const { performer, from, to, confidence } = event;
  const level = to === 'losing' ? 'warn' : 'info';
  // Back at its safe values from half way: why is told with the loss.
  const why = to === 'losing' || to === 'safe' ? ` (${causeOf(event)})` : '';
  const what = from === 'rearming' && to === 'safe' ? 'lost again' : wordsFor(to, light);
  // Of light that comes or stays the figure says nothing: it may be low for another moment.
  const figure = to === 'losing' || to === 'safe' ? `, confidence ${confidence.toFixed(2)}` : '';
  const text = `${performer}: ${what}${why}${figure}`;
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

function describeTracker(event: Extract<EngineNews, { kind: 'tracker' }>): Entry {
  const { tracker, performer, change, takenFrom, cause } = event;
  const from = takenFrom === undefined ? '' : ` taken from ${takenFrom} and`;
  const done =
    change === 'assigned'
      ? `tracker ${tracker}${from} given to ${performer}`
      : `tracker ${tracker} taken from ${performer}`;
  const how = cause === 'restored' ? ', as before' : askedBy(event);
  return { level: 'info', text: `${done}${how}`, data: event };
}

function describeRefused(event: Extract<EngineNews, { kind: 'operator-refused' }>): Entry {
  const { action, reason } = event;
  const text = `${actionInWords(action)}: refused${askedBy(action)}: ${reason}`;
  return { level: 'warn', text, data: event };
}
