import {
  actionInWords,
  askedBy,
  counted,
  listed,
  outputsInWords,
} from '../../engine/events/event-words.js';
import { otherShowInWords, otherTrackingInWords, standbyMissed } from '../../live/pair-words.js';
import type { FallbackPhase } from '../../safety/fallback.js';
import { type Labels, NAMES_AS_LABELS } from '../../show/model/labels.js';
import { enumerated } from '../../stage/enumerated.js';
import { unreachable } from '../../stage/unreachable.js';
import type { HeldLight } from '../beats/hold-news.js';
import type { PairPhase } from '../beats/pair.js';
import { describeDesk } from '../desk/describe-desk.js';
import type { LateCause } from '../engine/lateness.js';
import { KEPT_WORDS, UNKEPT_WORDS } from '../files/kept-words.js';
import type { Entry } from '../log/log-entry.js';
import type { SupervisorEvent } from '../supervisor.js';
import { describeEngine } from './describe-engine.js';
import { describeLighting } from './describe-lighting.js';

type LostFrames = Extract<SupervisorEvent, { kind: 'frames-lost' }>;

const PAIR_WORDS: Readonly<Record<PairPhase, Omit<Entry, 'data'>>> = {
  listening: {
    level: 'info',
    text: 'nothing was sent for a while: this machine sends below a standby until it has listened for one',
  },
  joining: {
    level: 'info',
    text: 'a standby has taken over: until its light is the same, this machine sends sACN below it, and no Art-Net',
  },
  leading: { level: 'info', text: 'this machine leads' },
  'standing-by': { level: 'info', text: 'the main machine is heard: standing by' },
  'standing-in': {
    level: 'error',
    text: 'the main machine is silent: receivers take this one',
  },
};

const ARTNET_REFUSED: Omit<Entry, 'data'> = {
  level: 'error',
  text: 'Art-Net of this machine is refused: the standby has the light there until it passes again',
};

const KEEPS_ARTNET: Omit<Entry, 'data'> = {
  level: 'info',
  text: 'a standby is there: until its light is the same, this machine sends sACN below it; its Art-Net goes on',
};

const BEGINS_ARTNET: Omit<Entry, 'data'> = {
  level: 'info',
  text: 'nobody sends Art-Net: this machine does, from the safe look on; its sACN stays below the standby until the light is the same',
};

const ARTNET_BEGINS: Omit<Entry, 'data'> = {
  level: 'info',
  text: 'nobody sends Art-Net: this machine does, from the safe look on',
};

const MAIN_ENDED: Omit<Entry, 'data'> = {
  level: 'warn',
  text: 'the main machine has ended: receivers take this one',
};

/** Of a show that sends by one protocol the other is not named. */
const COMES_BACK: Readonly<Record<'sacn' | 'artnet', Omit<Entry, 'data'>>> = {
  sacn: {
    level: 'info',
    text: 'a standby has taken over: until its light is the same, this machine sends below it',
  },
  artnet: {
    level: 'info',
    text: 'a standby has taken over: until its light is the same, this machine sends nothing',
  },
};

const ARTNET_GOES_ON: Omit<Entry, 'data'> = {
  level: 'info',
  text: 'a standby is there: until its light is the same, the Art-Net of this machine goes on',
};

const MAIN_COMES_BACK: Omit<Entry, 'data'> = {
  level: 'warn',
  text: 'the main machine is heard, below this one: receivers take this one until that one leads',
};

const MAIN_NEVER_HEARD: Omit<Entry, 'data'> = {
  level: 'error',
  text: 'the main machine has not been heard since the start: receivers take this one',
};

function wordsOf(event: Extract<SupervisorEvent, { kind: 'pair' }>): Omit<Entry, 'data'> {
  const { beginsArtnet, keepsArtnet, only, to } = event;
  if (beginsArtnet === true) return only === 'artnet' ? ARTNET_BEGINS : BEGINS_ARTNET;
  if (keepsArtnet === true) return only === 'artnet' ? ARTNET_GOES_ON : KEEPS_ARTNET;
  if (to === 'joining' && only !== undefined) return COMES_BACK[only];
  if (event.comesBack === true) return MAIN_COMES_BACK;
  if (event.neverHeard === true) return MAIN_NEVER_HEARD;
  return event.ended === true ? MAIN_ENDED : PAIR_WORDS[event.to];
}

