import type { WornSurvey } from '../planning/plan.js';
import { percent } from '../planning/rules.js';
import { placeAt, type Survey } from '../planning/survey.js';
import type { Show } from '../show/model/model.js';
import type { AreaOptions } from '../stage/area.js';
import { compileArea, signedDistanceM } from '../stage/area.js';
import { enumerated } from '../stage/enumerated.js';
import { type Check, fail, pass, unknown, warn } from './check.js';
import { placesThatMatter } from './places.js';
import type { WalkedPlace } from './walk.js';

/** Shorter than this somebody only passed. */
const LEAST_S = 1;

/** Where one way of facing costs the position on more than half of a zone, it can't be relied upon. */
const LEAST_SURE = 0.5;

/**
 * What the anchor plan expects in each zone that drives light, of those who drive it.
 * @param surveys for each way of wearing a tracker; members are indices of the show's performers
 */
export function checkExpected(show: Show, surveys: readonly WornSurvey[] | undefined): Check[] {
  if (surveys === undefined) {
    return [
      unknown('places', 'anchor plan', 'the show lists no anchors, so no error can be predicted.'),
    ];
  }
  const places = placesThatMatter(show);
  const zones = [...new Set(places.map(one => one.zone))];
  return zones.flatMap(index => {
    const zone = show.zones[index];
    if (zone === undefined) return [];
    const drivers = places.filter(one => one.zone === index).map(({ performer }) => performer);
    const expected = surveys
      .filter(({ worn }) => worn.members.some(one => drivers.includes(one)))
      .flatMap(one => expectedIn(zone.area, one) ?? [])
      .sort((a, b) => a.sure - b.sure || b.p95 - a.p95);
    const [hardest] = expected;
    if (hardest === undefined) return [];
    const { p95, sure, survey } = hardest;
    const who = survey.worn.members
      .filter(one => drivers.includes(one))
      .map(one => show.performers[one]?.label ?? '');
    const name = `plan, ${zone.label}`;
    const edge = zone.edge.featherM + zone.edge.hysteresisM;
    const whom = expected.length > 1 ? ` Hardest for ${enumerated(who, 3)}.` : '';
    const found =
      `expected error ${Number.isFinite(p95) ? `${p95.toFixed(2)} m` : 'none: no position'} with the body in the way (95 % of it); ` +
      `a position whichever way they face on ${percent(sure)} of it. Its feather and hysteresis are ${edge.toFixed(2)} m.${whom}`;
    if (!Number.isFinite(p95) || p95 > Math.max(edge, show.tracking.confidence.spreadGoodM)) {
      const act = 'See `lampwright plan`: add an anchor, or use a wider feather.';
      return [warn('places', name, found, act)];
    }
    if (sure < LEAST_SURE) {
      const act =
        'Anybody who faces the wrong way there loses the light. See `lampwright plan`: add an anchor, wear the tracker higher, or wear a pair, front and back.';
      return [warn('places', name, found, act)];
    }
    return [pass('places', name, found)];
  });
}

interface Expected {
  readonly survey: WornSurvey;
  /** Error on 95 % of the zone, the body in the way as usual, metres; infinite: no position. */
  readonly p95: number;
  /** Share of the zone where there is a position whichever way they face. */
  readonly sure: number;
}

function expectedIn(area: AreaOptions, survey: WornSurvey): Expected | undefined {
  const { own } = survey.map.errorM;
  const cells = cellsIn(area, survey.map);
  if (cells.length === 0) return undefined;
  const likely = cells.map(i => own.likely[i] ?? Number.POSITIVE_INFINITY).sort((a, b) => a - b);
  const p95 = likely[Math.min(likely.length - 1, Math.ceil(0.95 * likely.length) - 1)] ?? 0;
  const isSure = (i: number) => Number.isFinite(own.worst[i] ?? Number.POSITIVE_INFINITY);
  return { survey, p95, sure: cells.filter(isSure).length / cells.length };
}

function cellsIn(options: AreaOptions, { grid, open }: Survey): number[] {
  const area = compileArea({ shape: options.shape });
  const at = { x: 0, y: 0, z: 0 };
  const cells: number[] = [];
  for (let i = 0; i < open.length; i++) {
    if (open[i] !== 1) continue;
    placeAt(grid, i, at);
    if (signedDistanceM(area, at.x, at.y, at.z) <= 0) cells.push(i);
  }
  return cells;
}

/** How well each performer was believed in the places that they drive, as walked. */
export function checkWalked(show: Show, walked: readonly WalkedPlace[], how: string): Check[] {
  const below = show.watchdog.confidenceLow.below;
  const ofPerformers = show.performers.flatMap((performer, index) => {
    const mine = walked.filter(one => one.performer === index);
    if (mine.length === 0) return [];
    const name = `${performer.label}, ${how}`;
    const zoneOf = ({ zone }: WalkedPlace) => show.zones[zone]?.label ?? '';
    const been = mine.filter(one => one.heldS >= LEAST_S);
    // Where anybody will do, somebody has to have been: that is a check of its own.
    const missed = mine.filter(one => one.heldS < LEAST_S && (one.named || been.length === 0));
    const weak = been.filter(one => one.low < below);
    const off = mine.filter(one => one.offS >= LEAST_S);
    const words = been.map(
      one => `${zoneOf(one)} ${(100 * one.low).toFixed(0)} % (${one.heldS.toFixed(0)} s)`,
    );
    const found =
      been.length === 0
        ? 'in none of the zones that they drive.'
        : `lowest confidence: ${enumerated(words)}.`;
    if (off.length > 0) {
      return [
        fail(
          'places',
          name,
          `heard, but off the stage, for ${Math.max(...off.map(one => one.offS)).toFixed(0)} s in ${enumerated(off.map(zoneOf))}: too high, too low, or beyond its bounds. The light would go to safe there.`,
          'Look at the positions of its input, under the tracking feed: the unit, the axes, `origin`; or `stage` in the show is too small.',
        ),
      ];
    }
    if (weak.length > 0) {
      return [
        fail(
          'places',
          name,
          `${found} Below the ${(100 * below).toFixed(0)} % of the watchdog in ${enumerated(weak.map(zoneOf))}: the light would go to safe there.`,
          'Walk it again with the tracker worn as in the show; then anchors (`lampwright plan`), then `tracking.noise`.',
        ),
      ];
    }
    if (missed.length > 0) {
      return [
        warn(
          'places',
          name,
          `${found}${been.length === 0 ? '' : ` Not walked: ${enumerated(missed.map(zoneOf))}.`}`,
          'Have them stand there for some seconds while this listens.',
        ),
      ];
    }
    return [pass('places', name, found)];
  });
  return [...ofPerformers, ...checkForAnybody(show, walked, how)];
}

/** Zones that anybody may drive, and nobody was in. */
function checkForAnybody(show: Show, walked: readonly WalkedPlace[], how: string): Check[] {
  const zones = [...new Set(walked.filter(one => !one.named).map(({ zone }) => zone))];
  const empty = zones.filter(
    zone => !walked.some(one => one.zone === zone && one.heldS >= LEAST_S),
  );
  if (empty.length === 0) return [];
  return [
    warn(
      'places',
      `zones, ${how}`,
      `nobody was in ${enumerated(
        empty.map(zone => show.zones[zone]?.label ?? ''),
        undefined,
        'or',
      )}.`,
      'Have somebody who will be there in the show stand there for some seconds.',
    ),
  ];
}
