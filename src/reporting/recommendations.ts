import { counted, listed, trackersNamed } from '../engine/events/event-words.js';
import { CAUSES, isForAll, isKilled, isMeant, type LossCause } from './causes/causes.js';
import { severalSenders } from './measures/tracker-feeds.js';
import { headAdvice } from './words/head-advice.js';
import { withoutLengths } from './words/lasting-cause.js';
import type { Outage, Recommendation, Report, ReportedLoss } from './words/report-data.js';
import { inWords } from './words/words.js';

const MOST = 5;
/** A cause that cost less light is not worth an evening's work, seconds. */
const LEAST_S = 0.5;
/** A head that can't follow is half as bad as one whose performer is lost. */
const UNREACHED_WEIGHT = 0.5;
/** Dropped reports are weighed as so many a second: the rate of one tracker. */
const DROPPED_A_SECOND = 40;
const GATED_SHARE = 0.1;
const LATE_SHARE = 0.01;

/** Recommendations for what cost the most light, the worst first. */
export function recommendationsOf(
  report: Omit<Report, 'recommendations'>,
  at: (atS: number) => string,
): Recommendation[] {
  const byCause = { ...report, losses: report.losses.flatMap(partsOf) };
  const hints = [
    ...silentTrackers(report),
    ...places(report),
    ...reach(report),
    ...headAdvice(report),
    ...noise(report),
    ...lateness(report),
  ];
  // An output that sends nothing takes all its light with it: it comes before any hint, however short it was.
  const mostOfHintsS = Math.max(0, ...hints.map(({ weightS }) => weightS));
  const found = [
    ...everybodysLosses(byCause),
    ...outages(report).map(one =>
      one.weightS < LEAST_S ? one : { ...one, weightS: Math.max(one.weightS, mostOfHintsS) },
    ),
    ...deskSilences(report),
    ...performersLosses(byCause),
    ...unheard(report),
    ...dropped(report),
    ...hints,
  ];
  const worst = found
    .filter(({ weightS }) => weightS >= LEAST_S)
    .sort((a, b) => b.weightS - a.weightS);
  return [...gone(report, at), ...unrecorded(report, at), ...worst].slice(0, MOST);
}

type Source = Omit<Report, 'recommendations'>;

/** Divides a loss with several causes into one for each, as each has its own advice. */
function partsOf(loss: ReportedLoss): ReportedLoss[] {
  const { parts = [] } = loss;
  return parts.length < 2 ? [loss] : parts.map(part => ({ ...loss, ...part }));
}

/** The end of the daemon outweighs everything: nobody had the light any more. */
function gone({ goneS }: Source, at: (atS: number) => string): Recommendation[] {
  if (goneS === undefined) return [];
  return [
    {
      what: `The daemon was gone from ${at(goneS)}: it did not end cleanly.`,
      act: 'Look in the system log for what ended it (memory, power, a kill), and let the service manager restart it: see the guide on installing it as a service.',
      weightS: 3600,
    },
  ];
}

/** What is not known comes before what is. */
function unrecorded({ unrecordedS }: Source, at: (atS: number) => string): Recommendation[] {
  if (unrecordedS === undefined) return [];
  return [
    {
      what: `Nothing was recorded after ${at(unrecordedS)}: the disk took no more.`,
      act: 'Make room on the disk, or limit the recordings with `--record-total`. For what happened after that, read the log.',
      weightS: 3600,
    },
  ];
}

const OUTAGE_WORDS: Readonly<Record<Outage['cause'], string>> = {
  'interface lost': 'the interface was lost',
  'no carrier': 'it had no carrier',
  'sends failed': "packets couldn't be sent",
};

function outages({ outages: all, performers }: Source): Recommendation[] {
  const heard = performers.filter(({ firstS }) => firstS !== undefined).length;
  const groups = new Map<string, Outage[]>();
  for (const one of all) {
    const key = JSON.stringify([one.interface, one.outputs]);
    groups.set(key, [...(groups.get(key) ?? []), one]);
  }
  return [...groups.values()].map(some => {
    const [{ interface: name, outputs, ofOutputs }] = some as [Outage];
    const forS = some.reduce((sum, one) => sum + one.forS, 0);
    const which = `${outputs.length === 1 ? 'Output' : 'Outputs'} ${listed(outputs)}`;
    const causes = [...new Set(some.map(({ cause }) => cause))];
    const why = listed(causes.map(cause => OUTAGE_WORDS[cause]));
    const isRefused = causes.every(cause => cause === 'sends failed');
    return {
      what: `${which} on interface ${name} sent nothing ${inWords.times(some.length)}, ${inWords.duration(forS)} in all: ${why}.`,
      act: isRefused
        ? 'The list of what happened has the reason that the system gave: check the routes, the firewall and the settings of that interface.'
        : 'Check the cable, the switch and the settings of that interface.',
      weightS: (forS * Math.max(1, heard) * outputs.length) / ofOutputs,
    };
  });
}

