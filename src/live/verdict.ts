import { HEARD_BUT_WORDS } from '../safety/heard-but.js';
import { enumerated } from '../stage/enumerated.js';
import type { ConfidencePart } from '../tracking/confidence.js';
import {
  causeInWords,
  desksInWords,
  forText,
  lostDesks,
  outputsInWords,
  stateInWords,
} from './reading.js';
import type { LiveSnapshot } from './schema.js';

/** Is everything all right? In one word, one line, and what it is made of. */
export interface Verdict {
  /** `act`: light is not as it should be; `look`: somebody or something needs a look. */
  readonly level: 'well' | 'look' | 'act';
  readonly line: string;
  readonly details: readonly string[];
  /** Those that are not of performers, for whoever has a line for each of them. */
  readonly others: readonly string[];
}

export const TRACKING_SILENT = 'Tracking is silent: nobody is heard';

const EVERYBODY_STOPPED = 'Everybody is stopped';

const PHASE_LINES = {
  losing: 'All light fades to the safe look',
  safe: 'All light is at the safe look',
  rearming: 'All light is at the safe look; the engine takes over in a moment',
  returning: 'The engine takes over from the safe look',
} as const;

export function verdictOf(snapshot: LiveSnapshot): Verdict {
  const { status } = snapshot;
  const { supervisor, performers, stops } = status;
  const outputs = outputsInWords(snapshot);
  const down = status.outputs.filter(one => one.trouble !== undefined);
  const lost = performers.filter(({ state }) => state === 'lost');
  const others = performers.filter(({ state }) => state === 'not heard' || state === 'returning');
  const stopped = performers.filter(({ state }) => state === 'stopped');
  const said = (some: typeof performers) => performersInWords(some, snapshot);
  const hasEngine = snapshot.engine !== null;
  const outs = [...groupedBy(down, ({ trouble = '' }) => trouble)].map(([why, some]) => {
    const names = enumerated(
      some.map(({ name }) => name),
      MOST_NAMED,
    );
    const [first] = some.flatMap(({ since }) => since ?? []).sort();
    const forHow = first === undefined ? '' : ` (for ${forText(first, snapshot)})`;
    return `${some.length > 1 ? 'outputs' : 'output'} ${names}: ${why}${forHow}`;
  });
  const told = status.troubles.map(({ what }) => what);
  const off = told.filter(what => MAPPING_OFF.test(what));
  const afterStop = (one: Worn) => afterStopInWords(one, snapshot);
  const more = [
    ...(status.feed.silent && stopped.length > 0
      ? ['tracking is silent: nobody will come back on Resume']
      : []),
    ...desksInWords(snapshot),
    ...eachOrAll(off, what => what, mappingOf, 'mappings are off:'),
    ...troublesInWords(told.filter(what => !off.includes(what))),
    ...eachOrAll(
      status.lowBatteries,
      ({ tracker, performerLabel = 'a spare', charge }) =>
        `battery of tracker ${tracker} (${performerLabel}) at ${Math.round(charge * 100)} %`,
      ({ tracker, performerLabel = 'a spare', charge }) =>
        `${tracker} (${performerLabel}) ${Math.round(charge * 100)} %`,
      'batteries are low: trackers',
    ),
    ...eachOrAll(
      status.silentTrackers,
      one => `tracker ${one.tracker} of ${one.performerLabel} is silent${afterStop(one)}`,
      ofWhom,
      'trackers are silent:',
    ),
    ...eachOrAll(
      status.frozenTrackers,
      one => `tracker ${one.tracker} of ${one.performerLabel} repeats itself${afterStop(one)}`,
      ofWhom,
      'trackers repeat themselves:',
    ),
    ...eachOrAll(
      status.apartTrackers,
      ({ performerLabel, trackers, apartM }) =>
        `trackers ${trackers.join(' and ')} of ${performerLabel} are ${apartM.toFixed(1)} m apart`,
      ({ performerLabel, apartM }) => `${performerLabel} ${apartM.toFixed(1)} m`,
      'performers whose trackers are apart:',
    ),
    ...alike(
      status.positions.flatMap(({ name, trouble }) =>
        trouble === undefined ? [] : [{ name, is: trouble }],
      ),
      'positions to',
    ),
  ];
  const details = [
    ...outs,
    // Without an engine nobody says who is heard; their trackers may well be.
    ...(hasEngine
      ? said([...lost, ...others])
      : [...said(lost), 'no engine runs, so nobody knows where people are']),
    ...(stops.everybody ? [everybodyStopped(stopped, snapshot)] : said(stopped)),
    ...more,
  ];
  const is = (level: Verdict['level'], line: string): Verdict => ({
    ...{ level, line, details },
    others: [...outs, ...more],
  });
  const isLost = `${named(lost)} ${lost.length === 1 ? 'is' : 'are'} lost`;
  /** What else is wrong hides neither a stop of everybody nor who is lost. */
  const withPeople = (line: string) => {
    const rest = line.charAt(0).toLowerCase() + line.slice(1);
    if (stops.everybody) return is('act', `${EVERYBODY_STOPPED} · ${rest}`);
    return is('act', lost.length > 0 ? `${isLost} · ${rest}` : line);
  };
  if (down.length > 0 && down.length === status.outputs.length) {
    return withPeople('No light leaves this machine');
  }
  if (!outputs.isWell) return withPeople(`No output by ${down.map(one => one.name).join(', ')}`);
  if (stops.everybody) return is('act', EVERYBODY_STOPPED);
  if (supervisor.phase !== 'live') {
    const why = supervisor.phase === 'losing' || supervisor.phase === 'safe';
    return is('act', `${PHASE_LINES[supervisor.phase]}${why ? `: ${supervisor.cause}` : ''}`);
  }
  if (snapshot.engine === null) return is('look', 'The engine is not heard from at the moment');
  if (status.feed.silent) {
    const isAtStart = performers.every(({ state }) => state === 'not heard');
    if (!isAtStart) return is('act', TRACKING_SILENT);
    const isRefused = performers.some(({ heardBut }) => heardBut === 'refused');
    return is('look', isRefused ? 'Every position is refused' : 'Nothing heard from tracking yet');
  }
  const desk = deskLine(snapshot);
  if (lost.length > 0) return desk?.level === 'act' ? withPeople(desk.line) : is('act', isLost);
  if (desk !== undefined) return is(desk.level, desk.line);
  if (stopped.length > 0) return is('look', `${named(stopped)} stopped`);
  const untracked = others.filter(({ state }) => state === 'not heard');
  if (untracked.length > 0) return is('look', `${named(untracked)} not tracked yet`);
  if (others.length > 0) return is('look', `${named(others)}: light coming back`);
  if (status.troubles.some(({ what }) => FOLDER_GONE.test(what))) {
    return is('look', capital(FOLDER_WORDS));
  }
  const worth = details.filter(one => !SHUT_OUT.test(one));
  const [first] = worth;
  if (first !== undefined) {
    return is('look', worth.length === 1 ? capital(first) : `${worth.length} things need a look`);
  }
  const live = performers.filter(({ state }) => state === 'live').length;
  return is('well', live === 0 ? 'All is well; nobody is on stage' : 'All is well');
}

