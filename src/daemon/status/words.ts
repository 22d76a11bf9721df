import { apartInWords } from '../../engine/events/event-words.js';
import { delayWithinS } from '../../live/light-delays.js';
import { hasOther, pairInWords, saidByPart } from '../../live/pair-words.js';
import { turnedAwayInWords } from '../../live/turned-away.js';
import { DOUBT_WORDS } from '../../live/verdict.js';
import { HEARD_BUT_WORDS } from '../../safety/heard-but.js';
import { wantsLive } from '../../safety/watchdog.js';
import { WATCHDOG_TABLE } from '../../safety/watchdog-table.js';
import { enumerated } from '../../stage/enumerated.js';
import type { PerformerStatus, Status } from '../asking/status.js';

/** More names than this in a line are a number. */
const MOST_NAMES = 6;

/** What performers are: `tracked` while no light leaves this machine. */
type Word = 'live' | 'tracked';

/** Two lines for a person: the light, and what it stands on. */
export function statusInWords(status: Status): readonly [string, string] {
  return [lightLine(status), inputLine(status)];
}

function lightLine(status: Status): string {
  const { show, supervisor, engine, outputs } = status;
  const down = outputs.flatMap(({ name, since, trouble }) =>
    since === undefined || trouble === undefined ? [] : [{ name, since }],
  );
  const held = outputs.filter(({ heldBack }) => heldBack === true);
  const isDark = outputs.length > 0 && down.length + held.length === outputs.length;
  const parts = [
    ...(isLeading(status) ? [] : pairLines(status)),
    ...darkInWords(down, down.length > 0 && down.length === outputs.length),
    supervisor.phase === 'live'
      ? performersInWords(status, isDark ? 'tracked' : 'live')
      : supervisorInWords(status),
  ];
  if (status.cue !== undefined) parts.unshift(`cue ${status.cue.label}`);
  if (status.rehearsal !== undefined) parts.unshift(`REHEARSAL (${status.rehearsal.what})`);
  if (status.stops.everybody) parts.push(stopOfEverybodyInWords(status));
  if (status.hazardsOn.length > 0) parts.push(`${enumerated(status.hazardsOn, MOST_NAMES)} on`);
  parts.push(engine.pid === undefined ? 'no engine' : `engine ${engine.pid}`);
  return `${show}: ${parts.join('; ')}`;
}

function pairLines({ pair, troubles }: Status): string[] {
  if (pair === undefined) return [];
  const said = saidByPart(pair);
  const since = troubles.find(({ what }) => said.has(what))?.since;
  const lines = pairInWords(pair);
  return since === undefined || lines.length > 1
    ? lines
    : lines.map(line => `${line} (since ${clockOf(since)})`);
}

/** Of a main machine that leads everywhere the first line is about the light alone. */
const isLeading = ({ pair }: Status) => pair?.parts.every(({ part }) => part === 'leads') === true;

/** Somebody may have been resumed since: the rest of it holds. */
function stopOfEverybodyInWords({ performers, stops }: Status): string {
  const by = stops.by === undefined ? '' : ` (by ${stops.by})`;
  return performers.every(({ state }) => state === 'stopped')
    ? `everybody is stopped${by}`
    : `light without a performer and hazardous outputs are stopped until everybody is resumed${by}`;
}

/** What does not leave this machine, before anything else: the rest is what would be sent. */
function darkInWords(down: readonly { name: string; since: string }[], isDark: boolean): string[] {
  if (isDark) {
    // Since the last of them went.
    const since = down.map(one => one.since).sort((a, b) => Date.parse(a) - Date.parse(b));
    return [`NO LIGHT LEAVES THIS MACHINE (since ${clockOf(since.at(-1) ?? '')})`];
  }
  return down.map(({ name, since }) => `output ${name} sends nothing (since ${clockOf(since)})`);
}

function supervisorInWords(status: Status): string {
  const { phase, cause, since } = status.supervisor;
  const isBack = phase === 'rearming' || phase === 'returning';
  const isTracked = status.performers.some(one => wantsLive(one.phase));
  // What comes back is the light of those who are tracked.
  if (isBack && status.engine.pid !== undefined && !isTracked) {
    return `the engine runs, ${performersInWords(status)}`;
  }
  const what = {
    live: 'live',
    losing: 'all light is fading to the safe look',
    safe: 'all light is at the safe look',
    rearming: 'all light is at the safe look, and the engine is about to take over',
    returning: 'the engine is taking over from the safe look',
  }[phase];
  const why = phase === 'losing' || phase === 'safe' ? `: ${cause}` : '';
  const lost = status.performers.filter(({ state }) => state === 'lost');
  const missed = lost.length === 0 ? '' : `; last known: ${groupedByReason(lost)}`;
  return `${what} (since ${clockOf(since)}${why})${missed}`;
}