/** Lights whom somebody has stopped on the other machine: that is not to be overlooked. */
function stopsAtStake(
  { differs, stopped = [], isTold }: Extract<SupervisorEvent, { kind: 'pair' }>,
  labels: Labels,
): Omit<Entry, 'data'> | undefined {
  const level = 'warn';
  if (differs === true) {
    const led = 'this machine leads, by a crossfade: the light of the standby was different';
    const text =
      isTold === true
        ? led
        : `${led}. If somebody is stopped there, stop them here too: this machine was not told (\`operator.main\` is not set)`;
    return { level, text };
  }
  if (stopped.length === 0) return undefined;
  const who = enumerated(stopped.map(labels.performer));
  const is = stopped.length === 1 ? 'is' : 'are';
  const rest =
    isTold === true
      ? 'it is told so: check there that it holds'
      : 'it was not told so (`operator.main` is not set): give it the stop now';
  const text = `the main machine has the light again; ${who} ${is} stopped here, and ${rest}`;
  return { level, text };
}

function describePair(event: Extract<SupervisorEvent, { kind: 'pair' }>, labels: Labels): Entry {
  const words = stopsAtStake(event, labels) ?? wordsOf(event);
  const { level, text } = event.artnetRefused === true ? ARTNET_REFUSED : words;
  const where = event.interface === undefined ? '' : ` on ${event.interface}`;
  return { level, text: `pair${where}: ${text}`, data: event };
}

/**
 * An event in words, with its weight: what the log and the live view show.
 * @param labels of the show that runs
 * @param phase of all light: at the safe look nobody's light follows, whatever the engine says
 */
