import type { ChannelWhy, EngineView, PerformerView, SignalView, WishWhy } from '../engine/view.js';
import type { Channel } from '../fixtures/profile.js';
import { titleOf } from '../safety/watchdog-table.js';
import { basisOf } from '../show/model/basis.js';
import { conditionWords, mappingTitle } from '../show/model/mapping-words.js';
import {
  type ChannelValue,
  type FixturePlan,
  type MappingPlan,
  type Show,
  SLOTS_PER_UNIVERSE,
} from '../show/model/model.js';
import { wordsOfValues } from '../show/model/palette-names.js';
import { groundUseOf } from '../show/model/safe-look.js';
import { valueName } from '../show/problems/value-text.js';
import { enumerated } from '../stage/enumerated.js';
import { toDegrees } from '../stage/units.js';
import { explainHeads, type HeadExplanation } from './explain-heads.js';

/** Who has the last row of an attribute: what goes to the supervisor, which sends it. */
export const SENT = 'sent';

/** Why everything is as it is at one moment, for people and for programs. Angles in degrees. */
export interface MomentExplanation {
  readonly show: string;
  /** The one that is on, or coming; null in a show without cues. */
  readonly cue: string | null;
  readonly performers: readonly {
    readonly name: string;
    readonly label: string;
    /** Where they are believed to be, metres; null for somebody who was never heard. */
    readonly at: readonly [x: number, y: number, z: number] | null;
    readonly phase: PerformerView['phase'];
    readonly cause: NonNullable<PerformerView['cause']> | null;
    readonly trust: number;
  }[];
  /** `value` is null while it is unknown; it is then between `least` and `greatest` (null: without end). */
  readonly signals: readonly {
    readonly name: string;
    readonly value: number | null;
    readonly least: number | null;
    readonly greatest: number | null;
  }[];
  readonly conditions: readonly {
    readonly name: string;
    readonly asks: string;
    readonly truth: 'no' | 'unknown' | 'yes';
  }[];
  /** Those that choose whom they are on. */
  readonly heads: readonly HeadExplanation[];
  readonly attributes: readonly AttributeExplanation[];
}

export interface AttributeExplanation {
  readonly fixture: string;
  readonly label: string;
  readonly attribute: string;
  readonly unit: Channel['unit'];
  /** In the order in which they have their say; the last is what is sent. */
  readonly rows: readonly ExplanationRow[];
}

export interface ExplanationRow {
  readonly who: string;
  /** Of a mapping: how far it acts, and how far it is from safe (0) to live (1); null for others. */
  readonly level: number | null;
  readonly trust: number | null;
  /** What it asks for; null: nothing. */
  readonly asks: number | null;
  /** What the attribute is, or would be, with it; null where it has no say. */
  readonly value: number | null;
  /** What the profile calls them: of wheels, shutters and the like. */
  readonly asksName?: string;
  readonly valueName?: string;
  readonly won: boolean;
  readonly why: string;
  /** Of the last row: what is in the slots. A virtual dimmer has none of its own. */
  readonly slots?: readonly {
    readonly universe: number;
    readonly address: number;
    readonly level: number;
  }[];
}

/** Who has switched a mapping off, where that is known, and since when, in words: "since 19:42:10". */
export interface SwitchedOff {
  readonly by: string | undefined;
  readonly since: string;
}

type AllSwitchedOff = ReadonlyMap<string, SwitchedOff>;

/**
 * What a view shows that was asked why before its last tick.
 * @param switchedOff by title of the mapping, what is known of those that are off
 */
