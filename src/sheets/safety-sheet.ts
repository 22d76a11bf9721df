import { compileMotion, headTravelS } from '../fixtures/head-motion.js';
import { compileHead } from '../fixtures/kinematics.js';
import type { Channel } from '../fixtures/profile.js';
import { type FallbackFixture, type FallbackPlan, longestMoveToSafeS } from '../safety/fallback.js';
import {
  HAZARD_TABLE,
  type HazardClass,
  type HazardRow,
  hazardRow,
  worstHazard,
} from '../safety/hazard.js';
import {
  type Condition,
  type RowWords,
  type TrackingTimes,
  WATCHDOG_TABLE,
  type WatchdogRow,
} from '../safety/watchdog-table.js';
import { basisOf, driversOf, touches } from '../show/model/basis.js';
import type { FixturePlan, Show } from '../show/model/model.js';
import { patchText } from '../show/model/patched-slots.js';
import { fallbackPlan, moves, safeIsDark } from '../show/model/safe-look.js';
import { IDENTITY } from '../stage/rotation.js';
import { type Degrees, type Radians, toRadians } from '../stage/units.js';
import { unreachable } from '../stage/unreachable.js';
import { vec3 } from '../stage/vector.js';
import { LEAST_REPEATED_S } from '../tracking/freeze.js';
import { type CueSheet, cueSheets, safeValuesOf, type ValueSheet, valuesOf } from './cue-sheets.js';
import { type DeskSheet, deskSheets } from './desk-sheet.js';
import { type KeepOutSheet, keepOutSheets } from './keep-out-sheet.js';

/** What a venue wants to know of a show: what happens when something fails, how fast, to which fixture. */
export interface SafetySheet {
  readonly show: string;
  readonly conditions: readonly ConditionSheet[];
  readonly fixtures: readonly FixtureSheet[];
  /** In order; none where the show has none. */
  readonly cues: readonly CueSheet[];
  /** Areas in which who falls silent is off stage, and not lost. */
  readonly exits: readonly ExitSheet[];
  /** Into which no lit beam goes. */
  readonly keepOuts: readonly KeepOutSheet[];
  /** Those that hang and are sent nothing, for they are not patched. */
  readonly unpatched: readonly UnpatchedSheet[];
  readonly hazards: readonly HazardSheet[];
  readonly limits: LimitSheet;
  readonly orders: OrderSheet | undefined;
  /** Universes that are heard from a desk. */
  readonly desk: readonly DeskSheet[];
  /** How long the light waits for all to be well, and how long it takes to come back, seconds. */
  readonly rearmS: number;
  readonly returnS: number;
  readonly whoDecides: readonly string[];
  readonly cautions: readonly string[];
}

export interface ConditionSheet extends RowWords {
  /** It can come to be in this show: the desk is required, an input has time tags that say something ... */
  readonly inUse: boolean;
  /** How long it lasts before it acts, seconds; undefined where it takes no light anywhere. */
  readonly actsAfterS: number | undefined;
  /** The longest that it may take, where that is longer. */
  readonly actsAtMostAfterS: number | undefined;
  /** Live to safe for fixtures without a fade of their own, seconds. */
  readonly fadeS: number | undefined;
}

export interface FixtureSheet {
  readonly name: string;
  readonly label: string;
  /** Universe and first slot. */
  readonly patch: string;
  readonly hazard: HazardClass;
  /** Channels of a class of their own in a fixture that is otherwise ordinary. */
  readonly enabledChannels: readonly string[];
  /** Of the fixture itself; a cue may have others. */
  readonly safe: readonly ValueSheet[];
  /** Performers whose position drives it. */
  readonly drivenBy: readonly string[];
  readonly way: string;
  /**
   * From the beginning of a condition until the fixture is at its safe values, seconds; after an impossible
   * jump, until a head is dark.
   */
  readonly safeWithinS: Readonly<Partial<Record<Condition, number>>>;
  /** The longest of these, but for a frozen feed: its longest time is that of one who stands still. */
  readonly atMostS: number;
}

