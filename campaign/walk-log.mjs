// What the log of a bout of a walk says (walk.mjs), held against what was done.
import { TIMES } from './show.mjs';
import { at, finding, isNear, lasted, SLACK_S } from './walk-deeds.mjs';

/** @returns what did not hold, as findings (walk-deeds.mjs); empty: nothing */
export function wrongInLog(bout) {
  return [
    ...endsWrong(bout),
    ...chainsWrong(bout),
    ...lossesWrong(bout),
    ...ordersWrong(bout),
    ...reloadsWrong(bout),
    ...sendsWrong(bout),
    ...statusWrong(bout),
  ];
}

/** From a kill until the next supervisor takes signals. */
const STARTS_S = 1.5;
/** An engine that has not been heard for so long is ended. */
const HANGS_S = 1.5;

/** Engines and supervisors end where they were made to, and nowhere else. */
function endsWrong(bout) {
  const { log, deeds, restarts } = bout;
  const wrong = [];
  const killed = deeds.filter(({ endsSupervisor }) => endsSupervisor);
  // A process that has just started takes no signal yet: one that tells it to reload ends it.
  const early = deeds.filter(
    one =>
      (one.reload || one.group === 'signals') &&
      killed.some(({ fromS }) => one.fromS > fromS && one.fromS < fromS + STARTS_S),
  );
  if (restarts < killed.length || restarts > killed.length + early.length) {
    wrong.push(
      finding(`the supervisor ended ${restarts} times, and was killed ${killed.length} times`),
    );
  }
  const ended = log.filter(({ kind }) => kind === 'engine-ended');
  for (const { how, heardS, msg } of ended) {
    const isMeant = deeds.some(
      one =>
        one.fromS < heardS + SLACK_S &&
        (one.endsEngine === how ||
          (how === 'did not start' && one.group === 'forks') ||
          (how === 'hung' && one.group === 'engine' && one.forS && lasted(one) > 0.3)),
    );
    // An engine that does not get its turn is taken for one that hangs.
    if (!isMeant) wrong.push(finding(`${at(bout, heardS)}: ${msg}`, heardS - HANGS_S, heardS));
  }
  for (const deed of deeds.filter(one => one.endsEngine)) {
    // Replaced by that of another show before anybody has noticed; or by a supervisor that knows nothing of it.
    if (isNear(deeds, deed.fromS + 1.5, 3, one => one.endsSupervisor || one.reload)) continue;
    const told = ended.filter(
      ({ how, heardS }) => how === deed.endsEngine && heardS > deed.fromS - SLACK_S,
    );
    if (told.length === 0)
      wrong.push(finding(`${deed.name} ${at(bout, deed.fromS)}: nobody told of it`));
  }
  return wrong;
}

/** Each line goes on from the one before: from is what to was, and nothing comes back that has not gone. */
function chainsWrong(bout) {
  const { log, logBefore } = bout;
  const wrong = [];
  const states = new Map();
  const follow = (line, isNews) => {
    const { kind, heardS } = line;
    const say = what =>
      isNews && wrong.push(finding(`${at(bout, heardS)}: ${what}`, heardS - SLACK_S, heardS));
    const go = (key, from, to) => {
      const was = states.get(key);
      // Of a bad contact some changes are left out, and counted.
      if (was !== undefined && was !== from && line.changes === undefined)
        say(`${key} goes from ${from} to ${to}, and was ${was}`);
      states.set(key, to);
    };
    if (kind === 'engine-started') {
      for (const key of states.keys()) if (/^(performer|zone|feed)/.test(key)) states.delete(key);
    } else if (kind === 'light-resumed' || / is running: the safe look is out/.test(line.msg)) {
      states.clear();
    } else if (kind === 'lights') go('light', line.from, line.to);
    // That somebody goes off stage is told of as such.
    else if (kind === 'performer' && line.from !== 'off')
      go(`performer ${line.performer}`, line.from, line.to);
    else if (kind === 'performer') states.set(`performer ${line.performer}`, line.to);
    else if (kind === 'zone')
      go(`zone ${line.zone} of ${line.performer}`, !line.inside, line.inside);
    else if (kind === 'feed') go('feed', !line.silent, line.silent);
    else if (kind === 'interface-lost' || kind === 'interface-back') {
      go(`interface of ${line.interface}`, kind === 'interface-back', kind === 'interface-lost');
    }
  };
  for (const line of logBefore.slice(-400)) follow(line, false);
  for (const line of log) follow(line, true);
  return wrong;
}