export function explainMoment(
  view: EngineView,
  switchedOff: AllSwitchedOff = new Map(),
): MomentExplanation {
  const { show } = view;
  return {
    show: show.name,
    cue: view.cue?.name ?? null,
    performers: view.performers.map(({ name, seen, estimate, phase, cause, trust }, index) => ({
      name,
      label: show.performers[index]?.label ?? name,
      at: seen ? [rounded(estimate.x), rounded(estimate.y), rounded(estimate.z)] : null,
      phase,
      cause: cause ?? null,
      trust,
    })),
    signals: view.signals.map(signalOf),
    conditions: view.conditions.map(({ name, truth }, index) => ({
      name,
      asks: conditionWords(show, index),
      truth,
    })),
    heads: explainHeads(view),
    attributes: view.why.map(why => attributeOf(view, why, switchedOff)),
  };
}

function rounded(metres: number): number {
  return Number(metres.toFixed(3));
}

function signalOf({ name, plan, least, greatest }: SignalView) {
  const of = (value: number) => {
    if (!Number.isFinite(value)) return null;
    return plan.unit === 'radians' ? toDegrees(value as never) : value;
  };
  const known = least === greatest;
  return { name, value: known ? of(least) : null, least: of(least), greatest: of(greatest) };
}

function attributeOf(
  view: EngineView,
  why: ChannelWhy,
  switchedOff: AllSwitchedOff,
): AttributeExplanation {
  const plan = view.show.fixtures[why.fixture] as FixturePlan;
  const channel = plan.profile.channels[why.channel] as Channel;
  return {
    fixture: plan.name,
    label: plan.label,
    attribute: channel.attribute,
    unit: channel.unit,
    rows: [
      baseRow(view, why),
      ...why.wishes.map(wish => wishRow(view, why, wish, switchedOff)),
      ...why.idle.map(index => idleRow(view, why, index, switchedOff)),
      ...stageRows(view, why),
      sentRow(view, why, plan, channel),
    ].map(row => withNames(row, channel)),
  };
}

function withNames(row: ExplanationRow, channel: Channel): ExplanationRow {
  if (channel.values.size === 0) return row;
  const nameOf = (value: number | null) => (value === null ? undefined : valueName(channel, value));
  const [asksName, called] = [nameOf(row.asks), nameOf(row.value)];
  return {
    ...row,
    ...(asksName === undefined ? {} : { asksName }),
    ...(called === undefined ? {} : { valueName: called }),
  };
}

function baseRow(view: EngineView, why: ChannelWhy): ExplanationRow {
  const { base, merged, aimed, wishes, fixture } = why;
  const { cue, show } = view;
  const baseIn = (index: number) => show.cues[index]?.base[fixture] ?? show.fixtures[fixture]?.base;
  const values = baseIn(cue?.index ?? -1);
  // In a crossfade it is between that of the cue before and that of this one.
  const isOnItsWay = cue?.before !== undefined && cue.share < 1;
  const before = isOnItsWay
    ? baseIn(show.cues.findIndex(({ name }) => name === cue.before))
    : undefined;
  const words = paletteWords(view, why, c => values?.[c], before && (c => before[c]));
  const won =
    same(base, merged) && same(base, aimed) && !wishes.some(({ place }) => place === 'won');
  return {
    ...NOBODY,
    who: 'base',
    asks: base,
    value: base,
    won,
    why: `while no mapping acts${words}`,
  };
}

type ValueAt = (channel: number) => number | undefined;

/**
 * `; colour amber`, where the values of which that of a channel is one are of the palettes; `; colour from sea to amber`
 * where it goes from one to another.
 */
function paletteWords(
  { show }: EngineView,
  { fixture, channel }: ChannelWhy,
  valueAt: ValueAt,
  fromAt: ValueAt = valueAt,
): string {
  const attribute = show.fixtures[fixture]?.profile.channels[channel]?.attribute ?? '';
  const wordOf = (of: ValueAt) =>
    wordsOfValues(show, fixture, of).find(({ attributes }) => attributes.includes(attribute));
  const [from, to] = [wordOf(fromAt), wordOf(valueAt)];
  if (to?.kind === from?.kind && to?.label === from?.label) {
    return to === undefined ? '' : `; ${to.kind} ${to.label}`;
  }
  const kind = from?.kind ?? to?.kind;
  const start = from === undefined ? '' : ` from ${from.label}`;
  return to === undefined ? `; ${kind}${start}` : `; ${kind}${start} to ${to.label}`;
}

