import { HEARD_BUT_WORDS } from '../safety/heard-but.js';
import { rowOf } from '../safety/watchdog-table.js';
import { enumerated } from '../stage/enumerated.js';
import type { LiveEngine, LivePerformer } from './engine-schema.js';
import type { LiveSnapshot } from './schema.js';
import type { LiveStage } from './stage-schema.js';

/** What a snapshot says, for people: the terminal and the panel read it by the same words. */

type PerformerStatus = LiveSnapshot['status']['performers'][number];
type StagedFixture = LiveStage['fixtures'][number];

/** Who needs a look first: the lowest. */
const URGENCY: Readonly<Record<PerformerStatus['state'], number>> = {
  lost: 0,
  returning: 1,
  'not heard': 2,
  stopped: 3,
  'off stage': 4,
  live: 5,
};

export function urgencyOf({ state }: Pick<PerformerStatus, 'state'>): number {
  return URGENCY[state];
}

/** A performer as status and engine know them; `seen` is missing while no engine runs. */
export interface Person {
  readonly label: string;
  readonly status: PerformerStatus;
  readonly seen: LivePerformer | undefined;
}

export function peopleOf({ status, engine }: LiveSnapshot): Person[] {
  return status.performers.map((one, index) => ({
    label: one.label,
    status: one,
    seen: engine?.performers[index],
  }));
}

/** How sure of each performer, by name; null: no engine runs. */
export function confidenceOf(
  status: Pick<LiveSnapshot['status'], 'performers'>,
  engine: LiveEngine | null,
): { [performer: string]: number | null } {
  return Object.fromEntries(
    status.performers.map(({ name }, index) => [
      name,
      engine?.performers[index]?.confidence.value ?? null,
    ]),
  );
}

/** "tracker silent", "wears no tracker"; undefined where there is nothing to say. */
export function causeInWords(one: PerformerStatus): string | undefined {
  const { cause, state, wearsNone, stoppedBy, heardBut } = one;
  if (state === 'live' || state === 'off stage') return undefined;
  if (state === 'stopped') return `by ${stoppedBy ?? 'an operator'}`;
  if (wearsNone === true) return 'wears no tracker';
  if (heardBut !== undefined) return HEARD_BUT_WORDS[heardBut].short;
  return cause === undefined ? undefined : rowOf(cause).title;
}

/** In a word: "lost"; "heard" of one who is heard and not followed yet, with the cause beside it. */
export function stateInWords({ state, heardBut }: Pick<PerformerStatus, 'state' | 'heardBut'>) {
  return heardBut === undefined ? state : 'heard';
}

/** "98 % sure"; undefined of whom nobody is to be sure: who is stopped, off stage, or not heard yet. */
export function sureInWords({ status: { state }, seen }: Person): string | undefined {
  if (state === 'stopped' || state === 'off stage' || state === 'not heard') return undefined;
  return `${Math.round((seen?.confidence.value ?? 0) * 100)} % sure`;
}

/** The lowest charge of what they wear, 0..1. */
export function batteryOf(engine: LiveEngine | null, performer: string): number | undefined {
  const charges = (engine?.trackers ?? []).flatMap(one =>
    one.performer === performer && one.battery !== undefined ? [one.battery] : [],
  );
  return charges.length === 0 ? undefined : Math.min(...charges);
}

/** Index of the cue that is on; 0 in a show without cues. */
export function cueOf({ cues }: LiveStage, { status }: LiveSnapshot): number {
  return Math.max(
    0,
    cues.findIndex(({ name }) => name === status.cue?.name),
  );
}

/** All light is at its safe look, whatever the engine asks for. */
export function isHeld({ status, engine }: LiveSnapshot): boolean {
  const { phase } = status.supervisor;
  if (phase === 'losing') return false;
  return engine === null || phase === 'safe' || phase === 'rearming';
}

/** The supervisor fades all light to its safe look: between the two nobody says how bright a fixture is. */
export function isFadingToSafe({ status }: Pick<LiveSnapshot, 'status'>): boolean {
  return status.supervisor.phase === 'losing';
}

/** As it is now: of one that has it from the desk, the desk's level. */
export function safeValue(stage: LiveStage, snapshot: LiveSnapshot, at: FixtureChannel): number {
  const now = snapshot.engine?.fixtures[at.fixture]?.safe?.[at.channel];
  if (now !== undefined) return now;
  const { safe } = stage.fixtures[at.fixture]?.channels[at.channel] ?? { safe: [] };
  return safe[cueOf(stage, snapshot)] ?? safe[0] ?? 0;
}

