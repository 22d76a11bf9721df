import { HEARD_BUT_WORDS } from '../safety/heard-but.js';
import { enumerated } from '../stage/enumerated.js';
import type { LiveEngine } from './engine-schema.js';
import {
  heldByInWords,
  intensityOf,
  isFadingToSafe,
  isHeld,
  isNotSent,
  isSafeUnknown,
  nameOf,
  safeValue,
  shownValue,
} from './reading.js';
import type { LiveSnapshot } from './schema.js';
import type { LiveStage } from './stage-schema.js';

/** What the light does, and why, for people: the headline, and the line of each fixture. */

type LiveFixture = LiveEngine['fixtures'][number];
type State = LiveSnapshot['status']['performers'][number]['state'];

/** Below this a lamp is dark, per cent. */
const DARK_PERCENT = 0.5;
/** Closer to its safe value than this it is there, per cent. */
const AT_SAFE_PERCENT = 1;
const MOST_NAMED = 4;
/** A dark head that is further from its aim than this is on its way there. */
const TURNS_DEG = 2;

/** Of one fixture: "on Ines", "dark: Ines is lost", "at safe: Ines is lost". Empty where there is nothing to say. */
export function fixtureInWords(
  stage: LiveStage,
  snapshot: LiveSnapshot,
  index: number,
): { readonly text: string; readonly isDark: boolean } {
  const staged = stage.fixtures[index];
  const fixture = snapshot.engine?.fixtures[index];
  if (staged === undefined) return NOTHING;
  const fades = isFadingToSafe(snapshot) && intensityOf(staged) !== undefined;
  if (fixture === undefined && !isHeld(snapshot) && !fades) return NOTHING;
  if (isNotSent(staged, snapshot))
    return { text: 'not sent: its output sends nothing', isDark: true };
  if (fades) return { text: 'fades to safe', isDark: false };
  if (isHeld(snapshot)) {
    const isThere = Math.abs(aboveSafe(stage, snapshot, index)) < AT_SAFE_PERCENT;
    return { text: isThere ? 'at safe, as all light is' : 'on the way to safe', isDark: true };
  }
  if (fixture === undefined) return NOTHING;
  const safe = safeInWords(stage, snapshot, index);
  if (!staged.isHead) return { text: safe ?? '', isDark: safe !== undefined };
  const why = darkInWords(stage, snapshot, fixture);
  const whom = safe ?? whomInWords(stage, fixture);
  const reach = fixture.reachable === false ? ", can't reach them" : '';
  const parts = [why === undefined ? `${whom}${reach}` : `dark: ${why}`];
  const pinnedTo = snapshot.status.heads.find(one => one.fixture === staged.name)?.pinnedTo;
  if (pinnedTo !== undefined) {
    const isThere = why === undefined && pinnedTo === fixture.follows;
    parts.push(isThere ? 'pinned' : `pinned to ${nameOf(stage, pinnedTo)}`);
  }
  const text = parts.filter(part => part !== '').join(', ');
  return { text, isDark: why !== undefined || safe !== undefined };
}

const NOTHING = { text: '', isDark: false } as const;

/** Of the hazardous outputs of a fixture, what they give and who holds them; empty for any other. */
export function gatesInWords(stage: LiveStage, snapshot: LiveSnapshot, index: number): string {
  const fixture = stage.fixtures[index]?.name;
  const mine = (snapshot.engine?.hazards ?? []).filter(one => one.fixture === fixture);
  return mine
    .map(({ hazard, gate }) => {
      const by = heldByInWords(snapshot, hazard);
      if (gate === 'on')
        return `${outputInWords(stage, snapshot, index, hazard)}, held by ${by || 'somebody'}`;
      const off = offInWords(stage, index, hazard);
      return by === '' ? `${off}, enable not held` : `${off}, held by ${by}: release first`;
    })
    .join('; ');
}

/** "off"; of a fixture of which other channels need no enable, and may be on, "Haze1 off". */
function offInWords(stage: LiveStage, fixture: number, hazard: string): string {
  const still = (stage.fixtures[fixture]?.channels ?? []).filter(
    ({ attribute }) => !/^(Pan|Tilt)/.test(attribute),
  );
  const mine = still.filter(one => one.hazard === hazard);
  if (mine.length === still.length) return 'off';
  return `${enumerated(mine.map(one => one.attribute)) || hazard} off`;
}

