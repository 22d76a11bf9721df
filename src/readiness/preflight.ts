import type { MarkerPlace } from '../calibration/markers.js';
import type { WornSurvey } from '../planning/plan.js';
import type { Show } from '../show/model/model.js';
import { type Check, pass } from './check.js';
import type { NetworkFacts } from './facts.js';
import { checkFrame, checkRest } from './frame-checks.js';
import { cuesToProve, proveLosses } from './loss-proof.js';
import { checkMachine, type MachineFacts } from './machine-checks.js';
import { checkNetworks } from './networks.js';
import { checkExpected, checkWalked } from './place-checks.js';
import {
  checkFixtures,
  checkHazards,
  checkPatched,
  checkShow,
  checkWatchdog,
} from './show-checks.js';
import type { Source } from './sources.js';
import { type OurSelves, standbyIs } from './universe-checks.js';
import { type Stretch, type WalkedPlace, walk } from './walk.js';

export interface PreflightSource {
  readonly file: string;
  readonly networks: NetworkFacts;
  readonly machine: MachineFacts;
  readonly our: OurSelves;
  /** How what came in just now was walked, and what came in once; each undefined where there is none. */
  readonly live: readonly WalkedPlace[] | undefined;
  readonly recorded: Stretch | undefined;
  readonly markers: readonly MarkerPlace[] | undefined;
  /** undefined where the show lists no anchors. */
  readonly surveys: readonly WornSurvey[] | undefined;
}

/** The whole walk before the doors, in the order in which it is read. */
export function preflight(show: Show, source: PreflightSource): Check[] {
  const { networks, our, markers, surveys, live, recorded } = source;
  const proofs = cuesToProve(show).map(cue => proveLosses(show, cue));
  return [
    checkShow(show, source.file),
    ...checkNetworks(show, networks, our, markersTrackers(markers)),
    ...checkRest(show, networks),
    ...checkFrame(show, networks, markers),
    ...checkExpected(show, surveys),
    ...(live === undefined ? [] : checkWalked(show, live, 'walked now')),
    ...(recorded === undefined ? [] : checkWalked(show, walk(show, recorded), 'as recorded')),
    ...checkPatched(show),
    ...checkFixtures(show),
    ...checkWatchdog(show, proofs),
    ...checkHazards(show, proofs),
    standby(show, networks, our),
    ...checkMachine(source.machine),
  ];
}

function markersTrackers(markers: readonly MarkerPlace[] | undefined): string[] {
  return (markers ?? []).flatMap(one => one.tracker ?? []);
}

function standby(show: Show, facts: NetworkFacts, our: OurSelves): Check {
  const universes = new Set(show.outputs.flatMap(one => one.universes.map(({ onWire }) => onWire)));
  const isHere = ({ universes: heard, announced }: Source) =>
    [...heard.keys(), ...announced].some(one => universes.has(one));
  const sources = [...facts.sources.values()];
  const found =
    sources.find(one => standbyIs(one, our) === 'ours') ??
    sources.find(one => standbyIs(one, our) === 'other' && isHere(one));
  return pass(
    'machine',
    'standby',
    found === undefined
      ? 'no second machine of this show was heard.'
      : `a second machine of this show sends from ${found.address}${standbyIs(found, our) === 'other' ? `, as "${found.name}"` : ''}.`,
  );
}