/** What a mapping sets of the fixture, and from where it comes. */
function wishWords(view: EngineView, why: ChannelWhy, index: number): string {
  const mapping = view.show.mappings[index];
  const valueAt = (values: readonly ChannelValue[]): ValueAt => {
    const mine = values.filter(one => one.fixture === why.fixture);
    return c => mine.find(one => one.channel === c)?.value;
  };
  const set = valueAt(mapping?.values ?? []);
  const from = mapping?.kind === 'signal' ? valueAt(mapping.from) : undefined;
  // Of what has no `from` nothing is asked at level 0.
  const starts = from?.(why.channel) === undefined ? undefined : from;
  return paletteWords(view, why, set, starts);
}

const NOBODY = { level: null, trust: null, asks: null, value: null, won: false } as const;

function wishRow(
  view: EngineView,
  why: ChannelWhy,
  wish: WishWhy,
  switchedOff: AllSwitchedOff,
): ExplanationRow {
  const { show } = view;
  const mapping = show.mappings[wish.mapping];
  const performer = show.performers[wish.performer ?? -1];
  const isZone = mapping?.kind === 'zone';
  const who = `${mappingTitle(show, wish.mapping)}${isZone ? `: ${performer?.label}` : ''}`;
  // In a cue's crossfade what is off in the coming one may still be seen.
  const isOff = !counts(wish) && isOffInCue(view, wish.mapping);
  const reasons = isOff
    ? [`off in cue ${view.cue?.label}`]
    : [
        switchedOffWords(view, wish.mapping, switchedOff),
        placeWords(show, why, wish),
        masterWords(view, wish),
        doubtWords(view, wish),
      ].filter(Boolean);
  const { level, trust, asks, result } = wish;
  return {
    who,
    level,
    trust,
    asks,
    value: result,
    won: counts(wish),
    why: `${reasons.join('; ')}${wishWords(view, why, wish.mapping)}`,
  };
}

/** Something of it is in what shows. */
function counts({ place }: WishWhy): boolean {
  return place === 'won' || place === 'part' || place === 'cue';
}

/** `master fader at 40 %`: it acts only so far. */
function masterWords({ show, signals }: EngineView, { mapping }: WishWhy): string {
  const master = show.mappings[mapping]?.master;
  if (master === undefined) return '';
  const signal = signals[master];
  if (signal === undefined) return '';
  const { name, least, greatest } = signal;
  return least === greatest
    ? `master ${name} at ${Math.round(100 * least)} %`
    : `master ${name} is unknown`;
}

function placeWords({ mappings, fixtures }: Show, why: ChannelWhy, wish: WishWhy): string {
  const mapping = mappings[wish.mapping];
  const attribute = fixtures[why.fixture]?.profile.channels[why.channel]?.attribute;
  const { priority, mix } =
    mapping?.kind === 'signal' ? mapping : { priority: 0, mix: 'usual' as const };
  const rank = priority === 0 ? '' : `priority ${priority}`;
  const how =
    mix === 'add' ? 'added to what is below' : mix === 'scale' ? 'per cent of what is below' : '';
  switch (wish.place) {
    case 'won': {
      const usual = attribute === 'Dimmer' ? 'the highest' : 'the latest';
      return [rank, how].filter(Boolean).join(', ') || usual;
    }
    case 'part':
      return [rank, how].filter(Boolean).join(', ') || 'what follows depends on it';
    case 'cue':
      return 'the highest in one of the cues that are crossfaded';
    case 'below':
      if (how !== '' && wish.level === 0) return 'it changes nothing now';
      if (!isHighestOf(mapping, attribute)) return 'another overrides it';
      return loserWords(mappings, why, wish) || 'another overrides it';
    case 'lower':
      if (wish.trust === 0) return 'it goes to the safe value';
      if (how !== '') return 'it changes nothing now';
      if (!isHighestOf(mapping, attribute)) return 'it changes nothing: it is so already';
      return loserWords(mappings, why, wish) || 'another asks for more';
  }
}