/** "haze 30 %"; of a channel whose unit is not known "on". */
function outputInWords(
  stage: LiveStage,
  snapshot: LiveSnapshot,
  fixture: number,
  hazard: string,
): string {
  const channels = stage.fixtures[fixture]?.channels ?? [];
  const channel = channels.findIndex(one => one.hazard === hazard);
  const [, name] = /^(Haze|Fog)\d*$/.exec(channels[channel]?.attribute ?? '') ?? [];
  if (name === undefined) return 'on';
  const level = shownValue(stage, snapshot, { fixture, channel });
  return `${name.toLowerCase()} ${Math.round(level)} %`;
}

function safeInWords(stage: LiveStage, snapshot: LiveSnapshot, index: number): string | undefined {
  const why = unbelievedInWords(stage, snapshot, index);
  const hasLevel = stage.fixtures[index] && intensityOf(stage.fixtures[index]) !== undefined;
  if (why === undefined || hasLevel !== true) return undefined;
  const above = aboveSafe(stage, snapshot, index);
  if (Math.abs(above) < AT_SAFE_PERCENT) return `at safe: ${why}`;
  const { performers } = snapshot.status;
  const fixture = snapshot.engine?.fixtures[index];
  const safeFor = fixture?.safeFor ?? [];
  const isAny = (phase: string) =>
    performers.some(one => one.phase === phase && safeFor.includes(one.name));
  if (isAny('losing')) return `on the way ${above < 0 ? 'up ' : ''}to safe: ${why}`;
  // A head: whom it is on.
  const whom = fixture === undefined ? '' : whomInWords(stage, fixture);
  const isOnlyTheirs = whom === '' && performers.every(({ state }) => state !== 'live');
  if (isAny('returning') && (above < 0 || isOnlyTheirs)) return `on the way back from safe: ${why}`;
  if (above < 0) return `on the way up to safe: ${why}`;
  const areOthersLive = performers.some(({ state }) => state === 'live' || state === 'returning');
  if (!areOthersLive) return `not at safe: ${why}`;
  return `${whom || 'lit for others'}; ${why}`;
}

/** "The Gull is lost"; undefined where everybody who counts there is believed. */
function unbelievedInWords(
  stage: LiveStage,
  snapshot: LiveSnapshot,
  index: number,
): string | undefined {
  const safeFor = snapshot.engine?.fixtures[index]?.safeFor ?? [];
  const byState = new Map<string, string[]>();
  for (const name of safeFor) {
    const words = notFollowed(snapshot, name);
    byState.set(words, [...(byState.get(words) ?? []), nameOf(stage, name)]);
  }
  const everybody = stage.performers.length;
  const parts = [...byState].map(([words, names]) => {
    if (words === '') return `what drives ${enumerated(names)} is not known`;
    if (names.length < 2) return `${enumerated(names)} is ${words}`;
    if (names.length < everybody) return `${enumerated(names)} are ${words}`;
    return words === STATE_WORDS['not heard'] ? 'nobody is heard yet' : `everybody is ${words}`;
  });
  return parts.length === 0 ? undefined : parts.join('; ');
}

const STATE_WORDS: Readonly<Record<State, string>> = {
  live: 'not followed',
  returning: 'coming back',
  lost: 'lost',
  'not heard': 'not heard yet',
  stopped: 'stopped',
  'off stage': 'off stage',
};

/** Of a performer, why the light does not follow; empty for the title of a mapping. */
function notFollowed({ status }: LiveSnapshot, name: string): string {
  const one = status.performers.find(performer => performer.name === name);
  if (one?.heardBut !== undefined) return `heard, but ${HEARD_BUT_WORDS[one.heardBut].short}`;
  return one === undefined ? '' : STATE_WORDS[one.state];
}

function whomInWords(stage: LiveStage, { follows, holds }: LiveFixture): string {
  if (holds !== undefined && holds.length > 1) {
    return `on the middle of ${enumerated(holds.map(name => nameOf(stage, name)))}`;
  }
  return follows === undefined ? '' : `on ${nameOf(stage, follows)}`;
}