/** Whoever is told to be lost is, for the reason that is told; and whoever is lost is told of. */
function lossesWrong(bout) {
  const { log, deeds, fromS, clearedS } = bout;
  const wrong = [];
  const trackers = { ines: 'feed of ines', gull: 'feed of gull' };
  const isOut = one =>
    one.unseen ||
    one.floods ||
    one.endsSupervisor ||
    one.endsEngine ||
    one.group === 'supervisor' ||
    one.group === 'engine';
  for (const { kind, performer, to, cause, heardS, msg } of log) {
    if (kind !== 'performer' || to !== 'losing') continue;
    const mine = one => one.group === trackers[performer] && one.holds;
    const meant = {
      'tracker-silent': one => mine(one) || isOut(one),
      'feed-silent': one => one.group?.startsWith('feed of') || isOut(one),
      'operator-stop': one => one.isStop && one.whose.includes(performer),
      frozen: one => one.group === 'frozen',
      jumped: one => one.group === 'jump' || one.group?.startsWith('feed of') || isOut(one),
      'confidence-low': one => one.group === 'jump' || mine(one) || isOut(one),
    }[cause];
    if (meant === undefined || !isNear(deeds, heardS, 3, meant))
      wrong.push(
        finding(
          `${at(bout, heardS)}: "${msg}", and nothing of the kind was done`,
          heardS - TIMES.after - SLACK_S,
          heardS,
        ),
      );
  }
  for (const deed of deeds) {
    const performer = deed.holds && !deed.isStop ? deed.whose[0] : undefined;
    if (performer === undefined || lasted(deed) < TIMES.after + 0.4) continue;
    // Lost already, or not yet back, or nobody there to tell: said otherwise, or not at all.
    if (
      isNear(
        deeds,
        deed.fromS,
        6,
        one =>
          one !== deed &&
          (isOut(one) ||
            one.disturbs ||
            one.reload ||
            (one.isStop && one.whose.includes(performer)) ||
            ['frozen', 'jump', 'off', 'state'].includes(one.group)),
      )
    )
      continue;
    const told = log.filter(
      one =>
        one.kind === 'performer' &&
        one.performer === performer &&
        one.to === 'losing' &&
        one.heardS > deed.fromS + TIMES.after - 0.1 &&
        one.heardS < deed.fromS + TIMES.after + SLACK_S + 0.2,
    );
    const later = deeds.some(
      one => isOut(one) && one.fromS > deed.fromS && one.fromS < deed.fromS + TIMES.after + 0.5,
    );
    if (told.length !== 1 && !later && deed.fromS > fromS + 2 && deed.fromS < clearedS) {
      const what = `${deed.name} ${at(bout, deed.fromS)}: told of ${told.length} times`;
      wrong.push(finding(what, deed.fromS, deed.fromS + TIMES.after + SLACK_S + 0.2));
    }
  }
  return wrong;
}

/** Each order that was answered as done is told of once, and nothing is that nobody ordered. */
function ordersWrong(bout) {
  const { log, answers, deeds } = bout;
  const wrong = [];
  const kinds = {
    cue: 'cue',
    stop: 'stopped',
    resume: 'resumed',
    assign: 'given',
    unassign: 'taken',
  };
  const isOf = (one, kind) =>
    one.kind === 'tracker'
      ? new RegExp(`^tracker \\S+ ${kind} .*\\(asked by`).test(one.msg)
      : one.kind === kind && one.cause === 'command';
  for (const { words, answer, askedS, answeredS } of answers) {
    if (!['done', 'already so'].includes(answer?.outcome)) {
      const isAlone = !isNear(
        deeds,
        answeredS,
        8 + answeredS - askedS,
        one => one.endsSupervisor || ['supervisor', 'state', 'engine', 'forks'].includes(one.group),
      );
      const isNone = answer?.outcome === 'refused' && words[0] === 'unassign';
      if (isAlone && !isNone) {
        const what = `${at(bout, askedS)}: tell ${words.join(' ')}: ${answer?.text}`;
        wrong.push(finding(what, askedS, answeredS));
      }
    }
  }
  for (const [order, kind] of Object.entries(kinds)) {
    const told = log.filter(one => isOf(one, kind));
    const done = answers.filter(
      ({ words, answer }) => words[0] === order && answer?.outcome === 'done',
    );
    const unsure = answers.filter(
      ({ words, answer }) =>
        words[0] === order && !['done', 'already so', 'refused'].includes(answer?.outcome),
    );
    // Where none was there to carry it out, the next engine begins with it, and that is what is told.
    const without = done.filter(({ askedS }) =>
      isNear(
        deeds,
        askedS,
        12,
        one =>
          one.endsEngine ||
          one.endsSupervisor ||
          one.group === 'engine' ||
          one.group === 'supervisor' ||
          one.disturbs ||
          one.reload,
      ),
    );
    if (told.length > done.length + unsure.length || told.length < done.length - without.length) {
      wrong.push(finding(`${order}: ${done.length} done, ${told.length} told of`));
    }
  }
  return wrong;
}