function performersInWords(status: Status, word: Word = 'live'): string {
  const { performers: all } = status;
  if (all.length === 0) return 'the show has no performers';
  const off = all.filter(({ state }) => state === 'off stage');
  const performers = all.filter(one => !off.includes(one));
  const gone = off.length === 0 ? '' : `${few(off.map(({ label }) => label))} off stage`;
  if (performers.length === 0) return `nobody is on stage; ${gone}`;
  const stage = onStageInWords(performers, status, word);
  return gone === '' ? stage : `${stage}; ${gone}`;
}

function onStageInWords(
  performers: readonly PerformerStatus[],
  status: Status,
  word: Word,
): string {
  const live = performers.filter(({ phase }) => wantsLive(phase));
  const lost = performers.filter(one => !live.includes(one));
  if (lost.length === 0) {
    return performers.length === 1
      ? `${performers[0]?.label} is ${word}`
      : `${performers.length === 2 ? 'both' : `all ${performers.length}`} performers are ${word}`;
  }
  const count =
    live.length === 0
      ? nobodyInWords(status, word)
      : `${live.length} of ${performers.length} performers ${word}`;
  return `${count}; ${groupedByReason(lost)}`;
}

/** Of light that does not leave this machine nothing is said. */
function nobodyInWords(status: Status, word: Word): string {
  const { performers, light, leftAlone, highlighted, pair } = status;
  if (word === 'tracked') return 'nobody is tracked';
  const isFading = performers.some(({ phase }) => phase === 'losing');
  // What the stage shows is the light of the other machine.
  if (pair?.parts.some(({ part }) => part === 'waits' || part === 'comes back') === true) {
    return `nobody is live; its own light ${isFading ? 'is fading to' : 'is at'} safe values`;
  }
  if (light === 'safe look' && !isFading) return 'THE STAGE IS AT THE SAFE LOOK: nobody is live';
  const goes = isFading ? 'is fading to' : 'is at';
  const but = highlighted === undefined ? '' : `, except ${highlighted}, which is highlighted`;
  const rest = leftAlone.length === 0 ? but : `${but}; left as it is: ${few(leftAlone)}`;
  return `nobody is live; the light of all performers ${goes} its safe values${rest}`;
}

const STATE_WORDS: Readonly<Record<Exclude<PerformerStatus['state'], 'stopped'>, string>> = {
  live: 'live since',
  returning: 'tracked again since',
  lost: 'lost since',
  'not heard': 'not heard since',
  'off stage': 'off stage since',
};

/** "Ines, Tobias lost since 20:14:03 (feed silent)". */
function groupedByReason(lost: readonly PerformerStatus[]): string {
  const groups = new Map<string, string[]>();
  for (const one of lost) {
    const doubt = one.doubt === undefined ? '' : `: ${DOUBT_WORDS[one.doubt]}`;
    const told = one.wearsNone === true ? 'wears no tracker' : `${titleOf(one.cause)}${doubt}`;
    const isTold = one.cause !== undefined && one.heardBut === undefined;
    const cause = isTold && one.state !== 'stopped' ? ` (${told})` : '';
    const but = one.heardBut === undefined ? '' : `, but ${HEARD_BUT_WORDS[one.heardBut].long}`;
    const is =
      one.state === 'stopped'
        ? `stopped by ${one.stoppedBy ?? 'an operator'} since`
        : one.heardBut === undefined
          ? STATE_WORDS[one.state]
          : 'heard since';
    const key = `${is} ${clockOf(one.since)}${cause}${but}`;
    groups.set(key, [...(groups.get(key) ?? []), one.label]);
  }
  return [...groups].map(([why, names]) => `${few(names)} ${why}`).join('; ');
}