function darkInWords(
  stage: LiveStage,
  snapshot: LiveSnapshot,
  { dark, darkFor = '', follows, behindDeg = 0 }: LiveFixture,
): string | undefined {
  switch (dark) {
    case undefined:
      return undefined;
    case 'keep-out':
      return `keep-out ${stage.keepOuts.find(one => one.name === darkFor)?.label ?? darkFor}`;
    case 'turns':
      return darkFor === '' ? 'turning round' : `turning to ${nameOf(stage, darkFor)}`;
    case 'lost':
      return `${nameOf(stage, darkFor)} is ${notFollowed(snapshot, darkFor) || 'not followed'}`;
    case 'not asked for':
      return follows !== undefined && behindDeg > TURNS_DEG
        ? `turning to ${nameOf(stage, follows)}`
        : 'nothing asks for it';
    default:
      return dark satisfies never;
  }
}

/** What the light does about what is wrong; or, where nothing is, whom it follows. One sentence, without its stop. */
export function lightInWords(stage: LiveStage, snapshot: LiveSnapshot): string {
  const { outputs } = snapshot.status;
  if (outputs.length > 0 && outputs.every(({ trouble }) => trouble !== undefined)) {
    return 'none of it leaves; each fixture holds or goes dark, as it is set for a lost signal';
  }
  const all = stage.fixtures.flatMap((one, index) => (isNotSent(one, snapshot) ? [] : [index]));
  const away = stage.fixtures.filter(one => isNotSent(one, snapshot)).map(({ label }) => label);
  const not = away.length === 0 ? [] : [`not sent: ${listed(away)}`];
  if (isHeld(snapshot)) return [...not, heldInWords(stage, snapshot, all)].join('; ');
  if (isFadingToSafe(snapshot)) return [...not, 'fades to safe'].join('; ');
  const light = engineLightInWords(stage, snapshot, all);
  return [...not, ...enabledInWords(stage, snapshot), light].join('; ');
}

/** Hazardous outputs that may come on now: "hazer on, held by panel at 10.0.0.5". */
function enabledInWords(stage: LiveStage, snapshot: LiveSnapshot): string[] {
  const on = (snapshot.engine?.hazards ?? []).filter(({ gate }) => gate === 'on');
  return [...new Set(on.map(({ hazard }) => hazard))].map(hazard => {
    const names = on
      .filter(one => one.hazard === hazard)
      .map(({ fixture }) => stage.fixtures.find(one => one.name === fixture)?.label ?? fixture);
    return `${listed(names)} on, held by ${heldByInWords(snapshot, hazard) || 'somebody'}`;
  });
}

/** While the engine has the light. */
function engineLightInWords(
  stage: LiveStage,
  snapshot: LiveSnapshot,
  all: readonly number[],
): string {
  const { status, engine } = snapshot;
  const isThere = (index: number) => Math.abs(aboveSafe(stage, snapshot, index)) < AT_SAFE_PERCENT;
  const isLive = status.performers.some(({ state }) => state === 'live');
  const goesOn = isLive || status.performers.some(({ state }) => state === 'returning');
  const isComing = status.supervisor.phase === 'returning' || !isLive;
  const left = all.filter(one => status.leftAlone.includes(stage.fixtures[one]?.label ?? ''));
  const isStopped = status.stops.everybody && !goesOn;
  const touched = all.filter(index => {
    // A hazer has no level to be at: it goes off at once, and is told apart.
    if (stage.fixtures[index] && intensityOf(stage.fixtures[index]) === undefined) return false;
    if (isStopped) return !left.includes(index);
    const { dark, safeFor } = engine?.fixtures[index] ?? {};
    return dark === 'lost' || safeFor !== undefined;
  });
  const there = touched.filter(isThere);
  const away = touched.filter(one => !there.includes(one));
  const isFading = away.length > 0 && status.performers.some(({ phase }) => phase === 'losing');
  if (touched.length === 0 || (goesOn && there.length === 0 && !isFading)) {
    const followed = followedInWords(stage, snapshot, all);
    return goesOn && isComing ? `coming up: ${followed}` : followed;
  }
  const atSafe = there.length > 0 ? [`at safe: ${levelsInWords(stage, snapshot, there)}`] : [];
  if (goesOn) {
    const labels = away.map(index => stage.fixtures[index]?.label ?? '');
    return [
      ...atSafe,
      ...(isFading ? [`fading to safe: ${listed(labels)}`] : []),
      isComing ? 'the rest comes back' : 'the rest goes on',
    ].join('; ');
  }
  const unlike = away.length > 0 ? [`not at safe: ${levelsInWords(stage, snapshot, away)}`] : [];
  const fades =
    there.length > 0 && !isStopped ? [...atSafe, 'the rest fades to safe'] : ['fades to safe'];
  return [
    ...(isFading ? fades : [...atSafe, ...unlike]),
    ...(left.length > 0 ? [`left as it is: ${levelsInWords(stage, snapshot, left)}`] : []),
  ].join('; ');
}

