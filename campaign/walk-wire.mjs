// What was on the wire in a bout of a walk (walk.mjs), held against what was done, and what the log says of it.
import { wayS } from './declared.mjs';
import { HOSTS } from './hosts.mjs';
import { greatestStep, shown, streamFaults } from './measures.mjs';
import { CHANNELS, safeLooksOf, showText, TIMES } from './show.mjs';
import { at, finding, isNear, lasted, SLACK_S } from './walk-deeds.mjs';
import { deskWrong } from './walk-desk.mjs';

const safeOf = safeLooksOf({ text: showText(), file: 'campaign.show.yaml' });
/** Of a cue, seconds: The Salt Lantern's. */
const CUE_FADES = { evening: 0, storm: 4, dawn: 8 };
/** Where somebody's own light is besides their head, in the cues in which it acts on them. */
const OWN = { ines: ['evening', 'storm'], gull: ['evening', 'dawn'] };
/** Unchanged levels come each second. */
const KEEPS_S = 1.05;
/** After the network is back the feed is, too, and whoever was lost meanwhile comes back or is lost. */
const SETTLES_S = TIMES.after + wayS + 1;

/** @returns what did not hold, as findings (walk-deeds.mjs); empty: nothing */
export function wrongOnWire(bout) {
  return [
    ...streamWrong(bout),
    ...stepsWrong(bout),
    ...gapsWrong(bout),
    ...safeWrong(bout),
    ...saidSafeWrong(bout),
    ...standbyWrong(bout),
    ...deskWrong(bout),
  ];
}

function streamWrong({ packets, toS, stderr, log }) {
  const said = log.filter(({ kind }) => kind === 'engine-said').map(({ line }) => line);
  const all = `${said.join('\n')}${stderr}`;
  // The desk's streams come and go.
  const ours = packets.filter(({ universe }) => universe <= 2);
  const wrong = streamFaults(ours, () => true, toS);
  if (/unhandled|uncaught|TypeError|RangeError|NaN/i.test(all)) wrong.push(all.slice(0, 400));
  if (JSON.stringify(log).includes('NaN')) wrong.push('NaN in the log');
  return wrong.map(what => finding(what));
}

/** What is sent while the network is out is not seen: the step over that is nobody's. */
function stepsWrong(bout) {
  const { packets, deeds, fromS, toS } = bout;
  const out = deeds.filter(({ unseen }) => unseen);
  const seen = shown(packets);
  const wrong = [];
  let beginsS = Number.NEGATIVE_INFINITY;
  for (const { fromS: goneS, toS: backS } of [...out, { fromS: toS, toS }]) {
    const part = seen.filter(({ atS }) => atS > beginsS && atS < goneS);
    for (const step of greatestStep(part, fromS, toS, { overGaps: true }).beyond) {
      const what = `a step of ${(step.ofLimit * 100).toFixed(0)} % of its limit: ${step.where}`;
      wrong.push(finding(what, step.fromS, step.toS));
    }
    beginsS = backS;
  }
  return wrong;
}

function gapsWrong(bout) {
  const { packets, deeds, fromS, toS } = bout;
  const wrong = [];
  const lastS = new Map();
  for (const { protocol, universe, atS, from } of packets) {
    if (universe > 2 || from === HOSTS.lwcb) continue;
    const key = `${protocol} ${universe}`;
    const sinceS = lastS.get(key);
    lastS.set(key, atS);
    if (sinceS === undefined || atS < fromS || atS > toS || atS - sinceS <= KEEPS_S) continue;
    const meanwhile = deeds.filter(
      ({ gapS, fromS: beganS, toS: endS }) =>
        gapS !== undefined && beganS < atS && (endS ?? toS) > sinceS - 1.5,
    );
    const mayS = meanwhile.reduce((sum, one) => sum + one.gapS + (one.silent ? lasted(one) : 0), 0);
    if (atS - sinceS > Math.max(KEEPS_S, mayS)) {
      const what = `${key}: a gap of ${(atS - sinceS).toFixed(2)} s ${at(bout, sinceS)}, ${mayS.toFixed(2)} s may be`;
      wrong.push(finding(what, sinceS, atS));
    }
  }
  return wrong;
}