/** While a universe of the desk was silent, what depends on it had its levels from before, or none. */
function deskSilences({ deskSilences: all }: Source): Recommendation[] {
  return [...new Set(all.map(({ input }) => input))].map(input => {
    const some = all.filter(one => one.input === input);
    const forS = some.reduce((sum, one) => sum + one.forS, 0);
    return {
      what: `Nothing came from the desk on ${input} ${inWords.times(some.length)}, for ${inWords.duration(forS)} in all.`,
      act: 'Check the desk, and the network between it and this machine: does it send this universe to this machine?',
      weightS: forS,
    };
  });
}

/**
 * What took all light although no engine ended; grouped by cause, however long each lasted. Where the standby had the
 * light, receivers did not show the safe look.
 */
function heldUp({ losses, standbyLight }: Source): Recommendation[] {
  const kinds = new Map<string, { kind: string; hadStandby: boolean; some: ReportedLoss[] }>();
  for (const loss of losses) {
    if (loss.cause !== 'engine-late') continue;
    const kind = loss.why.replace(/(:| for \d).*$/, '');
    const endS = loss.atS + loss.forS;
    const hadStandby = standbyLight.some(
      ({ fromS, untilS = endS }) => fromS <= endS && untilS >= loss.atS,
    );
    const key = `${kind} ${hadStandby}`;
    const { some } = kinds.get(key) ?? { some: [] };
    kinds.set(key, { kind, hadStandby, some: [...some, loss] });
  }
  return [...kinds.values()].map(({ kind, hadStandby, some }) => {
    const longestS = Math.max(...some.map(({ forS }) => forS));
    const light = hadStandby
      ? 'its standby had the light meanwhile'
      : `all light went to the safe look, for up to ${inWords.duration(longestS)}`;
    return {
      what: `${kind.charAt(0).toUpperCase()}${kind.slice(1)} ${times(some)}; ${light}.`,
      act: 'Check what else runs on this machine, its power settings and its memory.',
      weightS: some.reduce((sum, one) => sum + one.forS, 0),
    };
  });
}

function everybodysLosses(source: Source): Recommendation[] {
  const { losses } = source;
  const of = (cause: LossCause) => losses.filter(loss => loss.cause === cause);
  const sum = (some: readonly { forS: number }[]) => some.reduce((all, one) => all + one.forS, 0);
  const feed = of('feed-silent');
  const desk = of('desk-lost');
  const dead = of('engine-dead');
  return [
    {
      what: allSilent(feed),
      act: 'Check the tracking server, and the cable and the switch between it and this machine: all trackers fell silent at once.',
      weightS: sum(feed),
    },
    {
      what: `${enginesFailed(dead)}; all light went to its safe values.`,
      act: dead.every(({ why }) => isKilled(why))
        ? 'Somebody killed its process, or the system did because memory ran out: look in the system log (`journalctl -k`).'
        : 'Run `lampwright replay` on this recording: if the engine fails again, send the recording to the developers of lampwright. Otherwise check the memory and the load of the machine.',
      weightS: sum(dead),
    },
    ...heldUp(source),
    {
      what: `The desk was not heard ${times(desk)}; all light went to its safe values.`,
      act: 'Check the desk, the network between it and this machine, and the cue that repeats the heartbeat.',
      weightS: sum(desk),
    },
  ];
}

/** In words, with how long the light was away: longer than the silence, as performers are trusted only some time after they are heard again. */
function allSilent(losses: Source['losses']): string {
  const longestS = Math.max(0, ...losses.map(({ forS }) => forS));
  return `All trackers fell silent together ${times(losses)}; all light went to its safe values, and was away for ${inWords.duration(longestS)} at most.`;
}

/** "The engine crashed twice and hung once": all of them get one recommendation. */
function enginesFailed(losses: Source['losses']): string {
  const ways = [...new Set(losses.map(({ why }) => withoutLengths(why)))].map(why => {
    const some = losses.filter(loss => withoutLengths(loss.why) === why);
    return `${why.replace(/^the engine /, '')} ${times(some)}`;
  });
  return `The engine ${listed(ways)}`;
}

/** How many times, in words. Losses that happened to several at once, or overlapped, count once. */
function times(some: readonly { readonly atS: number; readonly forS: number }[]): string {
  let count = 0;
  let endS = Number.NEGATIVE_INFINITY;
  for (const { atS, forS } of [...some].sort((a, b) => a.atS - b.atS)) {
    if (atS > endS) count += 1;
    endS = Math.max(endS, atS + forS);
  }
  return inWords.times(count);
}