/** From so many on, what is alike is one line: a line for each would hide what is not. */
const ALIKE_FROM = 3;
const MOST_NAMED = 6;

const MAPPING_OFF = /^mapping (.*) is off$/;
const mappingOf = (what: string) => MAPPING_OFF.exec(what)?.[1] ?? what;

const ofWhom = (one: { readonly tracker: string; readonly performerLabel: string }) =>
  `${one.tracker} (${one.performerLabel})`;

type Worn = LiveSnapshot['status']['silentTrackers'][number];

/** Of who is stopped and would be lost without the stop, for want of another tracker; empty of anybody else. */
function afterStopInWords({ performer, performerLabel }: Worn, snapshot: LiveSnapshot): string {
  const { performers, silentTrackers, frozenTrackers } = snapshot.status;
  const isStopped = performers.some(one => one.name === performer && one.state === 'stopped');
  const { trackers = [] } = snapshot.engine?.performers.find(one => one.name === performer) ?? {};
  const isDown = (id: string) =>
    [...silentTrackers, ...frozenTrackers].some(one => one.tracker === id);
  if (!isStopped || trackers.length === 0 || !trackers.every(isDown)) return '';
  return `: ${performerLabel} will not come back on Resume`;
}

/** A line for each, or one for all where they are many. */
function eachOrAll<One>(
  all: readonly One[],
  line: (one: One) => string,
  short: (one: One) => string,
  what: string,
): string[] {
  if (all.length < ALIKE_FROM) return all.map(line);
  return [`${all.length} ${what} ${enumerated(all.map(short), MOST_NAMED)}`];
}

/** "positions to desk: no carrier"; those of which the same is to be said in one line. */
function alike(
  all: readonly { readonly name: string; readonly is: string }[],
  what: string,
): string[] {
  const byWords = groupedBy(all, ({ is }) => is);
  return [...byWords].map(
    ([is, some]) =>
      `${what} ${enumerated(
        some.map(({ name }) => name),
        MOST_NAMED,
      )}: ${is}`,
  );
}

function groupedBy<One>(all: readonly One[], key: (one: One) => string): Map<string, One[]> {
  const groups = new Map<string, One[]>();
  for (const one of all) groups.set(key(one), [...(groups.get(key(one)) ?? []), one]);
  return groups;
}