/** Cues that were on, coming or going between two moments. */
function cuesIn({ log, logBefore, deeds }, fromS, toS) {
  const told = [...logBefore, ...log].filter(({ kind }) => kind === 'cue');
  const on = told.findLast(({ heardS }) => heardS <= fromS)?.cue ?? 'evening';
  const changing = told.filter(
    ({ heardS, cue }) => heardS > fromS - CUE_FADES[cue] - 1 && heardS <= toS,
  );
  // Asked for while no engine is there to tell of it.
  const asked = deeds.filter(
    one => one.cue !== undefined && one.fromS <= toS && one.fromS > fromS - 20,
  );
  return [
    ...new Set([
      on,
      ...changing.flatMap(({ cue, previous }) => [cue, previous]),
      ...asked.map(one => one.cue),
    ]),
  ];
}

/** Whether a channel is at its safe value, or between those of cues that cross over. */
function isSafe(channel, slots, looks) {
  if (slots === undefined) return false;
  const of = levels => channel.slots.reduce((sum, slot) => sum * 256 + levels[slot], 0);
  const values = looks.map(look => of(look[channel.universe]));
  const value = of(slots);
  // The limiter may be a beat behind where a head ends; and rounding on the way from one cue to the other.
  const isLoose = values.length > 1 || channel.kind === 'movement';
  const slack = isLoose ? 256 ** (channel.slots.length - 1) : 0;
  return value >= Math.min(...values) - slack && value <= Math.max(...values) + slack;
}

function channelsOf(whose, cues) {
  if (whose === undefined) return CHANNELS;
  return CHANNELS.filter(
    one =>
      whose.includes(one.whose) &&
      (one.protocol === 'artnet' || cues.every(cue => OWN[one.whose].includes(cue))),
  );
}

/**
 * Of each packet of a stretch, what of somebody's light is not safe after it: [atS, channel or undefined].
 * @param apart what was safe once counts as safe
 * @param isIntensity heads may still move, in the dark
 */
function* safety(bout, whose, fromS, toS, seen, apart, isIntensity = false) {
  const cues = cuesIn(bout, fromS, toS);
  const looks = cues.map(safeOf);
  let mine = channelsOf(whose, cues).filter(({ kind }) => !isIntensity || kind === 'intensity');
  const latest = new Map();
  for (const packet of seen) {
    if (packet.atS > toS) return;
    latest.set(`${packet.protocol} ${packet.universe}`, packet.slots);
    if (packet.atS < fromS) continue;
    const isOff = one => !isSafe(one, latest.get(`${one.protocol} ${one.universe}`), looks);
    if (apart) mine = mine.filter(isOff);
    const off = mine.find(isOff);
    const slots = off && latest.get(`${off.protocol} ${off.universe}`);
    yield [packet.atS, off && { ...off, levels: off.slots.map(slot => slots?.[slot]) }];
  }
}

/** Each loss within the time that is declared for it, counted anew from whatever else comes in between; and dark as long as it lasts. */
function safeWrong(bout) {
  const { deeds, packets, clearedS } = bout;
  const wrong = [];
  const seen = shown(packets);
  for (const deed of deeds) {
    const { name, declaredS, actsAfterS = 0, whose, holds, begunS } = deed;
    if (declaredS === undefined) continue;
    // A stop is in force when it is answered, and a deed without an end goes on until it is done.
    const fromS = deed.isStop ? begunS : deed.fromS;
    const untilS = holds ? deed.endsS : clearedS + 60;
    if (actsAfterS > 0 && lasted(deed) < actsAfterS + 0.1) continue;
    let byS = fromS + declaredS;
    for (const other of [...deeds].sort((a, b) => a.fromS - b.fromS)) {
      const { fromS: beganS, toS: endS } = other;
      // That the network is back is seen by the daemon some time after.
      const overS = endS + (other.disturbs ? (other.gapS ?? 0) : 0);
      if (other === deed || beganS > byS || overS < fromS) continue;
      if (other.endsSupervisor) byS = Math.max(byS, beganS + other.declaredS);
      else if (other.endsEngine) byS = Math.max(byS, beganS + other.declaredS);
      else if (other.disturbs) byS = Math.max(byS, endS + SETTLES_S);
      else if (other.group === 'engine') byS = Math.max(byS, endS + other.declaredS);
      else if (other.cue) byS = Math.max(byS, endS + CUE_FADES[other.cue] + SLACK_S);
      // Back on stage, gone again: lost anew.
      else if (other.group === deed.group) byS = Math.max(byS, endS + declaredS);
    }
    if (byS > untilS) continue;
    // What is back where it was once it is sent again has been nowhere in between.
    const isHidden = one => one.group === 'network' && one.fromS < byS && one.toS > fromS;
    if (!holds && deeds.some(isHidden)) continue;
    // What has just been sent again goes to the safe look, and on from there, by itself.
    const apart = deeds.some(one => one.silent && one.fromS < byS && one.toS + SETTLES_S > fromS);
    let safeS;
    let last;
    for (const [atS, off] of safety(
      bout,
      whose,
      fromS,
      holds ? untilS : byS,
      seen,
      apart && !holds,
    )) {
      if (off !== undefined) last = off;
      if (off === undefined && atS <= byS) safeS ??= atS;
      if (off !== undefined && atS > byS && holds) {
        const what = `${name} ${at(bout, fromS)}: ${wordsOf(off)} not at its safe value ${at(bout, atS)}`;
        // What has not been safe yet may be late for all that was late since its begin.
        wrong.push(finding(what, safeS === undefined ? fromS : atS, atS));
        break;
      }
    }
    if (safeS === undefined) {
      // Nothing changes, and nothing is sent again, within a second.
      if (holds && byS - fromS < KEEPS_S) continue;
      const what = `${name} ${at(bout, fromS)}: not safe within ${(byS - fromS).toFixed(2)} s${last === undefined ? '' : `, ${wordsOf(last)}`}`;
      wrong.push(finding(what, fromS, byS));
    }
  }
  return wrong;
}

