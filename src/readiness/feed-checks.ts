import type { InputPlan, Show } from '../show/model/model.js';
import { enumerated } from '../stage/enumerated.js';
import { type Check, fail, pass, warn } from './check.js';
import type { FeedFact, NetworkFacts } from './facts.js';
import { type Heard, type Rhythm, rhythmOf, silenceAtEnd } from './feed.js';
import { checkNames } from './name-checks.js';
import { checkNumbers } from './numbers.js';

/**
 * Bounds of ours, no standard: a share of reports lost that the tracking bridges without being seen, and
 * one that no tracking is good with; a rate below which a walking performer (1.4 m/s) moves 0.3 m from
 * report to report.
 */
const LOSS_WARN = 0.02;
const LOSS_FAIL = 0.2;
const LEAST_RATE_HZ = 5;
/** Jitter above this share of the interval: reports come in bunches. */
const JITTER_SHARE = 0.6;
/** Silent for so long at the end, a tracker has died or left: longer than a body hides it in a turn. Common practice. */
const DEAD_AFTER_S = 2;

/** Whether each tracker of the show is heard, how often, how regularly and how wholly. */
export function checkFeeds(show: Show, facts: NetworkFacts, others: readonly string[]): Check[] {
  const checks = facts.feeds.flatMap(feed => {
    const input = show.inputs.find(one => one.name === feed.input);
    return [
      checkInput(feed, facts.seconds, input),
      ...checkNames(show, feed, input),
      ...checkNumbers(show, feed, facts.seconds),
    ];
  });
  const open = facts.feeds.filter(feed => feed.problem === undefined);
  if (open.length === 0) return checks;
  const heardOf = (tracker: string): Heard | undefined =>
    open.map(({ record }) => record.trackers.get(tracker)).find(heard => heard !== undefined);
  const endedS = open.map(({ record }) => record.endedS).find(one => one !== undefined);
  for (const performer of show.performers) {
    for (const { id } of performer.trackers) {
      const name = `${performer.label}, tracker ${id}`;
      const heard = heardOf(id);
      const others = performer.trackers.filter(one => one.id !== id);
      const carried = others.filter(one => isHeardAtEnd(heardOf(one.id), endedS));
      const worn = {
        longestGapS: longestGapOf(performer.trackers.map(one => heardOf(one.id))),
        others: enumerated(carried.map(one => one.id)),
        isAlone: carried.length === 0,
      };
      const rhythm = heard && rhythmOf(heard, endedS);
      const isGone = facts.offStage?.includes(performer.name) === true;
      if (isGone && rhythm !== undefined && rhythm.silentForS > DEAD_AFTER_S) {
        const sinceS = rhythm.silentForS.toFixed(0);
        checks.push(pass('feed', name, `off stage: silent for ${sinceS} s, after the exit.`));
        continue;
      }
      const silentAfterS = show.watchdog.trackerSilent.afterS;
      checks.push(checkTracker(name, rhythm, worn, silentAfterS, facts.seconds, facts.simulated));
      const charge = heard && checkBattery(name, heard);
      if (charge !== undefined) checks.push(charge);
    }
  }
  for (const { id } of show.spares) checks.push(checkSpare(id, heardOf(id), facts.seconds, endedS));
  const known = new Set([
    ...show.performers.flatMap(one => one.trackers.map(tracker => tracker.id)),
    ...show.spares.map(one => one.id),
    ...others,
  ]);
  const strangers = open.flatMap(({ record }) =>
    [...record.trackers.keys()].filter(one => !known.has(one)),
  );
  if (strangers.length > 0) {
    checks.push(
      warn(
        'feed',
        'unknown trackers',
        `${enumerated(strangers)} ${strangers.length === 1 ? 'is' : 'are'} heard, and the show does not know ${strangers.length === 1 ? 'it' : 'them'}.`,
        'Give each to a performer, add it to `spares`, or switch it off.',
      ),
    );
  }
  return checks;
}