export interface ExitSheet {
  readonly name: string;
  readonly label: string;
}

export interface UnpatchedSheet {
  readonly name: string;
  readonly label: string;
}

export interface HazardSheet extends HazardRow {
  readonly fixtures: readonly string[];
}

export interface LimitSheet {
  readonly flashesPerSecond: number;
  readonly intensityS: number;
  readonly movementS: number;
  readonly otherS: number;
}

export interface OrderSheet {
  readonly listen: string;
  readonly port: number;
  readonly allow: readonly string[];
  readonly enableTimeoutS: number;
  readonly desk: string;
}

/** Ticks, packets, the limit on what leaves, and the beats with which each stage of a fade begins, seconds. */
export const ALLOWANCE_S = 0.3;

/** Published standards and codes that come before anything in a show file. */
export const WHO_DECIDES: readonly string[] = [
  "The venue's safety staff decide what may be used, with whom in the room, and when it stops. Local codes and licensed practice override this sheet.",
  'Electrical installation: BS 7909 or the local code for temporary electrical systems.',
  'Haze and fog: ANSI E1.5 (what it is made of), E1.23 (planning and running), E1.29 (the machines); the fire officer decides on fire detection.',
  'Strobes and flashes: warn at the entrance (Event Safety Guide, ch. 17); the venue may allow fewer flashes than the limit of this show. It counts lamp by lamp, as WCAG 2.3.1 counts a screen: it proves nothing about a room.',
  'Lasers: a laser safety officer and the local law (IEC 60825); the enable is no interlock and no emergency stop.',
  'Hoists and rigging: ANSI E1.6-1 and licensed riggers. Performer flying: ANSI E1.43 and a licensed crew. Nothing here drives either.',
  'DMX512 and the protocols that carry it (ANSI E1.11, E1.31) are not for hazardous motion or pyrotechnics.',
];

export const CAUTIONS: readonly string[] = [
  'lampwright is not a machine-safety system, and its stop is not an emergency stop.',
  'It never drives flying, rigging, lifts, moving scenery, pyrotechnics or flame.',
  'Do not rely on it to light an escape route or to keep anybody in the dark.',
  'When its packets stop (machine or cable gone), the gateways decide what is shown: set and test them.',
];

/** What people call fixtures of these names; two that have one label are told apart by their names. */
export function calledIn({ fixtures }: Pick<SafetySheet, 'fixtures'>, name: string): string {
  const label = fixtures.find(one => one.name === name)?.label ?? name;
  const isShared = fixtures.filter(one => one.label === label).length > 1;
  return isShared && label !== name ? `${label} (${name})` : label;
}

export function safetySheet(show: Show): SafetySheet {
  const fallbacks = Array.from({ length: Math.max(1, show.cues.length) }, (_, cue) =>
    fallbackPlan(show, cue),
  );
  return {
    show: show.name,
    conditions: WATCHDOG_TABLE.map(row => conditionSheet(row, show)),
    fixtures: show.fixtures.map((_, index) => fixtureSheet(show, fallbacks, index)),
    cues: cueSheets(show),
    exits: show.exits.map(({ name, label }) => ({ name, label })),
    keepOuts: keepOutSheets(show),
    unpatched: show.unpatched.map(({ name, label }) => ({ name, label })),
    hazards: HAZARD_TABLE.map(row => ({
      ...row,
      fixtures: show.fixtures
        .filter(({ hazards, strobes }) =>
          row.hazard === 'ordinary'
            ? hazards.every(one => one === 'ordinary')
            : hazards.includes(row.hazard) ||
              (row.hazard === 'strobe' && strobes.some(one => one !== undefined)),
        )
        .map(({ name }) => name),
    })).filter(({ fixtures }) => fixtures.length > 0),
    limits: show.limits,
    orders: orderSheet(show),
    desk: deskSheets(show),
    rearmS: show.watchdog.rearmS,
    returnS: show.watchdog.returnS,
    whoDecides: WHO_DECIDES,
    cautions: CAUTIONS,
  };
}