/** Of such the highest wins. */
function isHighestOf(mapping: MappingPlan | undefined, attribute: string | undefined): boolean {
  const how = mapping?.kind === 'signal' ? mapping.mix : 'usual';
  return how === 'highest' || (how === 'usual' && attribute === 'Dimmer');
}

/** Why one of those of which the highest wins does not; '' where it would, but for what lies over all of them. */
function loserWords(
  mappings: readonly MappingPlan[],
  { wishes, safe, merged }: ChannelWhy,
  wish: WishWhy,
): string {
  const rankOf = (index: number) => {
    const one = mappings[index];
    return one?.kind === 'signal' ? one.priority : 0;
  };
  const mixOf = (index: number) => {
    const one = mappings[index];
    return one?.kind === 'signal' ? one.mix : 'usual';
  };
  const others = wishes.filter(
    one =>
      one !== wish &&
      rankOf(one.mapping) === rankOf(wish.mapping) &&
      ['usual', 'highest'].includes(mixOf(one.mapping)),
  );
  // All of them lie below another priority.
  if (wish.place === 'below' && !others.some(counts)) return '';
  if (others.some(one => one.asks > wish.asks && !same(one.asks, wish.asks) && one.trust > 0)) {
    return 'another asks for more';
  }
  if (wish.place === 'lower' && same(merged, safe) && safe > wish.asks) {
    return 'the safe value is more';
  }
  if (others.some(one => same(one.asks, wish.asks) && one.trust >= wish.trust)) {
    return 'another asks for as much';
  }
  return '';
}

/** Why it is not wholly trusted: who of those on whom it rests is lost. */
function doubtWords(view: EngineView, { trust, performer, mapping }: WishWhy): string {
  if (trust >= 1) return '';
  const plan = view.show.mappings[mapping];
  const lost =
    performer === undefined && plan !== undefined
      ? unknownWords(view, plan)
      : lostWords(view, performer ?? -1);
  return lost.length === 0 ? 'on its way from safe' : enumerated(lost);
}

/** Who of those on whom a mapping rests is lost, and which of its numbers is not heard. */
function unknownWords(view: EngineView, plan: MappingPlan): string[] {
  const { performers, signals } = basisOf(view.show, plan);
  const silent = [...signals].flatMap(index => {
    const one = view.signals[index];
    const isHeardFrom = one?.plan.source.kind === 'osc' || one?.plan.source.kind === 'slot';
    return one !== undefined && isHeardFrom && one.least !== one.greatest
      ? [`${one.name} is not heard`]
      : [];
  });
  return [...[...performers].flatMap(index => lostWords(view, index)), ...silent];
}

/** The same of all that has a say in a channel, each once. */
function allUnknownWords(view: EngineView, { wishes, idle }: ChannelWhy): string[] {
  const having = [...wishes.map(({ mapping }) => mapping), ...idle];
  const plans = having.flatMap(index => {
    const plan = view.show.mappings[index];
    return plan === undefined || isOffInCue(view, index) ? [] : [plan];
  });
  return [...new Set(plans.flatMap(plan => unknownWords(view, plan)))];
}

function lostWords({ show, performers }: EngineView, index: number): string[] {
  const one = performers[index];
  if (one === undefined || one.phase === 'live' || one.phase === 'off') return [];
  const label = show.performers[index]?.label ?? one.name;
  if (one.phase === 'waiting') return [`${label} was never heard`];
  if (one.phase === 'returning') return [`${label} is coming back`];
  if (one.cause === 'operator-stop') return [`${label} is stopped`];
  return [`${label} is lost${one.cause === undefined ? '' : ` (${titleOf(one.cause)})`}`];
}

