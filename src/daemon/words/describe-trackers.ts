import {
  apartInWords,
  batteryUnitInWords,
  trackersNamed,
} from '../../engine/events/event-words.js';
import { HEARD_BUT_WORDS } from '../../safety/heard-but.js';
import type { Labels } from '../../show/model/labels.js';
import type { EngineNews } from '../engine/engine-link.js';
import type { Entry } from '../log/log-entry.js';

/** What the events of trackers and their feeds are in words. */

export function describeContact(
  event: Extract<EngineNews, { kind: 'tracker-contact' }>,
  labels: Labels,
): Entry {
  const { tracker, performer, heard, silentForS, others } = event;
  if (heard)
    return {
      level: 'info',
      text: `${labels.performer(performer)}: tracker ${tracker} is heard again`,
      data: event,
    };
  const since =
    silentForS === undefined ? ' since the engine started' : ` for ${silentForS.toFixed(1)} s`;
  const rest = `${trackersNamed(others)}${others.length === 1 ? ' alone' : ''}`;
  const light = others.length === 0 ? 'no other can be followed' : `the light follows ${rest}`;
  return {
    // The operator who assigned it was told already.
    level: event.told === true ? 'debug' : 'warn',
    text: `${labels.performer(performer)}: tracker ${tracker} has not been heard${since}; ${light}`,
    data: event,
  };
}

export function describeFrozen(
  event: Extract<EngineNews, { kind: 'tracker-frozen' }>,
  labels: Labels,
): Entry {
  const { tracker, performer, frozen } = event;
  const what = frozen
    ? 'is frozen (it repeats the same position): it is ignored until it moves'
    : 'moves again';
  const text = `${labels.performer(performer)}: tracker ${tracker} ${what}`;
  return { level: frozen ? 'warn' : 'info', text, data: event };
}

export function describeApart(
  event: Extract<EngineNews, { kind: 'trackers-apart' }>,
  labels: Labels,
): Entry {
  const { performer, trackers, apartM } = event;
  return trackers.length === 0
    ? {
        level: 'info',
        text: `${labels.performer(performer)}: ${event.wearsOne === true ? 'wears one tracker again' : 'the trackers agree again'}`,
        data: event,
      }
    : {
        level: 'warn',
        text: apartInWords(labels.performer(performer), trackers, apartM),
        data: event,
      };
}

export function describeHeardBut(
  event: Extract<EngineNews, { kind: 'heard-but' }>,
  labels: Labels,
): Entry {
  const who = labels.performer(event.performer);
  if (event.but === undefined) {
    return {
      level: 'debug',
      text: `${who}: what kept the light from following is over`,
      data: event,
    };
  }
  const text = `${who}: heard, but ${HEARD_BUT_WORDS[event.but].long}. The light does not follow`;
  return { level: event.but === 'out-of-bounds' ? 'info' : 'warn', text, data: event };
}

export function describeClock(event: Extract<EngineNews, { kind: 'sensor-clock' }>): Entry {
  const { input, steppedS } = event;
  const text = `input ${input}: the tracking system's clock jumped by ${steppedS.toFixed(2)} s; times are adjusted`;
  return { level: 'warn', text, data: event };
}

export function describeBatteryUnit(
  event: Extract<EngineNews, { kind: 'battery-unit' }>,
  labels: Labels,
): Entry {
  const text = `${batteryUnitInWords(event, labels.performer)} Low batteries will not be reported`;
  return { level: 'warn', text, data: event };
}

export function describeBattery(
  event: Extract<EngineNews, { kind: 'battery' }>,
  labels: Labels,
): Entry {
  const { tracker, performer, low, charge } = event;
  const whose = performer === undefined ? 'spare' : labels.performer(performer);
  const left = `${Math.round(100 * charge)} %`;
  return low
    ? {
        level: 'warn',
        text: `${whose}: the battery of tracker ${tracker} is low: ${left} left`,
        data: event,
      }
    : {
        level: 'info',
        text: `${whose}: tracker ${tracker} has been charged or its battery changed: ${left}`,
        data: event,
      };
}