function conditionSheet(row: WatchdogRow, show: Show): ConditionSheet {
  const { condition, title, scope, decidedBy, when, action, clears, cause } = row;
  return {
    ...{ condition, title, scope, decidedBy, when, action, clears, cause },
    inUse: isInUse(row, show),
    actsAfterS: row.actsAfterS(show.watchdog, trackingTimes(show)),
    actsAtMostAfterS: row.actsAtMostAfterS?.(show.watchdog, trackingTimes(show)),
    fadeS: row.fadeS(show.watchdog),
  };
}

function orderSheet({ operator, inputs }: Show): OrderSheet | undefined {
  const input = inputs[operator?.input ?? -1];
  if (operator === undefined || input === undefined) return undefined;
  return {
    listen: input.listen,
    port: input.port,
    allow: input.allow === 'any' ? ['any'] : input.allow,
    enableTimeoutS: operator.enableTimeoutS,
    desk: operator.desk,
  };
}

/** Whether it can come to be in this show. */
function isInUse({ needs }: WatchdogRow, { operator, inputs }: Show): boolean {
  switch (needs) {
    case undefined:
      return true;
    case 'required desk':
      return operator?.desk === 'required';
    case 'measured times':
      return inputs.some(input => input.carries === 'positions' && input.timeTags === 'measured');
    default:
      return unreachable(needs);
  }
}

/** What the tracking of this show adds to the times of the watchdog's rows. */
export function trackingTimes({ watchdog, tracking }: Show): TrackingTimes {
  const { reacquireS, frozenS } = tracking.track;
  // Trust in a repeating feed falls from its limit to twice that; `below` is passed on the way.
  const times = 2 - watchdog.confidenceLow.below;
  return {
    reacquireS,
    repeatedS: times * Math.min(LEAST_REPEATED_S, frozenS),
    repeatedAtMostS: times * frozenS,
  };
}

function fixtureSheet(show: Show, fallbacks: readonly FallbackPlan[], index: number): FixtureSheet {
  const plan = show.fixtures[index] as FixturePlan;
  const { hazards, profile } = plan;
  const whole = wholeHazard(plan);
  const performers = new Set(driversOf(show, index));
  const safeWithinS: Partial<Record<Condition, number>> = {};
  const supervisorMoveS = Math.max(
    ...fallbacks.map(({ fixtures, times }) =>
      longestMoveToSafeS(fixtures[index] as FallbackFixture, times),
    ),
  );
  // The longest of all cues: another one may have a safe aim that is farther, or is lit.
  const inCues = safeValuesOf(show, plan, index).map(safe => ({ ...plan, safe }));
  for (const row of WATCHDOG_TABLE) {
    if (performers.size === 0 && !reachesUndriven(row, whole)) continue;
    const { condition } = row;
    if (!isInUse(row, show)) continue;
    const times = inCues.map(one => safeWithin(show, one, supervisorMoveS, whole, row));
    const known = times.filter(one => one !== undefined);
    if (known.length > 0) safeWithinS[condition] = Math.max(...known);
  }
  return {
    name: plan.name,
    label: plan.label,
    patch: patchText(show, plan),
    hazard: whole,
    enabledChannels:
      whole === 'ordinary'
        ? profile.channels.flatMap(({ attribute }, c) =>
            hazards[c] === 'ordinary'
              ? plan.strobes[c] === undefined
                ? []
                : [`${attribute} (strobing)`]
              : [attribute],
          )
        : [],
    safe: valuesOf(show, index, plan.safe),
    drivenBy: [
      ...[...performers].map(one => show.performers[one]?.label ?? ''),
      ...heardBy(show, index),
    ],
    way: wayOf(inCues, whole),
    safeWithinS,
    atMostS: Math.max(
      0,
      ...Object.entries(safeWithinS).map(([condition, withinS]) =>
        condition === 'frozen' ? 0 : withinS,
      ),
    ),
  };
}