export function describe(
  event: SupervisorEvent,
  labels: Labels = NAMES_AS_LABELS,
  phase: FallbackPhase = 'live',
): Entry {
  switch (event.kind) {
    case 'lights': {
      const { to, cause, condition } = event;
      const isMeant = condition === 'shutdown' || condition === 'show-reload';
      const level = to === 'losing' && !isMeant ? 'error' : 'info';
      const why = to === 'losing' || to === 'safe' ? `: ${cause}` : '';
      const text = `${LIGHTS_WORDS[to]}${why}${exceptInWords(event)}`;
      return { level, text, data: event };
    }
    case 'engine-started':
      return { level: 'info', text: `engine started, process ${event.pid}`, data: event };
    case 'engine-ended':
      return {
        level: 'error',
        text: `engine ${endedInWords(event)}; starting it again in ${event.again} s`,
        data: event,
      };
    case 'enables-dropped':
      return {
        level: 'warn',
        text: `${outputsInWords(event.outputs, labels.fixture)} dropped: the engine ended. Release, and press again`,
        data: event,
      };
    case 'engine-said':
      return { level: 'warn', text: `engine says: ${event.line}`, data: event };
    case 'engine':
      return describeEngine(event.event, labels, phase);
    case 'lighting':
      return describeLighting(event.event);
    case 'desk':
      return describeDesk(event.event);
    case 'engine-too-large':
      return {
        level: 'error',
        text: `the engine uses ${event.rssMiB} MiB of memory, more than its limit of ${event.limitMiB}: it is restarted`,
        data: event,
      };
    case 'ticks-late':
      return {
        level: 'warn',
        text: `${event.late} ticks were late in the last ${event.inS} s: ${lateBecause(event)}`,
        data: event,
      };
    case 'frames-lost':
      return { level: 'warn', text: lostInWords(event), data: event };
    case 'tracker-senders':
      return event.what === undefined
        ? { level: 'info', text: 'each tracker is sent by one sender again', data: event }
        : { level: 'warn', text: event.what, data: event };
    case 'realtime-policy':
      return {
        level: 'warn',
        text: `this process runs under the real-time policy ${event.policy}: a garbage collection may then block the whole machine for minutes; run it at nice -10 instead`,
        data: event,
      };
    case 'state-restored': {
      const { entries, changes = [], file } = event;
      const which = changes.map(one => actionInWords(one, labels.performer, labels.cue)).join('; ');
      return {
        level: 'info',
        text: `${counted(entries, 'change')} made before the restart ${entries === 1 ? 'is' : 'are'} in force again${which === '' ? '' : ` (${which})`}, from ${file}`,
        data: event,
      };
    }
    case 'stop-kept': {
      const { text, data } = describeEngine(event.change, labels, phase);
      return {
        level: 'warn',
        text: `${text} No engine answers just now: this holds once one does`,
        data: { ...event, change: data },
      };
    }
    case 'orders-lost': {
      const were = event.count === 1 ? 'was' : 'were';
      return {
        level: 'warn',
        text: `${counted(event.count, 'order')} by OSC (cues, pins, off or on stage) came while no engine answered, and ${were} lost: give ${event.count === 1 ? 'it' : 'them'} again once one does`,
        data: event,
      };
    }
    case 'state-unreadable':
      return {
        level: 'error',
        text: `${event.file} can't be used, so stops and trackers are as the show file says: ${event.reason}`,
        data: event,
      };
    case 'state-of-other-show':
      return {
        level: 'warn',
        text: `${event.file} is of the show "${event.show}": who was stopped in it is stopped here too, until resumed. Nothing else of it holds`,
        data: event,
      };
    case 'state-unsaved':
      return {
        level: 'error',
        text: `stops and changes of trackers can't be saved in ${event.file}, a restart would lose them: ${event.reason}. Trying again`,
        data: event,
      };
    case 'state-saved':
      return {
        level: 'info',
        text: `stops and changes of trackers are saved in ${event.file} again`,
        data: event,
      };
    case 'input-blocked':
      return {
        level: 'error',
        text: `nobody can be tracked yet: ${event.problems.join(' | ')} The light stays at the safe look. Trying again`,
        data: event,
      };
    case 'show-stale':
      return {
        level: 'error',
        text: `the show file can't be used: the show that was accepted last runs instead. Fix the file and reload: ${event.problems.map(withoutExcerpt).join(' | ')}`,
        data: event,
      };
    case 'unkept':
      return {
        level: 'error',
        text: `can't save ${KEPT_WORDS[event.what]} in ${event.file}: ${event.reason}. ${UNKEPT_WORDS[event.what]}. Trying again each second`,
        data: event,
      };
    case 'kept':
      return {
        level: 'info',
        text: `${KEPT_WORDS[event.what]} is saved in ${event.file} again`,
        data: event,
      };
    case 'reloaded':
      return {
        level: 'info',
        text: `show "${event.show}" reloaded${askedBy(event)}: ${
          event.overS === undefined
            ? `all light goes to the safe look first${event.because === undefined ? '' : `, because ${event.because}`}; then the new show takes over`
            : `the light goes from where it is to the new show, over ${event.overS} s`
        }`,
        data: event,
      };
    case 'cue-gone': {
      const now = event.on === undefined ? 'the show has no cues now' : `cue ${event.on} is on`;
      const text = `cue ${event.cue}, which was on, is not in the show file any more: ${now}`;
      return { level: 'warn', text, data: event };
    }
    case 'reload-unneeded':
      if (event.engineFault !== undefined) {
        const text = `show "${event.show}" is loaded as its file says${askedBy(event)}, but its engine can't run: ${event.engineFault.replace(/\.$/, '')}; trying again`;
        return { level: 'error', text, data: event };
      }
      return {
        level: 'info',
        text: `show "${event.show}" is already running as its file says${askedBy(event)}: nothing to reload`,
        data: event,
      };
    case 'reload-refused':
      return {
        level: 'error',
        text: `not loaded${askedBy(event)}${event.ending ? '' : `, ${event.goesBack ? 'going back to the previous show' : 'the running show carries on'}`}: ${event.problems.map(withoutExcerpt).join(' | ')}`,
        data: event,
      };
    case 'reload-stuck':
      return {
        level: 'error',
        text: `can't go back to the previous show: ${event.problems.join(' | ')} Show "${event.show}" stays at its safe look, and its engine is tried again. Fix the file and reload`,
        data: event,
      };
    case 'stood-still':
      return {
        level: 'error',
        text: `the daemon stood still for ${event.forS.toFixed(2)} s: nothing was sent in that time`,
        data: event,
      };
    case 'service-fault':
      return {
        level: 'error',
        text: `can't report to the service manager: systemd-notify: ${event.reason}`,
        data: event,
      };
    case 'flashes-held':
      return {
        level: 'info',
        text: flashesInWords(event),
        data: event,
      };
    case 'keep-out-held':
      return { level: 'warn', text: keptDarkInWords(event), data: event };
    case 'light-rejoins': {
      const which = `${event.universes.length === 1 ? 'universe' : 'universes'} ${event.universes.join(', ')}`;
      const rest =
        event.fixtures === 0
          ? 'nothing has changed meanwhile'
          : `${event.fixtures === 1 ? 'one fixture has' : `${event.fixtures} fixtures have`} changed meanwhile: faded out where it was, and brought up at the new values`;
      return {
        level: 'warn',
        text: `${which}: sent again after ${event.forS.toFixed(1)} s; ${rest}`,
        data: event,
      };
    }
    case 'light-rejoined':
      return {
        level: 'info',
        text: `what had changed while nothing was sent is at its new values, after ${event.forS.toFixed(1)} s`,
        data: event,
      };
    case 'light-resumed':
      return {
        level: 'error',
        text: 'a daemon with this show has just died: this one takes over its last levels and fades to the safe look',
        data: event,
      };
    case 'pair':
      return describePair(event, labels);
    case 'other-show': {
      const { machine, shows, address, ended, never } = event;
      const isMissed = shows === 'unknown' && machine === 'standby' && ended !== true;
      const level = shows === 'differ' || isMissed ? 'warn' : 'info';
      const words = isMissed
        ? standbyMissed(address, never)
        : otherShowInWords(machine, shows, address);
      return { level, text: `pair: ${words}`, data: event };
    }
    case 'other-tracking': {
      const { machine, silent, address } = event;
      const level = silent ? 'warn' : 'info';
      const text = `pair: ${otherTrackingInWords(machine, silent, address)}`;
      return { level, text, data: event };
    }
    case 'stopping':
      return {
        level: 'info',
        text: stoppingInWords(event),
        data: event,
      };
    case 'stopped':
      return { level: 'info', text: 'stopped', data: event };
    default:
      return unreachable(event);
  }
}