function performersLosses(report: Source): Recommendation[] {
  const { losses, performers } = report;
  const found: Recommendation[] = [];
  for (const { name, label, trackers } of performers) {
    const own = losses.filter(
      ({ performer, cause }) => performer === name && !isForAll(cause) && !isMeant(cause),
    );
    for (const kind of new Set(own.map(kindOf))) {
      const of = own.filter(loss => kindOf(loss) === kind);
      const [{ cause }] = of as [ReportedLoss];
      const act = ACTS[cause];
      if (act === undefined) continue;
      const forS = of.reduce((sum, loss) => sum + loss.forS, 0);
      const [first] = of;
      const same = of.every(({ why }) => why === first?.why);
      const ids = trackers.map(({ id }) => id);
      const frozen = [...new Set(of.flatMap(loss => loss.frozen))];
      const places = mostOften(of.map(({ place }) => place));
      found.push({
        what: `${label} was lost ${inWords.times(of.length)}, ${inWords.duration(forS)} in all, ${whereAndWhy(places, same ? (first?.why ?? '') : CAUSES[cause])}.`,
        act:
          kind === 'conflict'
            ? `Check who really wears ${trackersNamed(ids)}: remove one that is not theirs with \`lampwright tell STATE_DIR unassign\`.`
            : (kind === 'elsewhere' ? ofPlaces : act)(
                cause === 'frozen' && frozen.length > 0 ? frozen : ids,
                report,
              ),
        weightS: forS,
      });
    }
  }
  return found;
}

/** Losses for which the advice is the same: low confidence has one for each kind of doubt. */
function kindOf({ cause, reason }: ReportedLoss): string {
  if (cause !== 'confidence-low') return cause;
  if (reason === 'conflict') return reason;
  return ELSEWHERE.has(reason) ? 'elsewhere' : cause;
}

/** Advice if reports contradict each other. */
function ofTwoSenders({ trackerFeeds }: Source, trackers: readonly string[]): string {
  const [several] = severalSenders(trackerFeeds, trackers);
  if (several !== undefined) return `Stop all but one of its senders: ${several}.`;
  return 'Make sure that only one program sends this tracker: a second tracking server, or a `lampwright play` that is still running, looks like this.';
}

/** Reports came, but gave impossible places. */
const ELSEWHERE: ReadonlySet<ReportedLoss['reason']> = new Set(['gate', 'elsewhere']);

function ofPlaces(trackers: readonly string[], report: Source): string {
  return `Look for reflections, metal, glass and hidden anchors there: reports came, but gave other places. ${ofTwoSenders(report, trackers)}`;
}

/** What to do about each cause. A cause that is missing here was meant, by an operator for example. */
const ACTS: Readonly<
  Partial<Record<LossCause, (trackers: readonly string[], report: Source) => string>>
> = {
  'tracker-silent': trackers =>
    trackers.length > 1
      ? `Neither of trackers ${listed(trackers)} was heard. Check their batteries, whether they are worn on opposite sides of the body, and whether anchors see that place past set and bodies.`
      : `Check the battery of tracker ${trackers.join('')}, how it is worn, and whether anchors see that place past set and bodies. A second tracker on the other side of the body helps most.`,
  'sensor-clock-gone': () =>
    'Check the clock of the tracking server, and what else is on its network: the time tags did not agree with the arrivals.',
  jumped: (trackers, report) =>
    `Look for reflections and hidden anchors there: the tracking system put them elsewhere for too long to be a glitch. ${ofTwoSenders(report, trackers)}`,
  frozen: trackers =>
    `Check the tracking server, and ${trackersNamed(trackers)}: the same position was repeated.`,
  'out-of-bounds': () =>
    'If they are meant to go there, make `stage` in the show wider; otherwise check the frame of the tracking system.',
  'confidence-low': () =>
    'Check how many anchors see that place; the map shows where else the tracking is weak.',
};

function unheard({ performers }: Source): Recommendation[] {
  return performers
    .filter(
      ({ firstS, expected, offStageS }) => firstS === undefined && expected && offStageS === 0,
    )
    .map(({ label }) => ({
      what: `${label} was never heard.`,
      act: 'Check whether the tracker was on, and whether its number in the show is right.',
      weightS: 3600,
    }));
}

/** Weight of a loss of one of two trackers: a body in front of the other one, and the performer is lost. */
const ONE_OF_A_PAIR_WEIGHT = 0.25;

interface TrackerTrouble {
  readonly tracker: string;
  readonly how: 'silent' | 'frozen';
  readonly whose: string;
  readonly times: number;
  readonly forS: number;
  readonly followedS: number;
}