function checkInput(
  { input, problem, datagrams, rejected, record }: FeedFact,
  seconds: number,
  plan: InputPlan | undefined,
): Check {
  const name = `input ${input}`;
  const isPsn = plan?.psn !== undefined;
  if (problem !== undefined) {
    return fail(
      'feed',
      name,
      `not listened to: ${problem}`,
      'If the show itself is running, stop it for this check; its log and `lampwright tell STATE_DIR status` tell you about the feed.',
    );
  }
  if (datagrams === 0) {
    return fail(
      'feed',
      name,
      `nothing at all arrived in ${seconds} s.`,
      isPsn && plan.psn?.group !== undefined
        ? `Is the tracking server running, on this network, and sending to ${plan.psn.group}:${plan.port}? A switch that filters multicast (IGMP snooping) needs a querier.`
        : 'Is the tracking server running, and sending to this address and port?',
    );
  }
  if (record.trackers.size === 0) {
    return fail(
      'feed',
      name,
      isPsn
        ? `${datagrams} datagrams, but none with a PosiStageNet 2 position.`
        : `${datagrams} datagrams, but none that a route reads as a position.`,
      isPsn
        ? 'Check what the server sends there: it should be PosiStageNet 2, with positions.'
        : "Compare the `routes` with what the server sends: the address, and the arguments' order.",
    );
  }
  const what = `${datagrams} datagrams, ${record.trackers.size} ${record.trackers.size === 1 ? 'tracker' : 'trackers'}`;
  if (rejected > 0) {
    return warn(
      'feed',
      name,
      `${what}; ${rejected} messages were ${isPsn ? 'not PosiStageNet 2 positions' : 'not positions that its routes read'}, or came from a sender that is not allowed.`,
      isPsn
        ? 'Compare `allow`, `maxDatagram` and `quality` with what the server sends; harmless if it sends other things too.'
        : 'Compare `routes` and `allow` with what the server sends; harmless if it sends other things too.',
    );
  }
  return pass('feed', name, `${what}, all understood.`);
}

/** Common practice: a tracker that begins a show below a third may not see its end. */
const BATTERY_WARN = 0.3;

/** @returns undefined where the feed says nothing of it */
function checkBattery(
  name: string,
  { battery, batteryOutside }: Heard,
  before = '',
): Check | undefined {
  if (batteryOutside !== undefined) {
    return warn(
      'feed',
      name,
      `${before}battery ${round(batteryOutside)} is outside 0 to 1: is it per cent?`,
      'Have the server send it from 0 to 1; until then a low battery is not reported.',
    );
  }
  if (battery === undefined) return undefined;
  const what = `${before}${(100 * battery).toFixed(0)} % of its charge left.`;
  return battery < BATTERY_WARN
    ? warn('feed', name, what, 'Charge it, or change its battery, before the doors.')
    : pass('feed', name, what);
}

/** A spare moves nobody yet, so its rhythm may be anything; it has to be there, and charged. */
function checkSpare(
  id: string,
  heard: Heard | undefined,
  seconds: number,
  endedS: number | undefined,
): Check {
  const name = `spare ${id}`;
  if (heard === undefined) {
    return warn(
      'feed',
      name,
      `not heard in ${seconds} s.`,
      'Switch it on for this check: nothing shows yet that it could take over.',
    );
  }
  if (!isHeardAtEnd(heard, endedS)) {
    return warn(
      'feed',
      name,
      `silent for the last ${silenceAtEnd(heard, endedS).toFixed(0)} s.`,
      'Switch it on for this check, and look at its battery.',
    );
  }
  return checkBattery(name, heard, 'heard, ') ?? pass('feed', name, 'heard.');
}

function round(value: number): string {
  return String(Number(value.toFixed(2)));
}

function isHeardAtEnd(heard: Heard | undefined, endedS: number | undefined): boolean {
  return heard !== undefined && silenceAtEnd(heard, endedS) <= DEAD_AFTER_S;
}