/** What is broken is refused, what is well is loaded, and each is told of. */
function reloadsWrong(bout) {
  const { log, deeds, clearedS } = bout;
  const wrong = [];
  for (const deed of deeds.filter(one => one.reload)) {
    const nextS = Math.min(
      ...deeds.filter(one => one.reload && one.fromS > deed.fromS).map(one => one.fromS),
      clearedS,
    );
    const told = log.filter(
      ({ kind, heardS }) =>
        ['reloaded', 'reload-refused', 'reload-unneeded'].includes(kind) &&
        heardS > deed.fromS &&
        heardS < nextS,
    );
    const what = `${deed.name} ${at(bout, deed.fromS)}`;
    const isAlone = !isNear(
      deeds,
      deed.fromS + 1,
      8,
      one =>
        one !== deed &&
        (one.endsSupervisor ||
          one.endsEngine ||
          ['supervisor', 'engine', 'forks'].includes(one.group)),
    );
    if (told.length === 0 && isAlone && nextS - deed.fromS > 5)
      wrong.push(finding(`${what}: nobody told of it`, deed.fromS, nextS));
    // A show that sends otherwise needs its interface.
    const isMissing =
      deed.reload === 'renamed' && isNear(deeds, deed.fromS + 1, 3, one => one.unseen);
    for (const { kind, msg } of told.slice(0, 1)) {
      if (deed.reload === 'broken' && kind === 'reloaded') wrong.push(finding(`${what}: ${msg}`));
      if (
        deed.reload !== 'broken' &&
        kind === 'reload-refused' &&
        isAlone &&
        !isMissing &&
        !/another reload/.test(msg)
      ) {
        wrong.push(finding(`${what}: ${msg}`));
      }
    }
  }
  return wrong;
}

/**
 * As many packets are told not to have been sent as were refused, less what is not of levels: polls and the like are told of without a
 * count, and tried again every few seconds.
 */
const MOST_ERRANDS = 12;
function sendsWrong({ log, deeds, refused }) {
  const sum = kind =>
    log.filter(one => one.kind === kind).reduce((all, { count }) => all + count, 0);
  // Of a daemon that was killed nobody tells; where the interface is lost too, nothing is tried.
  if (deeds.some(one => one.endsSupervisor || one.unseen || one.group === 'forks')) return [];
  const ended = log
    .filter(({ kind }) => kind === 'sends-ended')
    .flatMap(({ outputs }) => outputs)
    .reduce((all, { count }) => all + count, 0);
  const [first, whole] = [sum('send-failed'), sum('sent-again') + ended];
  const isSo = first <= whole && whole <= refused && refused - whole <= MOST_ERRANDS;
  if (isSo) return [];
  return [
    finding(`${refused} packets were refused, ${first} were told of at once and ${whole} in all`),
  ];
}

/** For a minute after the last change of a node it is known that they come and go; told of once a minute. */
const UNSTEADY_S = 122;

/** The status shows it for a minute; the log has it every 10 s at most. */
const FLOOD_SHOWN_S = 72;

/** Once all is cleared. */
function statusWrong({ status, toS, log, logBefore, deeds }) {
  if (status === undefined) return [finding('no status')];
  const wrong = [];
  const say = what => wrong.push(finding(`at the end, the status: ${what}`, toS - 1, toS));
  if (status.cue.name !== 'evening') say(`cue ${status.cue.name}`);
  if (status.stops.everybody || status.stops.performers.length > 0)
    say(JSON.stringify(status.stops));
  for (const { name, state } of status.performers) {
    if (state !== (name === 'tobias' ? 'not heard' : 'live')) say(`${name} ${state}`);
  }
  if (status.feed.silent) say('the feed is silent');
  for (const { name, trouble } of status.outputs) if (trouble) say(`output ${name}: ${trouble}`);
  // Cables of the bouts before are in it.
  const unsteady = [...logBefore, ...log].findLast(({ kind }) => kind === 'nodes-unsteady');
  const isUnsteady = unsteady !== undefined && unsteady.heardS > toS - UNSTEADY_S;
  // One that is killed again within a minute waits for up to 30 s.
  const isKilled = deeds.some(({ group }) => group === 'panel');
  // What a flood cost is shown for a minute, and one of the bouts before may have been one.
  const dropped = [...logBefore, ...log].findLast(
    ({ kind, drops }) => kind === 'dropped' && drops['socket-full'] > 0,
  );
  const isFull = dropped !== undefined && dropped.heardS > toS - FLOOD_SHOWN_S;
  for (const { what } of status.troubles) {
    if (isUnsteady && what.startsWith('Art-Net nodes come and go')) continue;
    if (isKilled && what === 'no panel: it was ended by SIGKILL') continue;
    if (isFull && / lost at (?:input|the operator)/.test(what)) continue;
    // No host of the rig is a node.
    if (what.startsWith('no Art-Net node answers at 10.81.')) continue;
    say(what);
  }
  if (status.supervisor.phase !== 'live') say(`the light is ${status.supervisor.phase}`);
  return wrong;
}