/** Where the log says that light is safe, it is. */
function saidSafeWrong(bout) {
  const { log, deeds, packets } = bout;
  const wrong = [];
  const seen = shown(packets);
  for (const { kind, performer, from, to, except = [], heardS, msg } of log) {
    const isAll = kind === 'lights' && from === 'losing' && ['safe', 'rearming'].includes(to);
    const isOne = kind === 'performer' && from === 'losing' && to === 'safe';
    if (!isAll && !isOne) continue;
    if (isNear(deeds, heardS, 1.5, one => one.silent)) continue;
    // An engine says where its own light is; all light has been taken from it.
    if (
      isOne &&
      isNear(
        deeds,
        heardS,
        8,
        one => one.endsEngine || one.endsSupervisor || one.disturbs || one.group === 'engine',
      )
    )
      continue;
    const around = [heardS - 0.3, heardS + SLACK_S];
    let last;
    let isSo = false;
    for (const [, off] of safety(
      bout,
      isOne ? [performer] : undefined,
      ...around,
      seen,
      false,
      isOne,
    )) {
      last = off;
      isSo ||= off === undefined || except.includes(off.universe);
    }
    if (last !== undefined && !isSo) {
      wrong.push(finding(`${at(bout, heardS)}: "${msg}", and ${wordsOf(last)} is not`, ...around));
    }
  }
  return wrong;
}

/** A standby stays below a main machine that lives, sends no Art-Net, and says so of itself; it comes up, and ends when it is told to. */
function standbyWrong({ deeds, packets, fromS }) {
  const theirs = packets.filter(({ from, universe }) => from === HOSTS.lwcb && universe <= 2);
  const wrong = theirs
    .filter(
      ({ protocol, priority, atS }) => atS > fromS && (protocol === 'artnet' || priority > 99),
    )
    .map(({ protocol, priority, atS }) =>
      finding(`the standby sends ${protocol} at priority ${priority}`, atS, atS),
    )
    .slice(0, 3);
  for (const { begun: standby, fromS: beganS, toS } of deeds.filter(one => one.group === 'pair')) {
    if (standby === undefined) continue;
    const say = what => wrong.push(finding(`the standby: ${what}`, beganS, toS));
    if (standby.restarts > 0)
      say(`it ended ${standby.restarts} times: ${standby.stderr.slice(0, 300)}`);
    if (standby.wrongEnd !== undefined) say(standby.wrongEnd);
    if (JSON.stringify(standby.log).includes('NaN')) say('NaN in its log');
    if (standby.told('pair').some(({ to }) => to === 'standing-in' || to === 'leading')) {
      say('it took the lead from a main machine that lives');
    }
  }
  return wrong;
}

const wordsOf = ({ protocol, universe, slots, levels }) =>
  `${protocol} ${universe}/${slots[0] + 1} (${levels.join(' ')})`;