/** What the performer of a tracker wears beside it. */
interface Worn {
  /** Longest time in which none of all that they wear was heard, seconds. */
  readonly longestGapS: number;
  /** Of those that were heard to the end. */
  readonly others: string;
  readonly isAlone: boolean;
}

/** Between reports of any of them: a gap of one tracker is none while another is heard. */
function longestGapOf(trackers: readonly (Heard | undefined)[]): number {
  const times = trackers.flatMap(one => one?.timesS ?? []).sort((a, b) => a - b);
  return times.reduce((most, time, i) => Math.max(most, time - (times[i - 1] ?? time)), 0);
}

function checkTracker(
  name: string,
  rhythm: Rhythm | undefined,
  worn: Worn,
  silentAfterS: number,
  seconds: number,
  simulated = false,
): Check {
  if (rhythm === undefined) {
    return fail(
      'feed',
      name,
      `not heard in ${seconds} s.${worn.isAlone ? '' : ` Light would follow tracker ${worn.others} alone.`}`,
      'Is it switched on and charged, and does the tracking server list it under this identifier?',
    );
  }
  const { intervalS, jitterS, longestGapS, loss, missing, reports, bunched, quality } = rhythm;
  if (rhythm.silentForS > DEAD_AFTER_S) {
    return fail(
      'feed',
      name,
      `silent for the last ${rhythm.silentForS.toFixed(0)} s, after ${reports} ${reports === 1 ? 'report' : 'reports'}.${worn.isAlone ? '' : ` Light would follow tracker ${worn.others} alone.`}`,
      'Check its battery and its switch, and whether the performer has left with it; then listen again.',
    );
  }
  if (intervalS === undefined || jitterS === undefined || longestGapS === undefined) {
    return warn(
      'feed',
      name,
      `only ${reports} ${reports === 1 ? 'report' : 'reports'}: too few to tell.`,
      'Listen longer, with the tracker on the stage.',
    );
  }
  const what =
    `${(1 / intervalS).toFixed(1)} a second, jitter ${(1e3 * jitterS).toFixed(0)} ms, ` +
    `${bunched ? '' : `${(100 * loss).toFixed(1)} % lost (${missing} of ${missing + reports}), `}longest gap ${longestGapS.toFixed(2)} s` +
    `${quality === undefined ? '' : `, quality ${quality.mean.toFixed(2)}, least ${quality.least.toFixed(2)}`}.`;
  if (simulated) {
    const share = `${(100 * loss).toFixed(1)} % of its reports left out, as the simulated radio does`;
    return pass(
      'feed',
      name,
      `simulated, ${(1 / intervalS).toFixed(1)} a second${bunched ? '' : `, ${share}`}: nothing of the venue's network.`,
    );
  }
  if (loss > LOSS_FAIL) {
    return fail('feed', name, what, 'Look for the weak link: radio, cable, switch, or the server.');
  }
  if (longestGapS > silentAfterS && worn.longestGapS <= silentAfterS) {
    return warn(
      'feed',
      name,
      `${what} Tracker ${worn.others} was heard in the meantime, so the light would have gone on.`,
      'Find out where that was: when only one of a pair is seen, there is no spare.',
    );
  }
  if (longestGapS > silentAfterS) {
    return warn(
      'feed',
      name,
      `${what} The gap is longer than \`trackerSilent.after\` (${silentAfterS} s): the light would have gone to safe.`,
      'Find out where that was; `lampwright plan` says where few anchors are in view.',
    );
  }
  if (loss > LOSS_WARN) {
    return warn('feed', name, what, 'Look at the network between server and this machine.');
  }
  if (1 / intervalS < LEAST_RATE_HZ) {
    return warn('feed', name, what, 'Raise the rate of the tracker if the system can.');
  }
  if (bunched || jitterS > JITTER_SHARE * intervalS) {
    return warn(
      'feed',
      name,
      `${what} The reports come in bunches.`,
      'Have the server send them as they come, and keep other traffic off the network.',
    );
  }
  return pass('feed', name, what);
}