function flashesInWords({ fixtures, times, longestS, held = [] }: HeldLight): string {
  const lateS = Math.max(0.01, longestS).toFixed(2);
  const up = fixtures.filter(name => !held.includes(name));
  if (held.length > 0) {
    const late = up.length === 0 ? '' : `${listed(up)} came up late, `;
    const still = `${listed(held)} ${held.length === 1 ? 'is' : 'are'} still held back`;
    return `flash limit: ${late}${still}; at most ${lateS} s so far`;
  }
  const late = times > 1 ? `light came up late ${times} times, by at most ${lateS} s` : undefined;
  return late === undefined
    ? `flash limit: ${listed(fixtures)} came up ${lateS} s late`
    : `flash limit: ${late} (${listed(fixtures)})`;
}

function keptDarkInWords({ fixtures, times, longestS, held = [] }: HeldLight): string {
  const darkS = Math.max(0.01, longestS).toFixed(2);
  const why = 'at the output, as the beam would have touched a keep-out';
  if (held.length > 0) {
    return `${listed(held)} ${held.length === 1 ? 'is' : 'are'} kept dark ${why}; at most ${darkS} s so far`;
  }
  const forS = times > 1 ? `${times} times, for at most ${darkS} s` : `for ${darkS} s`;
  return `${listed(fixtures)} ${fixtures.length === 1 ? 'was' : 'were'} kept dark ${why}: ${forS}`;
}

/** A line of log is one line; where a file is wrong is in the data as well. */
function withoutExcerpt(problem: string): string {
  return problem.split('\n')[0] ?? '';
}

function exceptInWords({ except = [] }: { readonly except?: readonly number[] }): string {
  if (except.length === 0) return '';
  const [universes, are] = except.length === 1 ? ['universe', 'is'] : ['universes', 'are'];
  return `. Not there: ${universes} ${except.join(', ')}, which ${are} not sent, or only just sent again`;
}

function stoppingInWords({ handsOver, waitsS }: Extract<SupervisorEvent, { kind: 'stopping' }>) {
  if (handsOver === true) {
    return 'stopping: the standby has the same light, and receivers take it. To end the show, stop that one too: it fades to its safe look';
  }
  if (waitsS !== undefined) {
    return `stopping: the standby takes the light when the crossfade to this cue is over, in ${waitsS.toFixed(1)} s; a second signal ends at once`;
  }
  return 'stopping: fading to the safe look; a second signal ends at once';
}

const LIGHTS_WORDS: Readonly<Record<FallbackPhase, string>> = {
  losing: 'all light fades to the safe look',
  safe: 'all light is at the safe look',
  rearming: 'all light is at the safe look, and the engine is running',
  returning: 'the engine takes over from the safe look',
  live: 'the engine has the light',
};

function endedInWords({ how, reason }: Extract<SupervisorEvent, { kind: 'engine-ended' }>): string {
  return how === 'crashed' && reason.includes('ended by SIGKILL')
    ? 'was killed (SIGKILL): by hand, or because memory ran out'
    : `${ENDED_WORDS[how]}: ${reason}`;
}

const ENDED_WORDS = {
  crashed: 'crashed',
  hung: 'hung',
  grew: 'grew too large',
  'slow to start': 'was slow to start',
  'did not start': 'did not start',
} as const;

function lostInWords({ late, skipped, messages, inS, because }: LostFrames): string {
  const parts = [
    [late, 'frame', 'came too late'],
    [skipped, 'frame', 'skipped'],
    [messages, 'message', 'dropped because the queue was full'],
  ] as const;
  const told = parts.flatMap(([count, what, how]) =>
    count === 0 ? [] : [`${counted(count, what)} ${how}`],
  );
  return `from the engine, in the last ${inS} s: ${told.join(', ')}: ${lateBecause({ because })}`;
}

const LATE_BECAUSE: Readonly<Record<LateCause, string>> = {
  'daemon-stood-still': 'the daemon stood still meanwhile',
  'engine-stood-still': 'the engine stood still meanwhile',
  'engine-started': 'the engine had just been started',
};

function lateBecause({ because }: { readonly because?: LateCause | undefined }): string {
  return because === undefined
    ? 'the machine is too slow, or busy with something else'
    : LATE_BECAUSE[because];
}