function idleRow(
  view: EngineView,
  why: ChannelWhy,
  index: number,
  switchedOff: AllSwitchedOff,
): ExplanationRow {
  const { show } = view;
  const mapping = show.mappings[index];
  const who = mappingTitle(show, index);
  const doubts =
    mapping === undefined || isOffInCue(view, index) ? [] : unknownWords(view, mapping);
  const lost = doubts.length === 0 ? '' : `; ${enumerated(doubts)}`;
  return { ...NOBODY, who, level: 0, why: `${idleWords(view, why, index, switchedOff)}${lost}` };
}

function isOffInCue({ show, cue }: EngineView, mapping: number): boolean {
  return cue !== undefined && show.cues[cue.index]?.levels[mapping] === 0;
}

function idleWords(
  view: EngineView,
  why: ChannelWhy,
  index: number,
  switchedOff: AllSwitchedOff,
): string {
  const { show, conditions, cue } = view;
  const mapping = show.mappings[index];
  if (mapping === undefined) return '';
  if (isOffInCue(view, index)) return `off in cue ${cue?.label}`;
  const off = switchedOffWords(view, index, switchedOff);
  if (off !== '') return off;
  if (mapping.kind === 'zone') return 'nobody for whom it acts is there';
  const truth = mapping.when === undefined ? 'yes' : conditions[mapping.when]?.truth;
  if (truth === 'no') return `${conditionWords(show, mapping.when ?? -1)}: no`;
  if (truth === 'unknown') return `${conditionWords(show, mapping.when ?? -1)}: unknown`;
  if (mapping.kind === 'follow') {
    const whom = view.performers[mapping.performer];
    if (whom?.phase === 'off')
      return `${show.performers[mapping.performer]?.label ?? whom.name} is off stage`;
    if (isOnNobody(view, why)) return 'the head is on nobody';
    return why.fade.stage === undefined
      ? 'nobody to follow'
      : `the head is ${STAGES[why.fade.stage]}`;
  }
  return 'its level is 0';
}

/** By `tell ... mapping off`; '' where it is on. */
function switchedOffWords(view: EngineView, index: number, all: AllSwitchedOff): string {
  if (view.mappings[index]?.off !== true) return '';
  const known = all.get(mappingTitle(view.show, index));
  const by = `switched off by ${known?.by ?? 'an operator'}`;
  return known === undefined ? by : `${by}, ${known.since}`;
}

function isOnNobody({ fixtures }: EngineView, { fixture }: ChannelWhy): boolean {
  const choice = fixtures[fixture]?.choice;
  return choice !== undefined && choice.performer === undefined;
}

const STAGES = {
  live: 'live',
  fading: 'going dark',
  'to-safe': 'dark, on its way to its safe aim',
  safe: 'in its safe look',
  'to-live': 'dark, on its way',
  rising: 'coming up',
} as const;

/** What came after the mappings, where it changed anything. */
function stageRows(view: EngineView, why: ChannelWhy): ExplanationRow[] {
  const { merged, aimed, guarded, steered, crossed, highlighted, out, fade, safe } = why;
  const rows: ExplanationRow[] = [];
  const row = (who: string, value: number, words: string) => {
    rows.push({ ...NOBODY, who, asks: value, value, won: true, why: words });
  };
  const won = why.wishes.some(({ place, result }) => place === 'won' && same(result, merged));
  const isAimed = fade.stage !== undefined && view.fixtures[why.fixture]?.follows !== undefined;
  if (!won && !isAimed && !same(merged, why.base)) row('merged', merged, mergedWords(view, why));
  if (!same(isAimed ? why.base : merged, aimed) && !(won && same(merged, aimed))) {
    row('aim', aimed, followWords(view, why));
  }
  if (!same(aimed, guarded)) {
    const gone = goneWords(view, why);
    const keepOut = view.fixtures[why.fixture]?.keepOut;
    const stage =
      fade.stage === undefined
        ? `live by ${percent(fade.live)}`
        : keepOut === undefined
          ? STAGES[fade.stage]
          : `dark, as its beam would touch the keep-out ${keepOut}`;
    const words = same(guarded, safe) ? 'the safe value' : 'between live and safe';
    row(
      'safety',
      guarded,
      `${words}: ${fade.turning && keepOut === undefined ? 'a turn in the dark, ' : ''}${stage}${gone}`,
    );
  }
  if (!same(guarded, steered)) row('head', steered, 'where the head is, in the dark');
  if (!same(steered, crossed)) row('reload', crossed, 'the light of the old show, fading out');
  if (!same(crossed, highlighted))
    row('highlight', highlighted, 'shown while somebody focuses, overriding all else');
  if (!same(highlighted, out)) row('enable', out, 'not enabled: the safe value');
  return rows;
}