/** Numbers that come in by OSC, or from the desk, and drive a fixture. */
function heardBy(show: Show, fixture: number): string[] {
  const signals = show.mappings
    .filter(mapping => touches(mapping, fixture))
    .flatMap(mapping => [...basisOf(show, mapping).signals]);
  return [...new Set(signals)].flatMap(index => {
    const source = show.signals.signals[index]?.source;
    if (source?.kind === 'slot') {
      return [`slot ${source.coarse + 1} of ${show.desk[source.desk]?.name ?? ''}`];
    }
    return source?.kind === 'osc' ? [`OSC ${source.address}`] : [];
  });
}

/**
 * What no position drives shows its base values, which only the supervisor takes away; if it is hazardous,
 * so does whatever stops everybody.
 */
function reachesUndriven({ scope, condition }: WatchdogRow, whole: HazardClass): boolean {
  if (scope === 'everything') return true;
  if (whole === 'ordinary') return false;
  return scope === 'all performers' || condition === 'operator-stop';
}

/** The class in which the fixture as a whole is: that which all but its movement have at least. */
function wholeHazard({ hazards, profile }: FixturePlan): HazardClass {
  const still = hazards.filter(
    (_, c) => !['Pan', 'Tilt'].includes(profile.channels[c]?.attribute ?? ''),
  );
  if (still.length === 0 || still.some(one => one === 'ordinary')) return 'ordinary';
  return worstHazard(...still);
}

/** Seconds from the beginning of a condition to the safe values; undefined where it takes them nowhere. */
function safeWithin(
  show: Show,
  plan: FixturePlan,
  supervisorMoveS: number,
  whole: HazardClass,
  row: WatchdogRow,
): number | undefined {
  const times = trackingTimes(show);
  const afterS =
    row.actsAtMostAfterS?.(show.watchdog, times) ?? row.actsAfterS(show.watchdog, times);
  const ownS = row.fadeS(show.watchdog);
  if (afterS === undefined || ownS === undefined) return undefined;
  const fadeS = plan.fadeS ?? ownS;
  // After a jump a head has to be dark; from there it may go straight to the new place.
  const movesS =
    moves(plan) && row.condition !== 'jumped'
      ? (row.decidedBy === 'engine' ? moveTimeS(show, plan) : supervisorMoveS) +
        (safeIsDark(plan) ? 0 : fadeS)
      : 0;
  return afterS + (hazardRow(whole).drop === 'at once' ? 0 : fadeS) + movesS;
}

function wayOf(inCues: readonly FixturePlan[], whole: HazardClass): string {
  const [plan] = inCues as [FixturePlan];
  if (hazardRow(whole).drop === 'at once')
    return 'drops at once; its enable has to be released and pressed again';
  if (!moves(plan)) return 'crossfades';
  return inCues.every(one => safeIsDark(one))
    ? 'fades out holding its aim, moves in the dark'
    : 'fades out holding its aim, moves in the dark, comes up to its safe intensity';
}

/** In the dark, from wherever it is to its safe aim; the engine keeps to what its motors can do. */
function moveTimeS({ watchdog }: Show, plan: FixturePlan): number {
  const { profile, panChannel, tiltChannel, safe, head } = plan;
  const [pan, tilt] = [profile.channels[panChannel], profile.channels[tiltChannel]];
  if (pan === undefined || tilt === undefined) return watchdog.moveS;
  const farthest = ({ from, to }: Channel, at: number) =>
    radians(Math.max(Math.abs(from - at), Math.abs(to - at)));
  const compiled = compileHead(
    head ?? {
      position: vec3(0, 0, 0),
      rotation: IDENTITY,
      panRange: [radians(pan.from), radians(pan.to)],
      tiltRange: [radians(tilt.from), radians(tilt.to)],
    },
  );
  const motion = compileMotion(compiled, profile.motion.Pan, profile.motion.Tilt);
  const travelS = headTravelS(
    motion,
    farthest(pan, safe[panChannel] ?? 0),
    farthest(tilt, safe[tiltChannel] ?? 0),
  );
  return Math.max(watchdog.moveS, travelS);
}

function radians(degrees: number): Radians {
  return toRadians(degrees as Degrees);
}