function inputLine(status: Status): string {
  const { feed, silentTrackers, lowBatteries, outputs, troubles, deskLostSince } = status;
  const parts = [
    feed.silent
      ? `tracking silent since ${clockOf(feed.since)}`
      : `tracking ${feed.positionsPerS} positions/s`,
  ];
  const delay = delayInWords(status.delays);
  if (delay !== undefined && !feed.silent) parts.push(delay);
  if (feed.droppedPerS > 0) parts.push(`${feed.droppedPerS}/s dropped`);
  for (const { tracker, performerLabel, since } of silentTrackers) {
    parts.push(`tracker ${tracker} of ${performerLabel} silent since ${clockOf(since)}`);
  }
  for (const { tracker, performerLabel, since } of status.frozenTrackers) {
    parts.push(`tracker ${tracker} of ${performerLabel} frozen since ${clockOf(since)}`);
  }
  for (const { performerLabel, trackers, apartM } of status.apartTrackers) {
    parts.push(apartInWords(performerLabel, trackers, apartM));
  }
  for (const { tracker, performerLabel, charge } of lowBatteries) {
    const whose = performerLabel === undefined ? ' (spare)' : ` of ${performerLabel}`;
    parts.push(`battery of tracker ${tracker}${whose} at ${Math.round(100 * charge)} %`);
  }
  if (deskLostSince !== undefined) parts.push(`desk silent since ${clockOf(deskLostSince)}`);
  parts.push(...desksInWords(status));
  const down = outputs.filter(({ trouble }) => trouble !== undefined);
  for (const { name, trouble } of down) parts.push(`output ${name} DOWN: ${trouble}`);
  const well = outputs.filter(({ trouble }) => trouble === undefined);
  const held = well.filter(({ heldBack }) => heldBack === true).map(({ name }) => name);
  if (held.length > 0) {
    const which = `${held.length === 1 ? 'output' : 'outputs'} ${few(held)}`;
    const why = hasOther(status.pair)
      ? 'the other machine of the pair sends Art-Net, or may'
      : 'it first listens for another lampwright that sends Art-Net';
    parts.push(`${which} held back (${why})`);
  }
  if (isLeading(status)) parts.push(...pairLines(status));
  const up = well.filter(({ heldBack }) => heldBack !== true).map(({ name }) => name);
  if (up.length > 0) parts.push(`${up.length === 1 ? 'output' : 'outputs'} ${few(up)} sending`);
  if (status.outputsElsewhere.length > 0) {
    parts.push(`sent by other machines: ${few(status.outputsElsewhere)}`);
  }
  for (const { label, pinnedTo } of status.heads) {
    if (pinnedTo === undefined) continue;
    const whom = status.performers.find(({ name }) => name === pinnedTo)?.label ?? pinnedTo;
    parts.push(`${label} pinned to ${whom}`);
  }
  const away = turnedAwayInWords(
    status.turnedAway.map(({ reason, recent, from, last }) => ({
      ...{ reason, count: recent, from, lastS: Date.parse(last) / 1e3 },
    })),
  );
  if (away !== '') parts.push(`in the last ten minutes the panel turned away ${away}`);
  const said = saidByPart(status.pair);
  for (const { what, since } of troubles) {
    if (!said.has(what)) parts.push(`${what} (since ${clockOf(since)})`);
  }
  return parts.join('; ');
}

function delayInWords(delays: Status['delays']): string | undefined {
  const whole = delays.find(({ part }) => part === 'whole');
  const half = whole && delayWithinS(whole, 0.5);
  if (whole === undefined || half === undefined) return undefined;
  const most = delayWithinS(whole, 0.99) ?? half;
  const [usual, slow] = [half, most].map(s =>
    Number.isFinite(s) ? `${Math.round(s * 1e4) / 10} ms` : 'more than a second',
  );
  return `positions reach the light: median ${usual}, 99 % within ${slow}`;
}

function desksInWords({ desk }: Status): string[] {
  const heard = desk.filter(({ state, trouble }) => state === 'heard' && trouble === undefined);
  return [
    ...desk
      .filter(one => !heard.includes(one))
      .map(({ name, state, since, gone, trouble }) => {
        if (trouble !== undefined) return `desk ${name} CAN'T BE HEARD: ${trouble}`;
        return `desk ${name} ${state} since ${clockOf(since)}${gone === undefined ? '' : ` (${gone})`}`;
      }),
    ...(heard.length === 0
      ? []
      : [`${heard.length === 1 ? 'desk' : 'desks'} ${few(heard.map(({ name }) => name))} heard`]),
    ...heard
      .filter(({ sources }) => sources.length > 1)
      .map(({ name, sources }) => `desk ${name} has ${sources.length} sources`),
  ];
}

function titleOf(condition: PerformerStatus['cause']): string {
  return WATCHDOG_TABLE.find(row => row.condition === condition)?.title ?? '';
}

function few(names: readonly string[]): string {
  const rest = names.length - MOST_NAMES;
  return rest <= 0 ? names.join(', ') : `${names.slice(0, MOST_NAMES).join(', ')} and ${rest} more`;
}

/** Time of day where the machine is. */
function clockOf(iso: string): string {
  return new Date(iso).toLocaleTimeString('en-GB');
}