/** It is the desk's level, and nobody says what that is. */
export function isSafeUnknown(
  stage: LiveStage,
  snapshot: LiveSnapshot,
  at: FixtureChannel,
): boolean {
  if (sentValue(stage, snapshot, at) !== undefined) return false;
  const { engine } = snapshot;
  const isFromDesk = stage.fixtures[at.fixture]?.channels[at.channel]?.safeFromDesk === true;
  return isFromDesk && engine?.fixtures[at.fixture]?.safe === undefined;
}

export interface FixtureChannel {
  readonly fixture: number;
  readonly channel: number;
}

/** The intensity that leaves; undefined of another channel, and where the slots don't say. */
export function sentValue(
  stage: LiveStage,
  { sent }: Pick<LiveSnapshot, 'sent'>,
  { fixture, channel }: FixtureChannel,
): number | undefined {
  const staged = stage.fixtures[fixture];
  if (staged === undefined || intensityOf(staged) !== channel) return undefined;
  return sent?.[fixture] ?? undefined;
}

/** Its universe does not leave: what it shows is up to the fixture and its gateway. */
export function isNotSent(
  fixture: LiveStage['fixtures'][number] | undefined,
  { status }: LiveSnapshot,
): boolean {
  return fixture !== undefined && status.notSent.includes(fixture.name);
}

/** Where the beam of a head is, at the height of whom it follows or else on the floor; undefined where the engine does not aim it just now, or nothing of it leaves. */
export function beamOf(stage: LiveStage, snapshot: LiveSnapshot, fixture: number) {
  if (isNotSent(stage.fixtures[fixture], snapshot)) return undefined;
  if (isHeld(snapshot) || isFadingToSafe(snapshot)) return undefined;
  const { beam, beamOn = beam } = snapshot.engine?.fixtures[fixture] ?? {};
  return beamOn;
}

/** What a channel of a fixture shows: what leaves; where the slots don't say, the engine's value, or the safe one while all light is held there. */
export function shownValue(stage: LiveStage, snapshot: LiveSnapshot, at: FixtureChannel): number {
  const sent = sentValue(stage, snapshot, at);
  if (sent !== undefined) return sent;
  const asked = snapshot.engine?.fixtures[at.fixture]?.values[at.channel];
  return asked === undefined || isHeld(snapshot) ? safeValue(stage, snapshot, at) : asked;
}

/** The same, for people; undefined of an intensity that fades and that nobody says. */
export function levelOf(
  stage: LiveStage,
  snapshot: LiveSnapshot,
  at: FixtureChannel,
): number | undefined {
  const staged = stage.fixtures[at.fixture];
  const isIntensity = staged !== undefined && intensityOf(staged) === at.channel;
  const isUnknown = isFadingToSafe(snapshot) && sentValue(stage, snapshot, at) === undefined;
  return isIntensity && isUnknown ? undefined : shownValue(stage, snapshot, at);
}

/** Channel of the intensity; undefined where it has none. */
export function intensityOf({ channels }: StagedFixture): number | undefined {
  const index = channels.findIndex(({ intensity }) => intensity === true);
  return index < 0 ? undefined : index;
}

export function nameOf({ performers }: LiveStage, performer: string): string {
  return performers.find(({ name }) => name === performer)?.label ?? performer;
}

/** "0:07", "12:30", "1:02:30". */
export function durationText(seconds: number): string {
  const whole = Math.max(0, Math.floor(seconds));
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  const pad = (value: number) => String(value).padStart(2, '0');
  return h > 0 ? `${h}:${pad(m)}:${pad(s)}` : `${m}:${pad(s)}`;
}

/** How long something has been so when the snapshot was made. @param since ISO 8601 */
export function forText(since: string, { atS }: Pick<LiveSnapshot, 'atS'>): string {
  return durationText(atS - Date.parse(since) / 1e3);
}

/** What leaves, in one word and a sentence: all outputs, or which do not. */
export function outputsInWords({ status }: LiveSnapshot): { isWell: boolean; text: string } {
  const down = status.outputs.filter(({ trouble }) => trouble !== undefined);
  if (down.length === 0) {
    const held = status.outputs.filter(({ heldBack }) => heldBack === true);
    if (held.length > 0) {
      const left = `${held.map(({ name }) => name).join(', ')} left to the other machine`;
      const isAll = held.length === status.outputs.length;
      return { isWell: true, text: isAll ? left : `${left}, the other outputs send` };
    }
    const shares = status.outputsElsewhere.length > 0;
    return { isWell: true, text: shares ? 'the outputs of this machine send' : 'all outputs send' };
  }
  const names = down.map(({ name }) => name).join(', ');
  return { isWell: false, text: `${names}: nothing leaves` };
}