type Performers = LiveSnapshot['status']['performers'];

/** "Ines: lost for 0:12, tracker silent"; those who are so for the same cause in one line. */
function performersInWords(some: Performers, snapshot: LiveSnapshot): string[] {
  const words = (one: Performers[number]) => {
    const { heardBut } = one;
    const cause = causeInWords(one);
    const doubt = one.doubt === undefined ? '' : `: ${DOUBT_WORDS[one.doubt]}`;
    const why = cause === undefined ? '' : `, ${cause}${doubt}`;
    return {
      state: stateInWords(one),
      why: heardBut === undefined ? why : `, but ${HEARD_BUT_WORDS[heardBut].long}`,
    };
  };
  const groups = groupedBy(some, one => JSON.stringify(words(one)));
  return [...groups.values()].flatMap(group => {
    const ages = group.map(({ since }) => forText(since, snapshot));
    const isOne = group.length < ALIKE_FROM;
    if (isOne) {
      return group.map((one, index) => {
        const { state, why } = words(one);
        return `${one.label}: ${state} for ${ages[index]}${why}`;
      });
    }
    const [first] = [...group].sort((a, b) => Date.parse(a.since) - Date.parse(b.since));
    const { state, why } = words(group[0] as Performers[number]);
    const age = first === undefined ? '' : forText(first.since, snapshot);
    const how = ages.every(one => one === age) ? `for ${age}` : `the first for ${age}`;
    const names = enumerated(
      group.map(({ label }) => label),
      MOST_NAMED,
    );
    return [`${names}: ${state} ${how}${why}`];
  });
}

/** A stranger changes no headline (decision 32) while everybody is heard: it is shut out, and listed. */
const SHUT_OUT = /\ba second refused: .* is not in allow$/;
const FOLDER_GONE = /\b(the folder|its disk) is gone\b/;
const FOLDER_WORDS = 'the state folder is gone: the light goes on, but changes are not kept';

/** Of a folder that is gone come several, and one thing is to be done. */
function troublesInWords(all: readonly string[]): string[] {
  const rest = all.filter(what => !FOLDER_GONE.test(what));
  return rest.length === all.length ? rest : [FOLDER_WORDS, ...rest];
}

/** One line for all: what else is wrong has room beside it. */
function everybodyStopped(
  stopped: readonly { readonly label: string; readonly since: string }[],
  snapshot: LiveSnapshot,
): string {
  const { performers, stops } = snapshot.status;
  const last = stopped.map(({ since }) => since).sort((a, b) => Date.parse(a) - Date.parse(b));
  const sinceAll = last.at(-1);
  const forHow = sinceAll === undefined ? '' : ` for ${forText(sinceAll, snapshot)}`;
  const by = stops.by === undefined ? '' : ` by ${stops.by}`;
  return stopped.length === performers.length
    ? `stopped${by}${forHow}: resume when all is clear`
    : `stopped${by}: ${named(stopped)}${forHow}; light without a performer, and hazardous outputs, too`;
}

/** One that was heard and is not any more weighs more than one that is not on yet. */
function deskLine(snapshot: LiveSnapshot): Pick<Verdict, 'level' | 'line'> | undefined {
  const all = lostDesks(snapshot);
  const of = (some: typeof all) =>
    `${some.length === 1 ? 'Desk' : 'Desks'} ${some.map(({ name }) => name).join(', ')}`;
  const deaf = all.filter(({ trouble }) => trouble !== undefined);
  if (deaf.length > 0) return { level: 'act', line: `${of(deaf)} can't be heard` };
  const gone = all.filter(({ state }) => state === 'gone');
  if (gone.length > 0)
    return { level: 'act', line: `${of(gone)} ${gone.length === 1 ? 'is' : 'are'} gone` };
  return all.length === 0 ? undefined : { level: 'look', line: `${of(all)} not heard yet` };
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

function named(all: readonly { readonly label: string }[]): string {
  const labels = all.map(({ label }) => label);
  if (labels.length > 3) return `${labels.length} performers`;
  return labels.length < 2
    ? (labels[0] ?? '')
    : `${labels.slice(0, -1).join(', ')} and ${labels.at(-1)}`;
}

/** What pulls a confidence down. */
export const DOUBT_WORDS: Readonly<Record<ConfidencePart, string>> = {
  age: 'reports are late or missing',
  frozen: 'the position does not change',
  gate: 'too many recent reports were far off',
  elsewhere: 'reports keep giving another place',
  conflict: 'their trackers are in different places',
  bounds: 'off the stage',
  speed: 'faster than a person moves',
  quality: 'the tracking system itself gives a low quality',
  spread: 'the place is too uncertain',
};