/** While the supervisor has the light at its safe look; what is not there yet is said. */
function heldInWords(stage: LiveStage, snapshot: LiveSnapshot, all: readonly number[]): string {
  const away = all.filter(one => Math.abs(aboveSafe(stage, snapshot, one)) >= AT_SAFE_PERCENT);
  const there = all.filter(one => !away.includes(one));
  return [
    ...(there.length > 0 ? [`at safe: ${levelsInWords(stage, snapshot, there)}`] : []),
    ...(away.length > 0 ? [`on the way to safe: ${levelsInWords(stage, snapshot, away)}`] : []),
  ].join('; ');
}

/** How much brighter than its safe value it is, per cent; 0 for one without an intensity. */
function aboveSafe(stage: LiveStage, snapshot: LiveSnapshot, index: number): number {
  const staged = stage.fixtures[index];
  const channel = staged && intensityOf(staged);
  if (channel === undefined) return 0;
  const at = { fixture: index, channel };
  const isDesks = staged?.channels[channel]?.safeFromDesk === true;
  // Without an engine nobody says what the desk has it at.
  if (isDesks && snapshot.engine === null) return 0;
  return shownValue(stage, snapshot, at) - safeValue(stage, snapshot, at);
}

/** "stove 20 %, lantern 30 %; head left and head right dark", each by name. */
function levelsInWords(
  stage: LiveStage,
  snapshot: LiveSnapshot,
  indices: readonly number[],
): string {
  const lit: string[] = [];
  const dark: string[] = [];
  for (const index of indices) {
    const staged = stage.fixtures[index];
    const channel = staged && intensityOf(staged);
    if (staged === undefined || channel === undefined) continue;
    const at = { fixture: index, channel };
    const level = shownValue(stage, snapshot, at);
    if (isSafeUnknown(stage, snapshot, at)) lit.push(`${staged.label} as the desk has it`);
    else if (level < DARK_PERCENT) dark.push(staged.label);
    else lit.push(`${staged.label} ${Math.round(level)} %`);
  }
  const parts = [
    ...(lit.length > 0 ? [listed(lit)] : []),
    ...(dark.length > 0 ? [`${enumerated(dark, MOST_NAMED)} dark`] : []),
  ];
  return parts.length === 0 ? 'none has an intensity' : parts.join('; ');
}

function listed(all: readonly string[]): string {
  const more = all.length - MOST_NAMED;
  if (more <= 1) return all.join(', ');
  return `${all.slice(0, MOST_NAMED).join(', ')} and ${more} more`;
}

function followedInWords(stage: LiveStage, snapshot: LiveSnapshot, all: readonly number[]): string {
  const lit = all.filter(index => {
    const staged = stage.fixtures[index];
    const channel = staged && intensityOf(staged);
    if (channel === undefined) return false;
    return shownValue(stage, snapshot, { fixture: index, channel }) >= DARK_PERCENT;
  });
  const withLevel = stage.fixtures.filter(one => intensityOf(one) !== undefined).length;
  const followed = lit.flatMap(index => {
    const { follows, holds } = snapshot.engine?.fixtures[index] ?? {};
    return holds ?? (follows === undefined ? [] : [follows]);
  });
  const names = [...new Set(followed)].map(name => nameOf(stage, name));
  const barred = all.flatMap(index => {
    const fixture = snapshot.engine?.fixtures[index];
    if (fixture?.dark !== 'keep-out') return [];
    return [`${stage.fixtures[index]?.label} dark for ${darkInWords(stage, snapshot, fixture)}`];
  });
  const whom = names.length === 0 ? [] : [`heads on ${whoOf(names)}`];
  return [`${lit.length} of ${withLevel} fixtures are lit`, ...whom, ...barred].join('; ');
}

const whoOf = (names: readonly string[]) =>
  names.length > MOST_NAMED ? `${names.length} performers` : enumerated(names);