/** "panel at 10.0.0.5", "panel at 127.0.0.1 (2 hands)"; empty where nobody holds the enable of this class. */
export function heldByInWords({ engine }: Pick<LiveSnapshot, 'engine'>, hazard: string): string {
  const by = engine?.hazards.find(one => one.hazard === hazard)?.heldBy ?? [];
  const counts = new Map<string, number>();
  for (const one of by) {
    const who = whoInWords(one);
    counts.set(who, (counts.get(who) ?? 0) + 1);
  }
  if (counts.size === 0) return '';
  return enumerated([...counts].map(([who, n]) => (n === 1 ? who : `${who} (${n} hands)`)));
}

/**
 * Why an output stays off although its enable is held, and what to do: "everybody is stopped. Release, and press again
 * once they are resumed"; undefined where it isn't so.
 */
export function refusedInWords(
  { status, engine }: Pick<LiveSnapshot, 'status' | 'engine'>,
  hazard: string,
): string | undefined {
  const mine = engine?.hazards.filter(one => one.hazard === hazard) ?? [];
  const isOn = mine.some(({ gate }) => gate === 'on');
  if (isOn || !mine.some(({ gate }) => gate === 'latched-off')) return undefined;
  const release = 'Release, and press again once';
  if (status.stops.everybody) return `everybody is stopped. ${release} they are resumed.`;
  if (status.supervisor.phase !== 'live') {
    return `all light is at the safe look. ${release} the engine has the light.`;
  }
  if (status.feed.silent) return `tracking is silent. ${release} it is back.`;
  const hands = mine[0]?.heldBy?.length ?? 0;
  if (hands > 1) return `one of ${hands} hands has released it. ${release} all have.`;
  const away = status.performers.filter(({ state }) => state === 'lost' || state === 'stopped');
  if (away.length > 0) {
    const who = away.map(({ label, state }) => `${label} is ${state}`);
    return `${enumerated(who)}. ${release} that is over.`;
  }
  return 'it had gone off while it was held. Release, and press again.';
}

/** Who asked, without how: "control socket (user anna uid 1000)" -> "anna". */
function whoInWords(by: string): string {
  const [, user] = /^control socket \(user (.*)\)$/.exec(by) ?? [];
  return user?.replace(/ uid \d+$/, '') ?? (by === '' ? 'somebody' : by);
}

type DeskStatus = LiveSnapshot['status']['desk'][number];

/** Universes of the desk that are not heard, or can't be. */
export function lostDesks({ status }: LiveSnapshot): DeskStatus[] {
  return status.desk.filter(({ state, trouble }) => state !== 'heard' || trouble !== undefined);
}

const SLOTS_NAMED = 3;

/** What is wrong with the desk, each in a sentence; with what it drives, as that light is at its safe values or as it was. */
export function desksInWords(snapshot: LiveSnapshot): string[] {
  const { deskLostSince } = snapshot.status;
  const silent =
    deskLostSince === undefined ? [] : [`desk silent for ${forText(deskLostSince, snapshot)}`];
  const lost = lostDesks(snapshot).map(({ name, state, since, gone, slots, trouble }) => {
    if (trouble !== undefined) return `desk ${name} can't be heard: ${trouble}`;
    const said = `desk ${name}: ${state} for ${forText(since, snapshot)}`;
    if (gone !== undefined) return `${said}, ${gone}`;
    const driven = slots.filter(({ kind }) => kind === 'signal').map(({ does }) => does);
    if (driven.length === 0) return said;
    const more = driven.length - SLOTS_NAMED;
    const named = driven.slice(0, SLOTS_NAMED).join('; ');
    return `${said}, so not known: ${named}${more > 0 ? `; and ${more} more` : ''}`;
  });
  return [...silent, ...lost];
}

/** One that is silent for so long is called so, seconds. */
const HEARD_S = 2;

/** What somebody wears, and which of it is silent or repeats itself: "tracker 2, 5 (silent for 0:12)". */
export function wornInWords({ engine, status }: LiveSnapshot, performer: string): string {
  const worn = (engine?.trackers ?? []).filter(one => one.performer === performer);
  if (worn.length === 0) return 'wears no tracker';
  // An engine that has been restarted has not heard them; the one before had.
  const isLost = status.performers.some(one => one.name === performer && one.state === 'lost');
  const wrong = worn.map(({ id, silentForS }) => {
    if (silentForS === undefined) return isLost ? 'silent' : 'never heard';
    if (status.frozenTrackers.some(one => one.tracker === id)) return 'repeats itself';
    return silentForS < HEARD_S ? '' : `silent for ${durationText(silentForS)}`;
  });
  const ids = worn.map(({ id }) => id);
  const [first = ''] = wrong;
  if (wrong.every(one => one === first)) {
    return `tracker ${ids.join(', ')}${first === '' ? '' : `, ${first}`}`;
  }
  return `tracker ${ids.map((id, i) => (wrong[i] === '' ? id : `${id} (${wrong[i]})`)).join(', ')}`;
}