function silentTrackers({ trackerSilences, performers }: Source): Recommendation[] {
  const labelOf = (name: string) => performers.find(one => one.name === name)?.label ?? name;
  const troubles = new Map<string, TrackerTrouble>();
  for (const { performer, tracker, how, forS, followedS } of trackerSilences) {
    const key = `${how} ${tracker} ${performer}`;
    const none = { tracker, how, whose: labelOf(performer), times: 0, forS: 0, followedS: 0 };
    const sums = troubles.get(key) ?? none;
    troubles.set(key, {
      ...sums,
      times: sums.times + 1,
      forS: sums.forS + forS,
      followedS: sums.followedS + followedS,
    });
  }
  return [...troubles.values()].map(({ tracker, how, whose, times, forS, followedS }) => ({
    what: `Tracker ${tracker} of ${whose} was ${how} ${inWords.times(times)}, ${inWords.duration(forS)} in all; the light followed the other one${inWords.duration(followedS) === inWords.duration(forS) ? '' : ` for ${inWords.duration(followedS)} of it`}.`,
    act:
      how === 'silent'
        ? 'Check its battery, its switch and how it is worn, before the other one fails as well.'
        : 'It repeated the same position: check the tracker and the tracking server, before the other one fails as well.',
    weightS: ONE_OF_A_PAIR_WEIGHT * followedS,
  }));
}

function places({ places: { weakest } }: Source): Recommendation[] {
  return weakest
    .filter(({ losses }) => losses === 0)
    .map(({ place, heldS, weakS }) => ({
      what: `At ${place} the tracking was weak for ${inWords.duration(weakS)} of ${inWords.duration(heldS)}.`,
      act: 'Nobody has been lost there yet. Find out which anchors see that place, and move or add one.',
      weightS: weakS / 2,
    }));
}

function reach({ unreached }: Source): Recommendation[] {
  return unreached.map(({ fixture, forS }) => ({
    what: `${fixture} could not reach its point for ${inWords.duration(forS)}.`,
    act: 'Hang or turn it differently, or let another head follow there.',
    weightS: UNREACHED_WEIGHT * forS,
  }));
}

function noise(report: Source): Recommendation[] {
  return report.performers
    .filter(({ gatedShare }) => gatedShare > GATED_SHARE)
    .map(({ label, trackers, gatedShare, sinceS }) => ({
      what: `${inWords.share(gatedShare)} of the reports of ${label} were too far off to be believed.`,
      act: `Look for metal, glass and hidden anchors, and check how the tracker is worn. ${ofTwoSenders(
        report,
        trackers.map(({ id }) => id),
      )}`,
      weightS: (gatedShare * sinceS) / 10,
    }));
}

function dropped({ dropped: list }: Source): Recommendation[] {
  const isRefused = ({ reason }: Source['dropped'][number]) => reason === 'sender-not-allowed';
  const some = list.filter((one, index) => index === 0 || isRefused(one));
  return some.map(({ count, what, reason, from }) => ({
    what:
      reason === 'sender-not-allowed' && from !== undefined
        ? `${counted(count, 'datagram')} ${count === 1 ? 'was' : 'were'} refused: ${from} is not in \`allow\` of the input.`
        : `${counted(count, 'message')} ${count === 1 ? 'was' : 'were'} dropped: ${what} (${reason}).`,
    act:
      reason === 'sender-not-allowed'
        ? 'If it is the tracking system, add its address to `allow` of the input; if not, find out who sends it.'
        : reason === 'unknown-tracker'
          ? 'Give these trackers to performers in the show, list them as spares, or switch them off.'
          : 'Compare the settings of the sender with `inputs` in the show.',
    // From a refused machine everything is lost, not just a message here and there.
    weightS: count / DROPPED_A_SECOND / (reason === 'sender-not-allowed' ? 1 : 10),
  }));
}

function lateness({ ticks, lateTicks, latency, fromS, toS }: Source): Recommendation[] {
  const lateShare = ticks > 0 ? lateTicks / ticks : 0;
  if (lateShare < LATE_SHARE) return [];
  return [
    {
      what: `${inWords.share(lateShare)} of the ticks came late; 99 % of positions became light within ${inWords.ms(latency.p99S)}.`,
      act: 'Check what else runs on this machine, and its power settings.',
      weightS: (lateShare * (toS - fromS)) / 10,
    },
  ];
}

function mostOften(words: readonly string[]): { readonly most: string; readonly one: boolean } {
  const counts = new Map<string, number>();
  for (const word of words) counts.set(word, (counts.get(word) ?? 0) + 1);
  const [most] = [...counts].sort((a, b) => b[1] - a[1])[0] ?? [''];
  return { most, one: counts.size === 1 };
}

/** Somebody who left the stage was lost off the stage: say so once. */
function whereAndWhy({ most, one }: ReturnType<typeof mostOften>, why: string): string {
  if (most === why) return why;
  if (why === CAUSES['out-of-bounds']) return `off the stage, near ${most}`;
  const at = most === 'off the stage' ? most : `at ${most}`;
  return `${one ? '' : 'most often '}${at} (${why})`;
}