/** Whom a head follows, and why it does not. */
function goneWords(view: EngineView, { fixture }: ChannelWhy): string {
  const performer = view.fixtures[fixture]?.follows?.performer ?? -1;
  const why =
    view.performers[performer]?.phase === 'off'
      ? [`${view.show.performers[performer]?.label} is off stage`]
      : lostWords(view, performer);
  return why.map(words => `; ${words}`).join('');
}

/** Where no wish by itself is what came of them. */
function mergedWords(view: EngineView, why: ChannelWhy): string {
  const { merged, safe, wishes, fade } = why;
  if (fade.stage !== undefined && wishes.length === 0)
    return 'held while its light is out or goes out';
  if (wishes.some(({ place }) => place === 'cue')) return 'the cues, crossfaded';
  const lost = enumerated(allUnknownWords(view, why));
  if (wishes.some(({ trust }) => trust < 1)) {
    const doubt = lost === '' ? '' : `; ${lost}`;
    return `${same(merged, safe) ? 'the safe value: ' : ''}by the least trust of those above${doubt}`;
  }
  const what = same(merged, safe) ? 'the safe value' : 'on the way between live and safe';
  return `${what}: ${lost || 'not everybody it depends on is known yet'}`;
}

function followWords({ show, fixtures }: EngineView, { fixture }: ChannelWhy): string {
  const { follows, choice, aim } = fixtures[fixture] ?? {};
  if (follows === undefined) return 'where the look aims';
  if (choice !== undefined && choice.performer === undefined) return 'on nobody';
  const label = (name: string) => show.performers.find(one => one.name === name)?.label ?? name;
  if (aim?.holds !== undefined && aim.holds.length > 1)
    return `on the middle of ${enumerated(aim.holds.map(label))}`;
  return `on ${show.performers[follows.performer]?.label ?? ''}`;
}

function same(a: number, b: number): boolean {
  return Math.abs(a - b) <= 1e-9;
}

function percent(share: number): string {
  return `${Number((100 * share).toFixed(0))} %`;
}

/** What the supervisor makes of it on a desk's ground. */
const GROUND_WORDS = {
  ours: '',
  desk: "; the desk's: what goes out is its level, not this",
  safe: "; while nobody is believed, the desk's own level goes out",
  scale: "; what goes out is this share of the desk's level",
} as const;

/** What the slots say. */
function sentRow(
  view: EngineView,
  { out, channel: index }: ChannelWhy,
  plan: FixturePlan,
  channel: Channel,
): ExplanationRow {
  const slots = channel.offsets.map(offset => {
    const at = plan.firstSlot + offset;
    return {
      universe: view.show.universes[plan.universe] ?? 0,
      address: (at % SLOTS_PER_UNIVERSE) + 1,
      level: view.levels[at] ?? 0,
    };
  });
  const why =
    slots.length === 0
      ? 'it has no slot: colours are multiplied by it'
      : `${slots.map(({ universe, address, level }) => `${universe}/${address} at ${level}`).join(', ')}${channel.dimmed ? ', times the Dimmer' : ''}${GROUND_WORDS[groundUseOf(plan, index)]}`;
  return { ...NOBODY, who: SENT, asks: out, value: out, won: true, why, slots };
}
